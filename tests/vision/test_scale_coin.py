"""Coins on drawn pictures whose camera is known."""

from dataclasses import replace

import numpy as np
import pytest

from vision.reference import named
from vision.references.coin import coins
from vision.references.slant import Told
from vision.refusal import Refusal
from vision.scale import Scale, find_scale, told_slant

SHAPE = (450, 600)
FOCAL_PX = 26.0 / 43.2666 * float(np.hypot(*SHAPE))
METAL, DARK = (205, 205, 200), (120, 95, 70)


def disc(centre: tuple[float, float], diameter: float):
    """Return the signed distance to a disc [mm]."""
    return lambda points: np.linalg.norm(points - centre, axis=1) - diameter / 2.0


def coin(centre, diameter: float, height: float, wall: bool = True) -> list:
    """Return the parts of a coin: its wall, as bright as its face or not seen, and its face."""
    heights = np.linspace(0.0, height, 4) if wall else [height]
    face = [(disc(centre, diameter), h, METAL) for h in heights]
    return [*face, (disc(centre, 0.72 * diameter), height, (215, 185, 120))]


def scene(drawing, rng, wall: bool = True, errors: bool = False):
    """Return a photo of one 2 euro coin beside the middle and its true camera."""
    tilt = rng.normal(0.0, 7.0, 2) if errors else (4.0, -6.0)
    size = 25.75 + (rng.normal(0.0, 0.13) if errors else 0.0)
    place = rng.uniform(-15, 15, 2) if errors else (9.3, 11.7)
    camera = drawing.camera_over(FOCAL_PX, 130.0, SHAPE, (*tilt, rng.uniform(0, 360)))
    rgb = drawing.draw(camera, SHAPE, coin(place, size, 2.2, wall), rng, table=DARK)
    return drawing.photo_of(rgb), camera


def length(camera, at: np.ndarray, way: str, px: float = 60.0) -> float:
    """Return the length on the table seen between two pixels about a pixel [mm]."""
    half = np.array([[px, 0.0], [0.0, px]][way == "y"])
    ends = camera.at_height(np.array([at - half, at + half]), 0.0)
    return float(np.linalg.norm(ends[1] - ends[0]))


def found(result) -> Scale:
    assert isinstance(result, Scale), result
    return result


def test_a_drawn_coin_gives_the_scale_where_it_lies(drawing):
    photo, camera = scene(drawing, np.random.default_rng(1))
    scale = found(find_scale(photo, "coin:EUR-2"))
    at = scale.outline_px.mean(axis=0)
    seen = np.sqrt(length(scale.camera, at, "x") * length(scale.camera, at, "y"))
    true = np.sqrt(length(camera, at, "x") * length(camera, at, "y"))
    assert seen == pytest.approx(true, rel=0.01)


def test_a_coin_close_to_the_photos_edge_is_found_by_its_rim_and_not_by_a_ring_in_it(drawing):
    camera = drawing.camera_over(FOCAL_PX, 60.0, SHAPE, (2.0, -3.0, 40.0))
    at_edge = camera.at_height(np.array([[230.0, 162.0]]), 0.0)[0, :2]
    parts = coin(at_edge, 25.75, 2.2)
    rgb = drawing.draw(camera, SHAPE, parts, np.random.default_rng(5), table=DARK)
    scale = found(find_scale(drawing.photo_of(rgb), "coin:EUR-2"))
    ends = at_edge + np.array([[12.875, 0.0], [-12.875, 0.0]])
    rim = camera.project(np.column_stack([ends, [2.2, 2.2]]))
    width = np.linalg.norm(rim[1] - rim[0])
    seen = np.ptp(scale.outline_px, axis=0).mean()
    assert seen == pytest.approx(width, rel=0.03)


def test_bands_of_coins_are_honest(drawing):
    """Over 16 coins of true sizes and slants drawn from their priors, at the middle of the photo.

    Every other coin's wall is lost in the dark, which the outline alone cannot tell.
    """
    rng = np.random.default_rng(11)
    ratios = []
    for k in range(16):
        photo, camera = scene(drawing, rng, wall=k % 2 == 0, errors=True)
        scale = found(find_scale(photo, "coin:EUR-2"))
        at = camera.centre_px
        for way in "xy":
            best = length(scale.camera, at, way)
            u2 = sum((length(c, at, way) - best) ** 2 for _, c in scale.variants)
            ratios.append((best - length(camera, at, way)) / np.sqrt(u2))
    assert 0.5 < np.sqrt(np.mean(np.square(ratios))) < 1.3
    assert np.mean(np.abs(ratios) < 1.96) >= 0.9


def test_a_coin_is_not_guessed(drawing):
    photo, _ = scene(drawing, np.random.default_rng(2))
    refusal = find_scale(photo)
    assert isinstance(refusal, Refusal)
    assert refusal.reason == "which-coin"


def test_a_point_chooses_among_several_coins(drawing):
    rng = np.random.default_rng(3)
    camera = drawing.camera_over(FOCAL_PX, 140.0, SHAPE, (2.0, 1.0, 5.0))
    parts = coin((-20.0, 0.0), 25.75, 2.2) + coin((20.0, 3.0), 16.25, 1.67)
    photo = drawing.photo_of(drawing.draw(camera, SHAPE, parts, rng, table=DARK))
    rims = coins(photo)
    assert len(rims) == 2
    for rim in rims:
        scale = found(find_scale(photo, "coin:EUR-0.01", tuple(rim.middle + 4.0)))
        assert scale.outline_px.mean(axis=0) == pytest.approx(rim.middle, abs=3.0)
        assert "several-coins" not in scale.flags
    assert "several-coins" in found(find_scale(photo, "coin:EUR-0.01")).flags


def test_rims_are_measured_to_a_tenth_of_a_pixel(drawing):
    rng = np.random.default_rng(4)
    camera = drawing.camera_over(FOCAL_PX, 130.3, SHAPE, (0.0, 0.0, 0.0))
    parts = [(disc((3.1, -2.7), 24.26), 0.0, METAL)]
    photo = drawing.photo_of(drawing.draw(camera, SHAPE, parts, rng, table=DARK))
    (rim,) = coins(photo)
    true = camera.project(np.array([[3.1, -2.7, 0.0]]))[0]
    assert rim.radius_px == pytest.approx(FOCAL_PX * 12.13 / 130.3, abs=0.1)
    assert rim.middle == pytest.approx(true, abs=0.1)


def test_a_coin_on_a_mat_of_lines_is_found(drawing):
    """On so busy a table every place differs from its neighbour, and one circle in a thousand."""
    rng = np.random.default_rng(8)
    camera = drawing.camera_over(FOCAL_PX, 90.0, SHAPE, (3.0, -2.0, 20.0))

    def lines(points: np.ndarray) -> np.ndarray:
        return np.abs((points + 2.0) % 4.0 - 2.0).min(axis=1) - 0.4

    copper = [(disc((6.0, -4.0), 24.25), h, (190, 145, 115)) for h in (0.0, 1.2, 2.38)]
    parts = [(lines, 0.0, (230, 240, 60)), *copper]
    photo = drawing.photo_of(drawing.draw(camera, SHAPE, parts, rng, table=(120, 100, 120)))
    scale = found(find_scale(photo, "coin:EUR-0.5"))
    middle = camera.project(np.array([[6.0, -4.0, 2.38]]))[0]
    assert scale.outline_px.mean(axis=0) == pytest.approx(middle, abs=4.0)


def test_a_ring_of_wire_is_no_coin_where_there_is_one(drawing):
    rng = np.random.default_rng(9)
    camera = drawing.camera_over(FOCAL_PX, 140.0, SHAPE, (2.0, 1.0, 5.0))
    outer, inner = disc((-20.0, 0.0), 27.0), disc((-20.0, 0.0), 24.6)
    ring = (lambda points: np.maximum(outer(points), -inner(points)), 1.2, METAL)
    # A rod over the coin's border leaves the ring the clearer outline.
    rod = drawing.rounded_rectangle((31.0, 3.0), (12.0, 5.0), 0.0, 0.3)
    dull = (disc((20.0, 3.0), 25.75), 2.2, (135, 110, 90))
    parts = [ring, dull, (rod, 2.2, (60, 60, 200))]
    photo = drawing.photo_of(drawing.draw(camera, SHAPE, parts, rng, table=DARK))
    assert len(coins(photo)) == 2
    scale = found(find_scale(photo, "coin:EUR-2"))
    middle = camera.project(np.array([[20.0, 3.0, 2.2]]))[0]
    assert scale.outline_px.mean(axis=0) == pytest.approx(middle, abs=3.0)


def test_a_coin_that_lies_partly_in_a_key_ring_is_found(drawing):
    """The ring is larger, and the coin within it no line of its face."""
    rng, shape, focal_px = np.random.default_rng(19), (900, 1200), 900.0
    camera = drawing.camera_over(focal_px, 140.0, shape, (3.0, 2.0, 10.0))
    outer, inner = disc((4.0, 0.0), 29.0), disc((4.0, 0.0), 26.4)
    ring = (lambda points: np.maximum(outer(points), -inner(points)), 2.2, METAL)
    parts = [(disc((-2.6, 1.0), 22.25), 2.14, (190, 160, 90)), ring]
    photo = drawing.photo_of(drawing.draw(camera, shape, parts, rng, table=DARK))
    scale = found(find_scale(photo, "coin:EUR-0.2"))
    middle = camera.project(np.array([[-2.6, 1.0, 2.14]]))[0]
    assert scale.outline_px.mean(axis=0) == pytest.approx(middle, abs=4.0)


def test_a_ring_of_wire_on_a_mottled_table_has_no_two_metals(drawing):
    """The table within it differs from the table beside it, and looks more golden."""
    rng = np.random.default_rng(20)
    camera = drawing.camera_over(FOCAL_PX, 140.0, SHAPE, (2.0, 1.0, 5.0))
    outer, inner = disc((-20.0, 0.0), 27.0), disc((-20.0, 0.0), 24.0)
    ring = (lambda points: np.maximum(outer(points), -inner(points)), 1.2, METAL)
    spot = (disc((-20.0, 0.0), 15.0), 0.0, (92, 80, 55))
    dull = (disc((20.0, 3.0), 25.75), 2.2, (135, 110, 90))
    photo = drawing.photo_of(drawing.draw(camera, SHAPE, [spot, ring, dull], rng, table=DARK))
    scale = found(find_scale(photo, "coin:EUR-2"))
    middle = camera.project(np.array([[20.0, 3.0, 2.2]]))[0]
    assert scale.outline_px.mean(axis=0) == pytest.approx(middle, abs=3.0)


def scale_beside_ring(drawing, diameters, thickness, rod):
    """Return the scale of a coin in part below a rod, beside a ring, and the coin's middle [px]."""
    rng, shape, focal_px = np.random.default_rng(16), (900, 1200), 900.0
    camera = drawing.camera_over(focal_px, 140.0, shape, (3.0, 2.0, 10.0))
    outer, inner = (disc((22.0, 4.0), diameter) for diameter in diameters)
    ring = (lambda points: np.maximum(outer(points), -inner(points)), thickness, METAL)
    coin = (disc((-12.0, 4.0), 21.21), 1.95, (150, 148, 145))
    over = (drawing.rounded_rectangle(*rod, 0.0, 0.5), 2.2, (60, 60, 200))
    photo = drawing.photo_of(drawing.draw(camera, shape, [ring, coin, over], rng, table=DARK))
    middle = camera.project(np.array([[-12.0, 4.0, 1.95]]))[0]
    return found(find_scale(photo, "coin:USD-0.05")), middle


def test_a_washer_is_no_coin_where_there_is_one(drawing):
    """Its hole shows the table, though it is too broad for a ring of wire."""
    # A rod over the coin's border leaves the washer the clearer outline.
    rod = ((-12.0, 14.0), (4.0, 20.0))
    scale, middle = scale_beside_ring(drawing, (14.0, 7.0), 1.2, rod)
    assert scale.outline_px.mean(axis=0) == pytest.approx(middle, abs=3.0)
    assert "several-coins" not in scale.flags


def test_a_ring_whose_middle_is_the_tables_colour_is_the_coin_where_it_is_by_far_the_clearer(
    drawing,
):
    """A coin's core may have that colour, and what else is round may be a link of a chain."""
    rod = ((-12.0, 12.0), (14.0, 12.0))
    scale, beside = scale_beside_ring(drawing, (21.21, 11.0), 1.95, rod)
    middle = scale.outline_px.mean(axis=0)
    assert middle[0] > beside[0] + 150.0  # the ring lies 34 mm away, 218 px
    assert "several-coins" in scale.flags


def test_colours_that_overrule_the_clearest_rim_are_told(drawing):
    """A disc that is coloured as the coin should be is chosen, but not without a word."""
    rng, shape, focal_px = np.random.default_rng(17), (900, 1200), 900.0
    camera = drawing.camera_over(focal_px, 140.0, shape, (3.0, 2.0, 10.0))
    grey = (disc((-16.0, 4.0), 25.75), 2.2, (190, 190, 188))
    border = (disc((16.0, 4.0), 23.25), 2.33, (190, 190, 188))
    middle = (disc((16.0, 4.0), 15.0), 2.33, (215, 180, 90))
    rod = drawing.rounded_rectangle((16.0, 15.0), (4.0, 8.0), 0.0, 0.5)
    parts = [grey, border, middle, (rod, 2.4, (60, 60, 200))]
    photo = drawing.photo_of(drawing.draw(camera, shape, parts, rng, table=DARK))
    scale = found(find_scale(photo, "coin:EUR-2"))
    there = camera.project(np.array([[16.0, 4.0, 2.33]]))[0]
    assert scale.outline_px.mean(axis=0) == pytest.approx(there, abs=10.0)
    assert "several-coins" in scale.flags


@pytest.mark.parametrize(
    ("lean", "place"),
    [((6.0, -25.0), (8.0, -5.0)), ((20.0, 8.0), (-14.0, -8.0)), ((0.0, -24.0), (10.0, 6.0))],
)
def test_a_steeply_seen_coin_with_rings_on_its_face_is_found_by_its_rim(drawing, lean, place):
    """Few trial ellipses are as oval as it is, and those meet a groove of its face as well."""
    rng, shape, focal_px = np.random.default_rng(12), (1200, 1600), 1060.0
    camera = drawing.camera_over(focal_px, 90.0, shape, (*lean, 30.0))
    outer, inner, centre = disc(place, 23.8), disc(place, 23.3), np.array(place)
    groove = (lambda points: np.maximum(outer(points), -inner(points)), 2.2, (95, 60, 50))
    wall = [(disc(place, 25.75), h, (140, 105, 90)) for h in np.linspace(0.0, 2.1, 8)]
    middle = (disc(place, 18.5), 2.2, (235, 215, 160))
    parts = [*wall, (disc(place, 25.75), 2.2, (205, 165, 150)), groove, middle]
    photo = drawing.photo_of(drawing.draw(camera, shape, parts, rng, table=(205, 200, 210)))
    scale = found(find_scale(photo, "coin:EUR-2"))
    ways = np.linspace(0.0, 2.0 * np.pi, 360)
    ring = centre + 12.875 * np.column_stack([np.cos(ways), np.sin(ways)])
    rim = camera.project(np.column_stack([ring, np.full(len(ring), 2.2)]))
    assert np.ptp(scale.outline_px, axis=0) == pytest.approx(np.ptp(rim, axis=0), rel=0.035)


def chain(place, count: int) -> list:
    """Return rings of wire, each through the next [mm]."""
    rings = []
    for k in range(count):
        outer, inner = (disc(np.add(place, (5.5 * k, 3.0 * k)), size) for size in (13.0, 11.2))
        rings.append(lambda points, o=outer, i=inner: np.maximum(o(points), -i(points)))
    return [(ring, 0.9, METAL) for ring in rings]


def test_a_chain_is_no_coin_of_two_metals_on_a_table_of_colour(drawing):
    """In lightless grey the coin has no look of its own, and a ring shows the table within it."""
    rng, shape, focal_px = np.random.default_rng(13), (900, 1200), 900.0
    camera = drawing.camera_over(focal_px, 140.0, shape, (3.0, 2.0, 10.0))
    coin_ = [(disc((-22.0, 8.0), 25.75), h, (160, 160, 155)) for h in (0.0, 1.1, 2.2)]
    parts = [*coin_, (disc((-22.0, 8.0), 18.5), 2.2, (172, 171, 167)), *chain((16.0, -8.0), 3)]
    rgb = drawing.draw(camera, shape, parts, rng, table=(150, 190, 120))
    scale = found(find_scale(drawing.photo_of(rgb), "coin:EUR-2"))
    middle = camera.project(np.array([[-22.0, 8.0, 2.2]]))[0]
    assert scale.outline_px.mean(axis=0) == pytest.approx(middle, abs=4.0)


def test_a_ring_of_wire_alone_is_not_taken_for_the_coin(drawing):
    rng, shape, focal_px = np.random.default_rng(14), (900, 1200), 900.0
    camera = drawing.camera_over(focal_px, 140.0, shape, (3.0, 2.0, 10.0))
    outer, inner = disc((5.0, 4.0), 27.0), disc((5.0, 4.0), 24.0)
    ring = (lambda points: np.maximum(outer(points), -inner(points)), 1.2, METAL)
    photo = drawing.photo_of(drawing.draw(camera, shape, [ring], rng, table=DARK))
    assert len(coins(photo)) == 1
    refusal = find_scale(photo, "coin:USD-0.25")
    assert isinstance(refusal, Refusal)
    assert refusal.reason == "reference-not-found"


def test_a_coin_whose_middle_is_of_the_tables_colour_is_no_ring_of_wire(drawing):
    rng, shape, focal_px = np.random.default_rng(15), (900, 1200), 900.0
    camera = drawing.camera_over(focal_px, 140.0, shape, (3.0, 2.0, 10.0))
    border = [(disc((5.0, 4.0), 25.75), h, (185, 145, 120)) for h in (0.0, 1.1, 2.2)]
    parts = [*border, (disc((5.0, 4.0), 18.5), 2.2, (205, 208, 206))]
    photo = drawing.photo_of(drawing.draw(camera, shape, parts, rng, table=(200, 208, 206)))
    assert isinstance(find_scale(photo, "coin:EUR-2"), Scale)


def test_what_else_tells_the_slant_of_a_lone_coin_is_heeded(drawing):
    """Told the true slant to two degrees, it is known better than by either alone.

    Seen from nearly above, its wall is hidden below its rim and tells nothing.
    """
    rng = np.random.default_rng(6)
    camera = drawing.camera_over(FOCAL_PX, 130.0, SHAPE, (6.0, 0.0, 30.0))
    parts = coin((0.0, 0.0), 25.75, 2.2)
    photo = drawing.photo_of(drawing.draw(camera, SHAPE, parts, rng, table=DARK))
    alone = found(find_scale(photo, "coin:EUR-2"))
    true = camera.rotation[:2, 2]
    told = told_slant(photo, alone, Told(true, np.eye(2) / np.radians(2.0) ** 2, np.zeros(2)))
    off = [np.linalg.norm(s.camera.rotation[:2, 2] - true) for s in (alone, told)]
    assert off[1] < min(np.radians(2.0), 0.6 * off[0])
    doubt = [_doubt_of_slant(s) for s in (alone, told)]
    assert doubt[1] < 0.5 * doubt[0]
    other = told_slant(photo, replace(alone, lone_coin=None), Told(true, np.eye(2), np.zeros(2)))
    assert other.camera is alone.camera


def _doubt_of_slant(scale: Scale) -> float:
    turns = [c.rotation[:2, 2] - scale.camera.rotation[:2, 2] for _, c in scale.variants]
    return float(np.linalg.norm(turns))


def test_a_rounded_edge_belongs_to_the_coin(drawing):
    """The step from its flat rim to the rounding is steeper than that from there to the table."""
    rng, shape, focal_px = np.random.default_rng(10), (1200, 1600), 1200.0
    camera = drawing.camera_over(focal_px, 60.0, shape, (0.0, 0.0, 0.0))
    rounding, flat = (disc((2.0, 1.0), size) for size in (24.26, 23.96))
    parts = [(rounding, 0.0, (165, 150, 135)), (flat, 0.0, METAL)]
    photo = drawing.photo_of(drawing.draw(camera, shape, parts, rng, table=DARK))
    (rim,) = coins(photo)
    assert rim.radius_px == pytest.approx(focal_px * 12.13 / 60.0, rel=0.002)


def test_a_square_is_no_coin(drawing):
    rng = np.random.default_rng(5)
    camera = drawing.camera_over(FOCAL_PX, 130.0, SHAPE, (2.0, 3.0, 20.0))
    square = drawing.rounded_rectangle((0.0, 0.0), (25.0, 25.0), 30.0, 1.0)
    photo = drawing.photo_of(drawing.draw(camera, SHAPE, [(square, 0.0, METAL)], rng, table=DARK))
    refusal = find_scale(photo, "coin:EUR-2")
    assert isinstance(refusal, Refusal)
    assert refusal.reason == "reference-not-found"


@pytest.mark.parametrize(
    ("kind", "diameter", "height"),
    [
        ("coin:EUR-2", 25.75, 2.20),
        ("coin:eur-0.50", 24.25, 2.38),
        ("coin:USD-0.25", 24.26, 1.75),
        ("coin:CHF-5", 31.45, 2.35),
    ],
)
def test_coins_are_known_by_code_and_value(kind, diameter, height):
    """Euro: Regulation (EC) 975/98. Dollar: US Mint. Franc: published table, second-hand."""
    reference = named(kind)
    assert reference is not None
    assert (reference.size_mm[0], reference.thickness_mm) == (diameter, height)


@pytest.mark.parametrize(
    ("kind", "diameter"),
    [
        ("coin:EUR-0.1", 19.75),
        ("coin:USD-0.01", 19.05),
        ("coin:GBP-0.01", 20.3),
        ("coin:CAD-0.05", 21.2),
        ("coin:AUD-1", 25.0),
        ("coin:JPY-10", 23.5),
        ("coin:INR-10", 27.0),
        ("coin:BRL-1", 27.0),
        ("coin:MXN-10", 28.0),
        ("coin:CHF-1", 23.2),
    ],
)
def test_ten_currencies_are_known(kind, diameter):
    """The mints' nominal sizes, from memory."""
    reference = named(kind)
    assert reference is not None
    assert reference.size_mm[0] == diameter
    assert 1.0 < reference.thickness_mm < 3.5
    assert reference.source


@pytest.mark.parametrize("kind", ["coin:EUR-3", "coin:XYZ-1", "coin:EUR-two", "coin:", "coin"])
def test_unknown_coins_are_none(kind):
    assert named(kind) is None
