"""The page in a real browser at a phone's size: what a person sees, and what must not happen."""

import re

from playwright.sync_api import expect

from tests.ui.browsing import needs_browser, rate, says, served

pytestmark = needs_browser

SPRING = "?by=Caliper&unit=N%2Fmm&lengths=mm&wire=1.2&diameter=13.2&coils=14&ends=closed"


def test_caliper_numbers_give_the_rate_and_survive_a_reload(page, address):
    page.goto(address + SPRING)
    first = rate(page)
    assert re.fullmatch(r"0\.9\d N/mm", first)
    page.reload()
    assert rate(page) == first


def test_the_unit_is_one_tap_away_and_remembered(page, address):
    page.goto(address + SPRING)
    rate(page)
    page.get_by_role("radio", name="gf/mm", exact=True).click()
    expect(page.get_by_test_id("stMetricValue")).to_contain_text("gf/mm")
    page.reload()
    assert rate(page).endswith("gf/mm")
    page.goto(address + "?by=Caliper&wire=1.2&diameter=13.2&coils=14")
    assert rate(page).endswith("gf/mm")
    page.get_by_role("radio", name="N/mm", exact=True).click()
    expect(page.get_by_test_id("stMetricValue")).to_contain_text("N/mm")


def test_typing_gives_an_answer(page, address):
    page.goto(address + "?by=Caliper")
    for label, number in (("Wire diameter, mm", "1.2"), ("Coil diameter, mm", "13.2")):
        field = page.get_by_label(label, exact=True)
        field.fill(number)
        field.press("Enter")
    field = page.get_by_label("Coils", exact=True).first
    field.fill("14")
    field.press("Enter")
    assert rate(page).endswith("N/mm")


def test_the_sample_photo_is_one_tap_away_and_survives_a_reload(page, address):
    page.goto(address)
    page.get_by_role("button", name="Try it with the sample photo").click()
    drawing = page.get_by_role("img", name="The photo with what was seen drawn on it").first
    expect(drawing).to_be_visible()
    first = rate(page)
    assert first.endswith("N/mm")
    below = page.get_by_test_id("stMetricValue").bounding_box()["y"]
    assert drawing.bounding_box()["y"] < below
    page.reload()
    assert rate(page) == first


def test_a_kept_spring_is_there_after_a_restart_and_a_slip_is_undone(browser):
    page = browser.new_page(viewport={"width": 390, "height": 844})
    with served() as first:
        page.goto(f"{first}/{SPRING}&length=45&step=Keep")
        page.get_by_role("textbox", name="Name").fill("Quay 7 front")
        page.get_by_role("button", name="Keep it in the collection").click()
        says(page, "Kept: Quay 7 front")
    with served() as second:
        page.goto(f"{second}/?by=Collection&find=quay")
        row = page.get_by_role("button", name="Quay 7 front:").first
        row.click(timeout=30_000)
        kept = rate(page)
        page.get_by_role("button", name="Delete").click()
        page.get_by_role("button", name="Undo").click()
        assert rate(page) == kept
    page.close()


def test_nothing_comes_from_outside(browser, address):
    """Works without a network: every request goes to this machine."""
    page = browser.new_page()
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(address + SPRING)
    rate(page)
    page.wait_for_timeout(500)
    page.close()
    assert [url for url in asked if not url.startswith((address, "data:", "blob:"))] == []
