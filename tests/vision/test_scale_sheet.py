"""The printed sheet: its own PDF, drawn by an independent library, seen through a known camera."""

import cv2
import numpy as np
import pypdfium2
import pytest

from ui.sheet_pdf import sheet_pdf
from vision._cv import markers
from vision.camera import Camera
from vision.photo import Photo
from vision.reference import named
from vision.references.pose import FULL_FRAME_DIAGONAL_MM
from vision.scale import Scale, find_scale
from vision.sheet_layout import CHECK_LINE_MM, FIELD_RGB, PAPERS, layout

PX_PER_MM = 10
SHAPE = (900, 1200)
FOCAL_PX = 26.0 / FULL_FRAME_DIAGONAL_MM * float(np.hypot(*SHAPE))


def printed(paper: str) -> np.ndarray:
    """Return the page as it would be printed, 10 pixels a mm."""
    page = pypdfium2.PdfDocument(sheet_pdf(paper))[0]
    return page.render(scale=PX_PER_MM * 25.4 / 72.0).to_numpy()[:, :, :3][:, :, ::-1].copy()


@pytest.fixture(scope="module")
def pages():
    return {paper: printed(paper) for paper in PAPERS}


def seen_through(
    page, camera: Camera, scaling: float, rng, blur_px=0.8, noise=2.0, quality=90
) -> Photo:
    """Return a photo of a page that a printer scaled: every pixel's rays are followed to it."""
    tall, wide = page.shape[:2]
    total = np.zeros((*SHAPE, 3))
    y, x = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]].astype(np.float64)
    offsets = (-0.25, 0.25)
    for dx in offsets:
        for dy in offsets:
            at = camera.at_height(np.column_stack([x.ravel() + dx, y.ravel() + dy]), 0.0) / scaling
            u = at[:, 0] * PX_PER_MM + wide / 2.0 - 0.5
            v = tall / 2.0 - at[:, 1] * PX_PER_MM - 0.5
            maps = (u.reshape(SHAPE).astype(np.float32), v.reshape(SHAPE).astype(np.float32))
            border = (110, 90, 70)
            total += cv2.remap(page, *maps, cv2.INTER_LINEAR, borderValue=border)
    rgb = cv2.GaussianBlur(total / 4.0 * 0.9, None, blur_px) + rng.normal(0.0, noise, total.shape)
    ok, data = cv2.imencode(
        ".jpg",
        np.clip(np.rint(rgb), 0, 255).astype(np.uint8)[:, :, ::-1],
        [cv2.IMWRITE_JPEG_QUALITY, quality],
    )
    assert ok
    return Photo(cv2.imdecode(data, cv2.IMREAD_COLOR)[:, :, ::-1].copy(), "0" * 64, "drawn", 26.0)


def camera_of(drawing, tilt=(0.0, 0.0), spin=90.0, far=250.0, lens=0.0, at=(0.0, 0.0)) -> Camera:
    """Return a camera over a place of the sheet."""
    camera = drawing.camera_over(FOCAL_PX, far, SHAPE, (*tilt, spin))
    move = camera.translation_mm - camera.rotation @ np.array([*at, 0.0])
    return Camera(FOCAL_PX, camera.centre_px, camera.rotation, move, lens)


def length(camera: Camera, way: str, height: float = 0.0, px: float = 150.0) -> float:
    """Return the length seen between two pixels about the middle, at a height [mm]."""
    half = np.array([[px, 0.0], [0.0, px]][way == "y"])
    ends = camera.at_height(np.array([camera.centre_px - half, camera.centre_px + half]), height)
    return float(np.linalg.norm(ends[1] - ends[0]))


def found(result) -> Scale:
    assert isinstance(result, Scale), result
    return result


@pytest.mark.parametrize("paper", PAPERS)
def test_the_pdf_has_every_marker_where_it_should_be(pages, paper):
    page, sheet = pages[paper], layout(paper)
    seen = dict(markers(page))
    assert sorted(seen) == list(sheet.ids)
    for number, corners in seen.items():
        mm = sheet.corners(number)
        px = np.array(
            [
                [x * PX_PER_MM + page.shape[1] / 2 - 0.5, page.shape[0] / 2 - y * PX_PER_MM - 0.5]
                for x, y in mm
            ]
        )
        assert corners == pytest.approx(px, abs=1.0)


@pytest.mark.parametrize("paper", PAPERS)
def test_the_check_line_is_printed_at_its_length(pages, paper):
    page, (start, end) = pages[paper], layout(paper).check_line
    row = round(page.shape[0] / 2 - (start[1] - 1.2) * PX_PER_MM)
    dark = np.flatnonzero(page[row, :, 1] < 128)
    # From the middle of the first tick to that of the last.
    ticks = [dark[dark < page.shape[1] / 2].mean(), dark[dark > page.shape[1] / 2].mean()]
    assert (ticks[1] - ticks[0]) / PX_PER_MM == pytest.approx(end[0] - start[0], abs=0.1)
    assert end[0] - start[0] == CHECK_LINE_MM


@pytest.mark.parametrize(("side", "blur"), [(60, 1.5), (120, 1.5), (120, 3.0), (240, 1.5)])
def test_corners_of_markers_are_where_they_are(side, blur):
    """The case of a published trap: four refinements read markers small, or half a pixel off."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    fine, sizes, shifts = 8, [], []
    for turn in np.radians([11.0, 38.0, 71.0, 97.0, 139.0]):
        tag = cv2.aruco.generateImageMarker(dictionary, 7, fine * side)
        middle = 1.2 * side + np.array([0.3, -0.2])
        way = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        at = (middle + 0.5) * fine - 0.5
        move = np.column_stack([way, at - way @ np.full(2, (tag.shape[0] - 1) / 2.0)])
        size = (int(2.4 * side) * fine,) * 2
        page = cv2.warpAffine(tag, move, size, borderMode=cv2.BORDER_CONSTANT, borderValue=255)
        grey = cv2.resize(page, None, fx=1 / fine, fy=1 / fine, interpolation=cv2.INTER_AREA)
        grey = cv2.GaussianBlur(grey, None, blur)
        ((number, corners),) = markers(np.repeat(grey[..., None], 3, axis=2))
        assert number == 7
        true = middle + side / 2.0 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) @ way.T
        shifts.append((corners - true).mean(axis=0))
        sizes.append(np.mean([np.linalg.norm(corners[k] - corners[k - 1]) for k in range(4)]))
    assert np.mean(sizes) / side == pytest.approx(1.0, abs=0.0015)
    assert np.mean(shifts, axis=0) == pytest.approx([0.0, 0.0], abs=0.1)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("asked", ["auto", "sheet", "sheet:150"])
def test_a_sheet_is_found_and_read(pages, drawing, paper, asked):
    camera = camera_of(drawing, (6.0, -8.0), far=270.0)
    scale = found(
        find_scale(seen_through(pages[paper], camera, 1.0, np.random.default_rng(1)), asked)
    )
    assert scale.reference.kind == "sheet"
    assert scale.camera.tilt_deg == pytest.approx(camera.tilt_deg, abs=0.3)
    assert ("print-unchecked" in scale.flags) == (asked != "sheet:150")
    for way in "xy":
        for height in (0.0, 10.0):
            assert length(scale.camera, way, height) == pytest.approx(
                length(camera, way, height), rel=1.5e-3
            )


def test_a_printer_that_fits_to_the_page_is_corrected(pages, drawing):
    """The page came out at 97 %, so that the line reads 145.5 mm."""
    camera = camera_of(drawing, (4.0, 5.0), far=240.0)
    photo = seen_through(pages["A4"], camera, 0.97, np.random.default_rng(2))
    blind, told = (found(find_scale(photo, kind)) for kind in ("sheet", "sheet:145.5"))
    for way in "xy":
        assert length(told.camera, way) == pytest.approx(length(camera, way), rel=1.5e-3)
        assert length(blind.camera, way) == pytest.approx(length(camera, way) / 0.97, rel=2e-3)
    assert "print-unchecked" in blind.flags
    assert "print-unchecked" not in told.flags


@pytest.mark.parametrize("lens", [-0.04, 0.05])
def test_the_bend_of_the_lens_is_read(pages, drawing, lens):
    camera = camera_of(drawing, (3.0, -4.0), far=250.0, lens=lens)
    photo = seen_through(pages["A4"], camera, 1.0, np.random.default_rng(3))
    scale = found(find_scale(photo, "sheet:150"))
    assert scale.camera.lens == pytest.approx(lens, abs=0.01)
    for way in "xy":
        assert length(scale.camera, way) == pytest.approx(length(camera, way), rel=2e-3)


def test_a_part_of_the_sheet_is_enough(pages, drawing):
    """Close by, with one corner of the sheet in view."""
    camera = camera_of(drawing, (5.0, 3.0), far=120.0, at=(60.0, 90.0))
    photo = seen_through(pages["A4"], camera, 1.0, np.random.default_rng(4))
    scale = found(find_scale(photo, "auto"))
    for way in "xy":
        assert length(scale.camera, way) == pytest.approx(length(camera, way), rel=3e-3)


def test_bands_of_sheets_are_honest(pages, drawing):
    """Over 8 photos with printer, reading of the line, lens, slant, blur, noise and JPEG drawn."""
    rng = np.random.default_rng(6)
    ratios = []
    for _ in range(8):
        lens, scaling = rng.normal(0.0, 0.02), 1.0 + rng.normal(0.0, 0.01)
        reading = CHECK_LINE_MM * scaling + rng.uniform(-0.25, 0.25)
        focal = np.exp(rng.normal(0.0, 0.0164))
        true = camera_of(drawing, rng.normal(0.0, 7.0, 2), 90.0, 250.0, lens)
        camera = Camera(
            true.focal_px * focal, true.centre_px, true.rotation, true.translation_mm, lens
        )
        photo = seen_through(
            pages["A4"],
            camera,
            scaling,
            rng,
            rng.uniform(0.5, 1.8),
            rng.uniform(1.0, 5.0),
            int(rng.integers(75, 95)),
        )
        scale = found(find_scale(photo, f"sheet:{reading:.2f}"))
        for way in "xy":
            best = length(scale.camera, way, 8.0)
            u2 = sum((length(c, way, 8.0) - best) ** 2 for _, c in scale.variants)
            ratios.append((best - length(camera, way, 8.0)) / np.sqrt(u2))
    assert 0.4 < np.sqrt(np.mean(np.square(ratios))) < 1.4
    assert np.mean(np.abs(ratios) < 1.96) >= 0.9


def test_bands_are_wider_without_the_line(pages, drawing):
    photo = seen_through(pages["A4"], camera_of(drawing), 1.0, np.random.default_rng(7))
    wide, narrow = (found(find_scale(photo, kind)) for kind in ("sheet", "sheet:150"))

    def u(scale: Scale) -> float:
        best = length(scale.camera, "x")
        return float(np.sqrt(sum((length(c, "x") - best) ** 2 for _, c in scale.variants)))

    assert u(wide) > 2.0 * u(narrow)


@pytest.mark.parametrize("kind", ["sheet:20", "sheet:long", "sheet:nan"])
def test_no_sheet_has_such_a_line(kind):
    assert named(kind) is None


def test_the_field_suits_metal():
    """Lightness and colour apart from what springs are made of, in CIE L*a*b* (76).

    Colours of matte surfaces by eye, common practice, no source.
    """
    others = {
        "bright steel": (200, 200, 198),
        "dull steel": (120, 120, 118),
        "black": (35, 33, 30),
        "brass": (181, 152, 80),
        "copper": (184, 115, 70),
        "red paint": (190, 30, 35),
        "blue paint": (30, 70, 160),
        "green paint": (30, 120, 60),
        "yellow paint": (235, 195, 30),
        "white paint": (240, 240, 238),
    }
    colours = np.array([[FIELD_RGB, *others.values()]], np.float32) / 255.0
    lab = cv2.cvtColor(colours, cv2.COLOR_RGB2Lab)[0]
    apart = np.linalg.norm(lab[1:] - lab[0], axis=1)
    assert apart.min() > 25.0
    assert 50.0 < lab[0, 0] < 75.0
