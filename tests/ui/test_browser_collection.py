"""In a browser: springs are kept, handed on, taken in, deleted and brought back."""

import json

import pytest
from playwright.sync_api import expect

from tests.ui.browsing import PATIENCE_MS, needs_browser, rate, says, settled
from tests.ui.collection.test_supplier import TABLE
from ui.collection.exchange import from_csv, from_json

pytestmark = needs_browser

SPRING = "?by=Caliper&unit=N%2Fmm&lengths=mm&wire=1.2&diameter=13.2&coils=14&ends=closed&length=45"
SPRING += "&step=Keep"

#: From now on, how often the page begins or ends to be drawn.
COUNT_RUNS = """() => {
    window.runs = 0;
    const app = document.querySelector('[data-testid=stApp]');
    new MutationObserver(() => window.runs++)
        .observe(app, {attributeFilter: ['data-test-script-state']});
}"""


def keep(page, address, name):
    page.goto(address + SPRING)
    rate(page)
    settled(page)
    page.get_by_role("textbox", name="Name").fill(name)
    page.get_by_role("textbox", name="Name").press("Tab")
    settled(page)
    page.get_by_role("button", name="Keep it in the collection").click()
    says(page, f"Kept: {name}")


def download(page, label):
    settled(page)  # a press while the page is being drawn is lost
    with page.expect_download(timeout=PATIENCE_MS) as waiting:
        page.get_by_role("button", name=label, exact=True).click()
    return waiting.value.path().read_bytes()


def rows(page, name):
    return page.get_by_role("button", name=f"{name}:")


def test_export_delete_undo_import(page, address, request):
    name = f"Breakwater {request.node.callspec.id}"
    keep(page, address, name)
    page.goto(f"{address}?by=Collection&find=breakwater&unit=N%2Fmm")
    expect(rows(page, name)).to_have_count(1)
    exported = download(page, "Export JSON")
    springs = from_json(exported.decode())
    assert name in [s.name for s in springs]
    assert from_csv(download(page, "Export CSV").decode()) == springs
    settled(page)
    rows(page, name).click()
    settled(page)
    page.get_by_role("button", name="Delete").click()
    says(page, f"Deleted: {name}")
    expect(rows(page, name)).to_have_count(0)
    settled(page)
    page.get_by_role("button", name="Undo").click()
    assert rate(page).endswith("N/mm")
    settled(page)
    page.get_by_role("button", name="All springs").click()
    expect(page.get_by_role("heading", name="Export and import")).to_be_visible()
    only = json.loads(exported)
    only["springs"] = [s for s in only["springs"] if s["name"] == name]
    file = {
        "name": "springs.json",
        "mimeType": "application/json",
        "buffer": json.dumps(only).encode(),
    }
    settled(page)
    page.locator('input[type="file"]').set_input_files(file)
    page.get_by_role("button", name="Add 1 spring").click()
    says(page, "Added 1 spring.")
    page.goto(f"{address}?by=Collection&find=breakwater")
    expect(rows(page, name)).to_have_count(2)


def test_a_supplier_s_table_is_taken_in_by_its_columns(page, address):
    page.goto(f"{address}?by=Collection")
    file = {"name": "chandler.csv", "mimeType": "text/csv", "buffer": TABLE.encode()}
    settled(page)
    page.locator('input[type="file"]').set_input_files(file)
    says(page, "Say which column holds what")
    says(page, "Row 4: wire diameter 'milk' is no number.")
    page.get_by_role("button", name="Add 3 springs").click()
    says(page, "Added 3 springs.")
    page.goto(f"{address}?by=Collection&find=chandler")
    expect(page.get_by_role("button", name="HC-1").first).to_be_visible()


def test_a_label_for_its_drawer(page, address, request):
    name = f"Jetty {request.node.callspec.id}"
    keep(page, address, name)
    # The link opens a tab of its own.
    page.goto(address + page.get_by_role("link", name=name).last.get_attribute("href"))
    page.get_by_text("Label for its drawer").wait_for()
    settled(page)
    page.get_by_text("Label for its drawer").click()
    page.evaluate(COUNT_RUNS)
    pdf = download(page, "Label (PDF)")
    assert pdf.startswith(b"%PDF-")
    # A page that is drawn anew by the press could let go of the file before it is fetched.
    assert page.evaluate("window.runs") == 0


@pytest.mark.parametrize("query", ["?by=Collection", "?by=Collection&spring=gone"])
def test_an_empty_or_gone_spring_is_told(page, address, query):
    page.goto(address + query)
    expect(page.get_by_role("heading", name="Export and import")).to_be_visible()
