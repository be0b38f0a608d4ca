"""Cards and sheets on drawn pictures whose camera is known."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from vision.photo import Photo
from vision.references.edges import straight_edge
from vision.refusal import Refusal
from vision.scale import Scale, find_scale

SHAPE = (480, 640)
DIAGONAL = float(np.hypot(*SHAPE))
SIZES = {"card": (85.60, 53.98, 0.76, 3.18), "paper:A4": (297.0, 210.0, 0.0, 0.0)}
SIZES["paper:Letter"] = (279.4, 215.9, 0.0, 0.0)


def scene(drawing, kind: str, rng, focal: float = 26.0, errors: bool = False, **look):
    """Return a photo of one reference and its true camera."""
    long, short, thickness, radius = SIZES[kind]
    far = 190.0 if kind == "card" else 480.0
    if errors:  # a card of any size that the standard allows, a focal length as EXIF rounds it
        sides_mm = 0.2 * np.sqrt(2.0) * far / (focal / 43.2666 * DIAGONAL)
        long += rng.uniform(-0.125, 0.125) + rng.normal(0.0, sides_mm)
        short += rng.uniform(-0.125, 0.125) + rng.normal(0.0, sides_mm)
        thickness += rng.normal(0.0, 0.038)
        focal *= np.exp(rng.normal(0.0, 0.0164))
    angles = (*rng.uniform(-12, 12, 2), rng.uniform(0, 360))
    camera = drawing.camera_over(focal / 43.2666 * DIAGONAL, far, SHAPE, angles)
    card = drawing.rounded_rectangle(rng.uniform(-8, 8, 2), (long, short), 17.0, radius)
    rgb = drawing.draw(camera, SHAPE, [(card, thickness, (210, 225, 235))], rng, **look)
    return drawing.photo_of(rgb), camera


def length(camera, way: str, height: float, px: float = 100.0) -> float:
    """Return the length seen between two pixels about the middle, at a height [mm]."""
    half = np.array([[px, 0.0], [0.0, px]][way == "y"])
    ends = camera.at_height(np.array([camera.centre_px - half, camera.centre_px + half]), height)
    return float(np.linalg.norm(ends[1] - ends[0]))


def found(result) -> Scale:
    assert isinstance(result, Scale), result
    return result


@pytest.mark.parametrize("kind", SIZES)
@pytest.mark.parametrize("asked", [True, False])
def test_scale_and_tilt_of_a_drawn_reference(drawing, kind, asked):
    rng = np.random.default_rng(len(kind))
    photo, camera = scene(drawing, kind, rng)
    scale = found(find_scale(photo, kind if asked else "auto"))
    assert scale.reference.kind == kind
    assert scale.camera.tilt_deg == pytest.approx(camera.tilt_deg, abs=0.25)
    for way in "xy":
        for height in (0.0, 8.0):
            assert length(scale.camera, way, height) == pytest.approx(
                length(camera, way, height), rel=1.0e-3
            )


def test_outline_lies_on_the_drawn_edge_to_a_tenth_of_a_pixel(drawing):
    rng = np.random.default_rng(5)
    camera = drawing.camera_over(400.0, 190.0, SHAPE, (6.3, -4.2, 33.0))
    card = drawing.rounded_rectangle((3.3, -5.1), (85.60, 53.98), 17.0, 3.18)
    rgb = drawing.draw(camera, SHAPE, [(card, 0.76, (210, 225, 235))], rng)
    corners = found(find_scale(drawing.photo_of(rgb), "card")).outline_px
    turn = np.radians(17.0)
    turn = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    half = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [42.8, 26.99]
    true = half @ turn.T + [3.3, -5.1]
    seen = camera.project(np.column_stack([true, np.full(4, 0.76)]))
    nearest = np.linalg.norm(corners[:, None] - seen, axis=2).min(axis=1)
    assert np.sqrt(np.mean(nearest**2)) < 0.1


def test_bands_are_honest_over_many_cards(drawing):
    """Over 40 drawn cards, the errors are as large as the variants say.

    Sizes, thickness and focal length are drawn from their tolerances, and each side is drawn off by
    0.2 px, for the side faces and shadows that these pictures lack.
    """
    rng = np.random.default_rng(2024)
    ratios = []
    for _ in range(40):
        photo, camera = scene(drawing, "card", rng, errors=True)
        scale = found(find_scale(photo, "card"))
        for way, height in (("x", 0.0), ("y", 0.0), ("x", 12.0)):
            best = length(scale.camera, way, height)
            u = np.sqrt(sum((length(c, way, height) - best) ** 2 for _, c in scale.variants))
            ratios.append((best - length(camera, way, height)) / u)
    assert 0.7 < np.sqrt(np.mean(np.square(ratios))) < 1.3
    assert np.mean(np.abs(ratios) < 1.96) >= 0.9


def test_variants_name_their_causes(drawing):
    photo, _ = scene(drawing, "card", np.random.default_rng(1))
    scale = found(find_scale(photo, "card"))
    assert {c for c, _ in scale.variants} >= {"edges", "card size", "focal length"}
    assert len(scale.variants) <= 9


def test_an_empty_cloudy_table_has_no_reference(drawing):
    rng = np.random.default_rng(3)
    camera = drawing.camera_over(440.0, 200.0, SHAPE, (2.0, 3.0, 10.0))
    photo = drawing.photo_of(drawing.draw(camera, SHAPE, [], rng))
    for kind, reason in (("auto", "no-reference"), ("card", "reference-not-found")):
        refusal = find_scale(photo, kind)
        assert isinstance(refusal, Refusal)
        assert (refusal.reason, refusal.stage) == (reason, "scale")


def test_a_cutting_mat_is_no_card(drawing):
    """A grid of 10 mm has cells of every proportion, 8 by 5 among them, nearly a card's."""
    rng = np.random.default_rng(4)
    camera = drawing.camera_over(440.0, 200.0, SHAPE, (5.0, -7.0, 20.0))

    def grid(points: np.ndarray) -> np.ndarray:
        return np.abs((points + 5.0) % 10.0 - 5.0).min(axis=1) - 0.15

    rgb = drawing.draw(camera, SHAPE, [(grid, 0.0, (200, 230, 210))], rng, table=(60, 130, 90))
    for kind in ("auto", "card"):
        assert isinstance(find_scale(drawing.photo_of(rgb), kind), Refusal)


def test_an_unknown_name_is_refused_with_the_known_ones():
    photo = Photo(np.zeros((300, 400, 3), np.uint8), "0" * 64, "black", None)
    refusal = find_scale(photo, "banknote")
    assert isinstance(refusal, Refusal)
    assert refusal.reason == "unknown-reference"
    assert "paper:A4" in refusal.try_this


def test_what_should_be_told_is_told(drawing):
    photo, _ = scene(drawing, "paper:A4", np.random.default_rng(6))
    unknown_focal = Photo(photo.rgb, photo.sha256, photo.name, None)
    assert "paper-size-assumed" in found(find_scale(photo, "auto")).flags
    assert "paper-size-assumed" not in found(find_scale(photo, "paper:A4")).flags
    assert "focal-unknown" in found(find_scale(unknown_focal, "paper:A4")).flags


def test_a_printed_grid_is_no_card(drawing):
    """Its cells have the shape of a card, but their sides run on past the corners."""
    rng = np.random.default_rng(9)
    camera = drawing.camera_over(26.0 / 43.2666 * DIAGONAL, 230.0, SHAPE, (5.0, -4.0, 12.0))

    def grid(points):
        apart = [np.abs((points[:, k] / step + 0.5) % 1.0 - 0.5) * step for k, step in CELLS]
        return np.minimum(*apart) - 1.0

    rgb = drawing.draw(camera, SHAPE, [(grid, 0.0, (190, 170, 200))], rng, table=(90, 80, 90))
    refusal = find_scale(drawing.photo_of(rgb), "auto")
    assert isinstance(refusal, Refusal)
    assert refusal.reason == "no-reference"


CELLS = ((0, 85.60 / 2.0), (1, 53.98 / 2.0))


def blots(rng: np.random.Generator, cell_mm: float, radii_mm: tuple[float, float]):
    """Return the signed distance to discs, one in each cell of the table, at random places."""
    count = 64
    centres = rng.uniform(0.0, 1.0, (count, count, 2))
    radii = rng.uniform(*radii_mm, (count, count))

    def distance(points: np.ndarray) -> np.ndarray:
        cell = np.floor(points / cell_mm).astype(int)
        least = np.full(len(points), np.inf)
        for step in np.argwhere(np.ones((3, 3))) - 1:
            x, y = ((cell + step) % count).T
            off = points - (cell + step + centres[x, y]) * cell_mm
            least = np.minimum(least, np.linalg.norm(off, axis=1) - radii[x, y])
        return least

    return distance


@pytest.mark.parametrize("seed", range(4))
def test_blots_of_a_printed_table_are_no_lines_that_run_on(drawing, seed):
    """Beyond a sheet's corners lie blots: on a part of the way, where a line lies on all of it."""
    rng = np.random.default_rng(seed)
    camera = drawing.camera_over(26.0 / 43.2666 * DIAGONAL, 480.0, SHAPE, (4.0, -5.0, 8.0))
    sheet = drawing.rounded_rectangle((3.0, -4.0), (297.0, 210.0), 0.0, 0.0)
    parts = [(blots(rng, 40.0, (6.0, 14.0)), 0.0, (60, 140, 80)), (sheet, 0.0, (225, 220, 205))]
    rgb = drawing.draw(camera, SHAPE, parts, rng, table=(198, 195, 178))
    scale = found(find_scale(drawing.photo_of(rgb), "paper:A4"))
    for way in "xy":
        assert length(scale.camera, way, 0.0) == pytest.approx(length(camera, way, 0.0), rel=2e-3)


def test_a_line_across_the_edge_is_no_edge_further_in():
    """Of a short edge beside a rough cloth, a line slanting across it has a third of the slope."""
    x = np.arange(80.0)
    step = 1.0 / (1.0 + np.exp(-(x - 39.6)))
    for seed in range(60):
        rng = np.random.default_rng(seed)
        cloth = gaussian_filter(rng.standard_normal((300, 80)), 1.5)
        grey = 90.0 + 20.0 * cloth / cloth.std() * (1.0 - step) + 110.0 * step
        grey += rng.normal(0.0, 1.5, grey.shape)
        rgb = np.repeat(np.clip(np.rint(grey), 0, 255).astype(np.uint8)[..., None], 3, axis=2)
        ends = np.array([[40.0, 30.0], [40.0, 260.0]])
        edge = straight_edge(rgb, ends, np.array([75.0, 150.0]), 9.0)
        assert edge is not None
        assert np.abs(edge.ends[:, 0] - 39.6).max() < 0.5


def ribs(points: np.ndarray) -> np.ndarray:
    """Return the signed distance to ribs 3 mm apart, aslant."""
    across = points @ np.array([0.5, 0.866])
    return np.abs(across % 3.0 - 1.5) - 0.75


@pytest.mark.parametrize("asked", [True, False])
def test_a_card_on_a_ribbed_cloth_is_found(drawing, asked):
    """The ribs are longer than the card's sides, and more than all lines that are looked at."""
    rng = np.random.default_rng(20)
    shape = (600, 800)
    camera = drawing.camera_over(620.0, 200.0, shape, (4.0, -5.0, 8.0))
    card = drawing.rounded_rectangle((3.0, -4.0), (85.6, 53.98), 12.0, 3.18)
    parts = [(ribs, 0.0, (178, 165, 175)), (card, 0.76, (155, 180, 172))]
    rgb = drawing.draw(camera, shape, parts, rng, table=(212, 200, 210))
    scale = found(find_scale(drawing.photo_of(rgb, 27.0), "card" if asked else "auto"))
    assert scale.reference.kind == "card"
    assert scale.camera.tilt_deg == pytest.approx(camera.tilt_deg, abs=0.4)
    for way in "xy":
        assert length(scale.camera, way, 0.0) == pytest.approx(length(camera, way, 0.0), rel=3e-3)


def stripes(points: np.ndarray) -> np.ndarray:
    """Return the signed distance to stripes 4 mm broad, aslant."""
    across = points @ np.array([np.cos(np.radians(50.0)), np.sin(np.radians(50.0))])
    return np.abs(across % 8.0 - 4.0) - 2.0


@pytest.mark.parametrize("asked", [True, False])
def test_a_card_on_broad_stripes_is_found(drawing, asked):
    """They are too broad to run together from afar; but all of them run in one direction."""
    rng = np.random.default_rng(21)
    camera = drawing.camera_over(600.9, 330.0, (600, 800), (10.0, 5.0, 10.0))
    card = drawing.rounded_rectangle((3.0, -5.0), (85.6, 53.98), 8.0, 3.18)
    parts = [(stripes, 0.0, (178, 165, 175)), (card, 0.76, (225, 240, 225))]
    rgb = drawing.draw(camera, (600, 800), parts, rng, table=(160, 165, 125))
    scale = found(find_scale(drawing.photo_of(rgb, 26.0), "card" if asked else "auto"))
    assert scale.reference.kind == "card"
    for way in "xy":
        assert length(scale.camera, way, 0.0) == pytest.approx(length(camera, way, 0.0), rel=5e-3)


@pytest.mark.parametrize("pattern", [ribs, stripes])
def test_a_ribbed_cloth_alone_is_no_reference(drawing, pattern):
    rng = np.random.default_rng(21)
    camera = drawing.camera_over(620.0, 200.0, (600, 800), (4.0, -5.0, 8.0))
    parts = [(pattern, 0.0, (178, 165, 175))]
    rgb = drawing.draw(camera, (600, 800), parts, rng, table=(212, 200, 210))
    for kind in ("card", "paper:A4", "auto"):
        assert isinstance(find_scale(drawing.photo_of(rgb, 27.0), kind), Refusal)


@pytest.mark.parametrize("tilt", [0.0, 2.0])
def test_squares_that_fill_the_picture_do_not_crowd_the_card_out(drawing, tilt):
    """Eight by five squares have nearly a card's shape, and end where the picture does."""
    rng = np.random.default_rng(22)
    shape = (480, 760)
    camera = drawing.camera_over(481.0, 190.0, shape, (tilt, -tilt, 0.0))

    def squares(points: np.ndarray) -> np.ndarray:
        off = np.abs((points + np.array([18.0, 0.0])) % 36.0 - 18.0)
        return off.min(axis=1) - 1.0

    def label(points: np.ndarray) -> np.ndarray:
        return np.linalg.norm(points - [59.0, 31.0], axis=1) - 5.0

    table = (215, 212, 200)
    card = drawing.rounded_rectangle((20.0, 14.0), (85.6, 53.98), 24.0, 3.18)
    parts = [(squares, 0.0, (120, 100, 90)), (card, 0.76, (90, 120, 150)), (label, 0.76, table)]
    rgb = drawing.draw(camera, shape, parts, rng, table=table)
    scale = found(find_scale(drawing.photo_of(rgb, 23.2), "card"))
    for way in "xy":
        assert length(scale.camera, way, 0.0) == pytest.approx(length(camera, way, 0.0), rel=5e-3)
