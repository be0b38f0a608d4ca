"""Takes the screenshots in docs/ anew: `make screenshots`. Needs a Chromium.

`python docs/screenshots.py sag limits` takes those alone.
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pypdfium2
from playwright.sync_api import Error, Locator, Page, sync_playwright

from mechanics.ends import Ends
from mechanics.materials import find_material
from ui.answer import Answer, answer_of_readings
from ui.caliper import Readings
from ui.collection.record import spring_of
from ui.collection.store import URL_VARIABLE, Collection
from ui.gate import KEY_VARIABLE
from ui.labels import Label, labels_pdf
from ui.report import Subject, report_pdf
from ui.serve import qr_lines
from ui.units import Units

HERE = Path(__file__).parent
CALIPER = "?by=Caliper&wire=1.2&diameter=13.2&coils=14&ends=closed&length=45"
MARKED = "?mark=The+spring&spring_at=739%2C464%3B1187%2C465"
TORSION = "?by=Caliper&kind=torsion&wire=1.5&diameter=13.5&coils=5.25&leg_1=25&leg_2=18&wound=90"
CONE = "?by=Caliper&kind=conical&wire=1.5&diameter=21&small_end=11&coils=6&ends=closed&length=30"
CORNER = "whatif=Sag&corner_load=6&corner_lever=1.4&corner_droop=43&corner_bump=25"
SWAP = CORNER.replace("Sag", "Swap")
EXTENSION = "?by=Caliper&kind=extension&wire=1&diameter=9&coils=22&step=Limits&at_travel=8"
FLAT = "?by=Caliper&flat=true&side_across=3&side_along=2&length=40&diameter=19&coils=9&ends=closed"
TABLE = """Part no.;Wire mm;OD mm;Free length;Coils total;Rate N/mm
HC-1;2,5;31;162,8;14;1,31
HC-2;1,0;11,0;38;12,5;
"""


@dataclass(frozen=True, slots=True)
class Step:
    """One picture: what to open, what to tap, and what to scroll to (a heading, words, a picture).

    With `sample` the sample photo is chosen first; with `table` a supplier's table is.
    """

    name: str
    query: str = ""
    scroll: str = ""
    tap: str = ""
    sample: bool = False
    table: bool = False


STEPS = (
    Step("collection", "?by=Collection&find=quay"),
    Step("spring", "?by=Collection&find=rear", tap="Quay 7 rear"),
    Step("labels", "?by=Collection&find=quay", "Export and import", "Labels for drawers"),
    Step("supplier", "?by=Collection&find=quay", "Export and import", table=True),
    Step("recognise", f"{CALIPER}&step=Keep", "Which spring is it?"),
    Step("keep", f"{CALIPER}&step=Keep", "Keep it"),
    Step("choose"),
    Step("photo", sample=True),
    Step(
        "correct",
        sample=True,
        tap="Correct what was seen",
        scroll="The photo, and what lies beside the spring",
    ),
    Step("mark", MARKED, "Not found? Mark it in the picture", sample=True),
    Step("dimensions", sample=True, scroll="Dimensions"),
    Step("plan", sample=True, scroll="A compression spring to scale, two views"),
    Step("budget", sample=True, scroll="Where the uncertainty comes from"),
    Step("caliper", CALIPER),
    Step("cone", CONE, "A conical spring to scale, two views"),
    Step("torsion", TORSION, "Angular rate, for each degree"),
    Step("improve", f"{CALIPER}&step=Improve&more=Weight&add_weight=4.7", "Improve it"),
    Step("limits", f"{CALIPER}&step=Limits", "How far it may go"),
    Step("what-if", f"{CALIPER}&step=What+if&whatif=Cut&cut_turns=2", "What if"),
    Step("sag", f"{CALIPER}&step=What+if&{CORNER}", "What if"),
    Step("shim", f"{CALIPER}&step=What+if&whatif=Shim&shim_seat=40&shim_mm=3", "What if"),
    Step("swap", f"{CALIPER}&step=What+if&other=Quay+7+rear&{SWAP}", "What if"),
    Step("extension", EXTENSION, "How far it may go"),
    Step("flat", FLAT, "The wire is flat (rectangular)"),
    Step("in-line", f"{CALIPER}&step=What+if&whatif=In+line&other=Quay+7+rear", "What if"),
    Step("words", "?by=Collection", "What the words mean", "What the words mean"),
)

#: Name, wire, outside diameter, total coils, free length, where it is stored.
SPRINGS = (
    ("Quay 7 front", 1.2, 13.2, 14.0, 45.0, "drawer 3"),
    ("Quay 7 front, spare", 1.2, 13.2, 14.0, 45.1, "drawer 3"),
    ("Quay 7 rear", 1.4, 13.4, 11.0, 52.0, "drawer 2"),
    ("Slipway buggy", 1.0, 11.0, 12.5, 38.0, "tin"),
)


def shoot(page: Page, address: str, step: Step) -> None:
    """Take one picture at a phone's size."""
    page.goto(f"{address}/{step.query}")
    page.get_by_text("Take care").wait_for(timeout=60_000)
    if step.sample:
        page.get_by_role("button", name="Try it with the sample photo").click()
    if step.sample or "diameter=" in step.query:
        page.get_by_test_id("stMetricValue").wait_for(timeout=60_000)
    if step.table:
        file = {"name": "chandler.csv", "mimeType": "text/csv", "buffer": TABLE.encode()}
        page.locator('input[type="file"]').set_input_files(file)
        page.get_by_text("Say which column holds what").wait_for()
    settled(page)
    if step.tap:
        page.get_by_text(step.tap).first.click()
        settled(page)
    if step.scroll:
        place(page, step.scroll).evaluate("e => e.scrollIntoView()")
        page.wait_for_timeout(500)
    # Away from everything that shows a bar of tools under a mouse.
    page.mouse.move(1, 843)
    page.wait_for_timeout(300)
    page.screenshot(path=HERE / f"page-{step.name}.png")


def settled(page: Page) -> None:
    """Wait until the page has been drawn to its end, pictures and all."""
    # A tap takes a moment to reach the server.
    page.wait_for_timeout(1500)
    done = page.locator('[data-testid="stApp"][data-test-script-state="notRunning"]')
    done.wait_for(timeout=60_000)
    page.wait_for_timeout(2000)


def place(page: Page, words: str) -> Locator:
    """Return the heading, the picture or the words of that name."""
    either = page.get_by_role("heading", name=words).or_(page.get_by_role("img", name=words))
    return either.or_(page.get_by_text(words, exact=True)).first


def paper(answer: Answer) -> None:
    """Take the pictures of what is printed."""
    subject = Subject("Quay 7 front", "compression", "right", ("caliper",))
    lines = ("1.00 N/mm", "95 % band 0.82 to 1.19", "wire 1.20, outside 13.2", "drawer 3")
    labels = [
        Label(name, lines, f"http://192.0.2.7:8710/?by=Collection&spring={k:032x}")
        for k, name in enumerate(("Quay 7 front", "Quay 7 rear", "Slipway buggy"))
    ]
    for name, pdf in (
        ("report", report_pdf(answer, subject, Units(), date(2026, 3, 1))),
        ("label-sheet", labels_pdf(labels, (60.0, 25.0))),
    ):
        shown = pypdfium2.PdfDocument(pdf)[0].render(scale=1.3).to_pil()
        shown.crop((0, 0, shown.width, shown.height if name == "report" else 130)).save(
            HERE / f"{name}.png"
        )


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


@contextmanager
def serving(**environment: str) -> Iterator[str]:
    """Serve the page, and yield its address."""
    server = subprocess.Popen(
        [Path(sys.executable).with_name("coilreckon"), "serve"],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, **environment},
    )
    try:
        assert server.stdout is not None
        found = re.search(r"http://[\d.:]+", server.stdout.readline())
        assert found, "the page did not start"
        yield found[0]
    finally:
        server.terminate()
        server.wait()


def phone(page: Page, url: str) -> None:
    """Take the pictures of how a phone gets in: the code in the terminal, and the page's door."""
    where = "http://192.0.2.7:8710/?key=tide-417"
    said = f"{qr_lines(where)}\nCoilreckon: open {where} (Ctrl+C ends it)"
    page.set_content(
        '<pre style="display: inline-block; margin: 0; padding: 12px; line-height: 1; '
        f'font-size: 9px; background: #12191E; color: #E8E9E3">{said}</pre>'
    )
    page.locator("pre").screenshot(path=HERE / "phone-code.png")
    with serving(**{URL_VARIABLE: url, KEY_VARIABLE: "tide-417"}) as address:
        wait_until_up(page, address)
        page.goto(address)
        page.get_by_label("or type the key").wait_for(timeout=60_000)
        page.screenshot(
            path=HERE / "phone-key.png", clip={"x": 0, "y": 0, "width": 390, "height": 330}
        )


def main() -> None:
    """Start the page, take every picture, stop it."""
    readings = Readings(1.2, 13.2, 14.0, 45.0, ends=Ends.CLOSED)
    paper(answer_of_readings(readings, find_material("music wire")))
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as p:
        url = f"sqlite:///{folder}/springs.sqlite"
        fill(url)
        browser = p.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 390, "height": 844})
        with serving(**{URL_VARIABLE: url}) as address:
            wait_until_up(page, address)
            for step in STEPS:
                if not sys.argv[1:] or step.name in sys.argv[1:]:
                    shoot(page, address, step)
        phone(page, url)
        browser.close()


if __name__ == "__main__":
    main()
