"""Takes the screenshots in docs/ anew: `make screenshots`. Needs a Chromium."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

HERE = Path(__file__).parent
CALIPER = "?by=Caliper&wire=1.2&diameter=13.2&coils=14&ends=closed&length=45"
#: Name of the picture, what to open, and the heading to scroll to.
STEPS = (
    ("caliper", CALIPER, ""),
    ("improve", f"{CALIPER}&more=Weight&add_weight=4.7", "Improve it"),
    ("limits", CALIPER, "How far it may go"),
    ("what-if", f"{CALIPER}&whatif=Cut+it&cut_turns=2", "What if"),
)


def shoot(page: Page, address: str, name: str, query: str, heading: str) -> None:
    """Take one picture at a phone's size."""
    page.goto(f"{address}/{query}")
    page.get_by_test_id("stMetricValue").wait_for(timeout=30_000)
    page.wait_for_timeout(1500)
    if heading:
        page.get_by_role("heading", name=heading).evaluate("e => e.scrollIntoView()")
        page.wait_for_timeout(500)
    page.screenshot(path=HERE / f"page-{name}.png")


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
            for _ in range(60):
                if page.request.get(f"{found[0]}/_stcore/health", fail_on_status_code=False).ok:
                    break
                page.wait_for_timeout(500)
            for name, query, heading in STEPS:
                shoot(page, found[0], name, query, heading)
    finally:
        server.terminate()
        server.wait()


if __name__ == "__main__":
    main()
