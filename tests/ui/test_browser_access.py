"""In a browser: axe-core finds no serious fault of accessibility on any step."""

import io

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from pillow_heif import register_heif_opener
from playwright.sync_api import expect

from tests.ui.browsing import needs_browser, rate, says, settled
from tests.ui.test_sample import SAMPLE, TRUTH

pytestmark = needs_browser

CALIPER = "?by=Caliper&unit=N%2Fmm&lengths=mm&wire=1.2&diameter=13.2&coils=14&ends=closed&length=45"
STEPS = {
    "photo, empty": "",
    "caliper": CALIPER,
    "improve": f"{CALIPER}&step=Improve&more=Weight&add_weight=4.7",
    "cut": f"{CALIPER}&step=What+if&whatif=Cut&cut_turns=2",
    "sag": f"{CALIPER}&step=What+if&whatif=Sag&corner_load=6&corner_droop=43&corner_bump=25",
    "in line": f"{CALIPER}&step=What+if&whatif=In+line",
    "limits": f"{CALIPER}&step=Limits",
    "keep": f"{CALIPER}&step=Keep",
    "rectangular wire": "?by=Caliper&flat=true&side_across=3&side_along=2&diameter=19&coils=9",
    "torsion": "?by=Caliper&kind=torsion&wire=1.5&diameter=13.5&coils=5&leg_1=20&wound=90",
    "collection": "?by=Collection",
}


def serious_faults(page) -> list[str]:
    """Return rules broken that axe-core calls serious or critical, with where."""
    page.wait_for_timeout(1000)  # what was just drawn fades in
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    return [
        f"{fault['id']}: {node['target']} {node['failureSummary'][:200]}"
        for fault in found
        if fault["impact"] in ("serious", "critical")
        for node in fault["nodes"][:3]
    ]


def small_targets(page) -> list[str]:
    """Return what is less tall than a thumb's 44 px (WCAG 2.2, 2.5.5), but for what hovers."""
    return page.evaluate("""() =>
        [...document.querySelectorAll('button, [role=radio], [role=tab], summary, input')]
        .filter(one => !one.closest('[data-testid="stElementToolbar"]'))
        .map(one => [one.innerText || one.ariaLabel || one.type, one.getBoundingClientRect()])
        .filter(([_, box]) => box.width > 1 && box.height > 1 && box.height < 43.5)
        .map(([name, box]) => `${name}: ${box.width} x ${box.height}`)""")


@pytest.mark.parametrize("step", STEPS)
def test_no_serious_fault_and_targets_for_a_thumb(page, address, step):
    page.goto(address + STEPS[step])
    says(page, "Take care")
    if "wire=" in STEPS[step]:
        rate(page)
    settled(page)
    assert serious_faults(page) == []
    assert small_targets(page) == []


@pytest.fixture(scope="module")
def heic():
    """The sample photo as HEIC, encoded in haste: with care it takes longer than to measure it."""
    register_heif_opener()
    shown = Image.open(SAMPLE)
    out = io.BytesIO()
    haste = {"preset": "ultrafast"}
    shown.save(out, "HEIF", quality=85, exif=shown.getexif().tobytes(), enc_params=haste)
    return {"name": "IMG_0417.HEIC", "mimeType": "image/heic", "buffer": out.getvalue()}


def test_a_photo_s_answer_has_no_serious_fault_and_a_heic_photo_is_read(page, address, heic):
    page.goto(f"{address}?unit=N%2Fmm&lengths=mm")
    page.locator('input[type="file"]').first.set_input_files(heic)
    drawing = page.get_by_role("img", name="The photo with what was seen drawn on it").first
    expect(drawing).to_be_visible()
    rate(page)
    row = page.get_by_role("row", name="Wire diameter").inner_text().split("\t")
    assert float(row[1]) == pytest.approx(TRUTH["wire_diameter_mm"], rel=0.03)
    settled(page)
    assert serious_faults(page) == []


def test_marking_has_no_serious_fault(page, address):
    page.goto(f"{address}?mark=The+spring")
    page.get_by_role("button", name="Try it with the sample photo").click()
    # Who cannot see or tap it is told of the field below.
    picture = page.get_by_role("img", name="may be typed below instead").first
    expect(picture).to_be_visible()
    expect(page.get_by_label("Points: x, y in pixels of the photo")).to_be_visible()
    rate(page)
    settled(page)
    assert serious_faults(page) == []
