"""Takes the screenshots in docs/ anew: `make screenshots`. Needs a Chromium."""

import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Error, Page, sync_playwright

from mechanics.ends import Ends
from mechanics.materials import find_material
from ui.answer import answer_of_readings
from ui.caliper import Readings
from ui.collection.record import spring_of
from ui.collection.store import URL_VARIABLE, Collection

HERE = Path(__file__).parent
CALIPER = "?by=Caliper&wire=1.2&diameter=13.2&coils=14&ends=closed&length=45"
#: Name of the picture, what to open (nothing: the sample photo), and the heading to scroll to.
STEPS = (
    ("collection", "?by=Collection&find=quay", ""),
    ("recognise", f"{CALIPER}", "Which spring is it?"),
    ("photo", "", ""),
    ("dimensions", "", "Dimensions"),
    ("caliper", CALIPER, ""),
    ("improve", f"{CALIPER}&more=Weight&add_weight=4.7", "Improve it"),
    ("limits", CALIPER, "How far it may go"),
    ("what-if", f"{CALIPER}&whatif=Cut+it&cut_turns=2", "What if"),
)

#: Name, wire, outside diameter, total coils, free length, where it is stored.
SPRINGS = (
    ("Quay 7 front", 1.2, 13.2, 14.0, 45.0, "drawer 3"),
    ("Quay 7 front, spare", 1.2, 13.2, 14.0, 45.1, "drawer 3"),
    ("Quay 7 rear", 1.4, 13.4, 11.0, 52.0, "drawer 2"),
    ("Slipway buggy", 1.0, 11.0, 12.5, 38.0, "tin"),
)


def shoot(page: Page, address: str, name: str, query: str, heading: str) -> None:
    """Take one picture at a phone's size."""
    page.goto(f"{address}/{query}")
    if not query:
        page.get_by_role("button", name="Try it with the sample photo").click()
    ready = (
        page.get_by_text("Hand on")
        if "Collection" in query
        else page.get_by_test_id("stMetricValue")
    )
    ready.wait_for(timeout=60_000)
    if heading:
        page.get_by_role("heading", name=heading).wait_for(timeout=60_000)
    page.wait_for_timeout(4000)
    if heading:
        page.get_by_role("heading", name=heading).evaluate("e => e.scrollIntoView()")
        page.wait_for_timeout(500)
    page.screenshot(path=HERE / f"page-{name}.png")


def fill(url: str) -> None:
    """Keep a few springs of a workshop that does not exist."""
    collection = Collection(url)
    for name, wire, outside, coils, length, place in SPRINGS:
        readings = Readings(wire, outside, coils, length, ends=Ends.CLOSED)
        answer = answer_of_readings(readings, find_material("music wire"))
        words = {"place": place, "hand": "right", "evidence": ("caliper",)}
        collection.keep(spring_of(answer, name, **words))
    collection.close()


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
    folder = tempfile.TemporaryDirectory()
    url = f"sqlite:///{folder.name}/springs.sqlite"
    fill(url)
    server = subprocess.Popen(
        [Path(sys.executable).with_name("coilreckon"), "serve"],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, URL_VARIABLE: url},
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
        folder.cleanup()


if __name__ == "__main__":
    main()
