"""Takes the screenshots in docs/ anew: `make screenshots`. Needs a Chromium."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

from playwright.sync_api import Error, Page, sync_playwright

HERE = Path(__file__).parent
CALIPER = "?by=Caliper&wire=1.2&diameter=13.2&coils=14&ends=closed&length=45"
#: Name of the picture, what to open (nothing: the sample photo), and the heading to scroll to.
STEPS = (
    ("photo", "", ""),
    ("dimensions", "", "Dimensions"),
    ("caliper", CALIPER, ""),
    ("improve", f"{CALIPER}&more=Weight&add_weight=4.7", "Improve it"),
    ("limits", CALIPER, "How far it may go"),
    ("what-if", f"{CALIPER}&whatif=Cut+it&cut_turns=2", "What if"),
)


def shoot(page: Page, address: str, name: str, query: str, heading: str) -> None:
    """Take one picture at a phone's size."""
    page.goto(f"{address}/{query}")
    if not query:
        page.get_by_role("button", name="Try it with the sample photo").click()
    page.get_by_test_id("stMetricValue").wait_for(timeout=60_000)
    page.wait_for_timeout(4000)
    if heading:
        page.get_by_role("heading", name=heading).evaluate("e => e.scrollIntoView()")
        page.wait_for_timeout(500)
    page.screenshot(path=HERE / f"page-{name}.png")


def wait_until_up(page: Page, address: str) -> None:
    """Return as soon as the page's server answers."""
    for _ in range(120):
        try:
            if page.request.get(f"{address}/_stcore/health").ok:
                return
        except Error:
            pass  # nothing listens yet
        page.wait_for_timeout(250)
    raise TimeoutError(f"nothing answers at {address}")


def main() -> None:
    """Start the page, take every picture, stop it."""
    server = subprocess.Popen(
        [Path(sys.executable).with_name("coilreckon"), "serve"], stdout=subprocess.PIPE, text=True
    )
    try:
        assert server.stdout is not None
        found = re.search(r"http://[\d.:]+", server.stdout.readline())
        assert found, "the page did not start"
        with sync_playwright() as p:
            browser = p.chromium.launch(
                executable_path=shutil.which("chromium"), args=["--no-sandbox"]
            )
            page = browser.new_page(viewport={"width": 390, "height": 844})
            wait_until_up(page, found[0])
            for name, query, heading in STEPS:
                shoot(page, found[0], name, query, heading)
    finally:
        server.terminate()
        server.wait()


if __name__ == "__main__":
    main()
