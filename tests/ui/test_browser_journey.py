"""In a browser, at both sizes: the whole way from a photo to the drawer, and back."""

import json
import re

import pytest
from playwright.sync_api import expect

from tests.ui.browsing import needs_browser, rate, says, served, settled
from tests.ui.conftest import SIZES, opened
from tests.ui.test_browser_collection import download, rows
from tests.ui.test_sample import SAMPLE, TRUTH
from ui.collection.exchange import from_csv, from_json

pytestmark = needs_browser


def step(page, name):
    """Turn to a step; nothing of it may stick out at the side."""
    settled(page)
    page.get_by_role("tab", name=name, exact=True).click()
    settled(page)
    page.wait_for_timeout(500)
    inner = "e => e.scrollWidth - e.clientWidth"
    assert page.locator('[data-testid="stMain"]').evaluate(inner) <= 0


def fill(page, label, number):
    field = page.get_by_label(label, exact=True)
    field.fill(str(number))
    field.press("Enter")
    settled(page)


def band(page):
    said = page.get_by_text("95 % band:").first.inner_text()
    low, high = re.search(r"([\d.]+) to ([\d.]+)", said).groups()
    return float(low), float(high)


def measure_and_keep(page, address, name):
    """Photo, rate, weight, cut, keep; return the rate as it was told at the end."""
    page.goto(f"{address}?unit=N%2Fmm&lengths=mm&material=music+wire")
    page.locator('input[type="file"]').first.set_input_files(SAMPLE)
    seen = float(rate(page).split()[0])
    low, high = band(page)
    assert low < seen < high
    row = page.get_by_role("row", name="Wire diameter").inner_text().split("\t")
    assert float(row[1]) == pytest.approx(TRUTH["wire_diameter_mm"], rel=0.03)
    step(page, "Limits")
    mass = page.get_by_role("row", name="Mass, g").inner_text().split("\t")[1]
    step(page, "Improve")
    page.get_by_test_id("stButtonGroup").get_by_text("Weight", exact=True).click()
    settled(page)
    fill(page, "Weight, g", mass)
    says(page, "The band went from")
    settled(page)
    narrower = band(page)
    assert narrower[1] - narrower[0] < high - low
    told = rate(page)
    step(page, "What if")
    page.get_by_test_id("stButtonGroup").get_by_text("Cut", exact=True).click()
    settled(page)
    fill(page, "Turns cut off", 2)
    says(page, "Rate after:")
    says(page, "A cut cannot be undone")
    step(page, "Keep")
    page.get_by_role("textbox", name="Name").fill(name)
    page.get_by_role("textbox", name="Name").press("Tab")
    settled(page)
    page.get_by_role("button", name="Keep it in the collection").click()
    says(page, f"Kept: {name}")
    return told


def find_and_hand_on(page, address, name, told):
    """Find it after the restart, export it, delete it, bring it back, and take the file in."""
    page.goto(f"{address}?by=Collection&find=bollard&unit=N%2Fmm&lengths=mm")
    expect(rows(page, name)).to_have_count(1)
    exported = download(page, "Export JSON")
    springs = from_json(exported.decode())
    assert from_csv(download(page, "Export CSV").decode()) == springs
    (mine,) = [s for s in springs if s.name == name]
    assert mine.rate == pytest.approx(float(told.split()[0]), rel=0.01)
    assert mine.evidence == ("photo", "Weight")
    settled(page)
    rows(page, name).click()
    assert rate(page) == told
    expect(page.get_by_role("img", name=f"Photo of {name}")).to_be_visible()
    settled(page)
    page.get_by_role("button", name="Delete").click()
    says(page, f"Deleted: {name}")
    expect(rows(page, name)).to_have_count(0)
    settled(page)
    page.get_by_role("button", name="Undo").click()
    assert rate(page) == told
    page.goto(f"{address}?by=Collection&find=bollard")
    settled(page)
    only = json.loads(exported) | {"springs": [mine.as_dict()]}
    file = {
        "name": "springs.json",
        "mimeType": "application/json",
        "buffer": json.dumps(only).encode(),
    }
    page.locator('input[type="file"]').set_input_files(file)
    page.get_by_role("button", name="Add 1 spring").click()
    says(page, "Added 1 spring.")
    page.goto(f"{address}?by=Collection&find=bollard")
    expect(rows(page, name)).to_have_count(2)


@pytest.mark.parametrize("size", SIZES)
def test_from_the_photo_to_the_drawer_and_back(window, size):
    name = f"Bollard {size[0]}"
    with served() as first, opened(window, *size) as page:
        told = measure_and_keep(page, first, name)
    with served() as second, opened(window, *size) as page:
        find_and_hand_on(page, second, name, told)
