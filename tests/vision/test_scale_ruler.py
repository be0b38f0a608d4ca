"""Rulers on drawn pictures whose camera is known."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from vision.references.graduation import graduation
from vision.references.ticks import Strip, Ticks, read_ticks, rhythm
from vision.refusal import Refusal
from vision.scale import Scale, find_scale

SHAPE = (900, 1200)
FOCAL_PX = 26.0 / 43.2666 * float(np.hypot(*SHAPE))
FACE, INK = (225, 225, 222), (40, 40, 45)
MM = (1.0, {10: 7.0, 5: 5.0, 1: 3.5})
HALF_MM = (0.5, {20: 7.0, 10: 5.5, 2: 4.5, 1: 3.0})
SIXTEENTHS = (25.4 / 16, {16: 8.0, 8: 6.5, 4: 5.0, 2: 4.0, 1: 3.0})
THIRTYSECONDS = (25.4 / 32, {32: 8.0, 16: 7.0, 8: 6.0, 4: 5.0, 2: 4.0, 1: 3.0})


def marks(graduations, first: float, last: float, edge: float):
    """Return the signed distance to marks square to an edge at y = edge, downwards [mm]."""
    pitch, lengths = graduations

    def distance(points: np.ndarray) -> np.ndarray:
        number = np.clip(np.rint(points[:, 0] / pitch), round(first / pitch), round(last / pitch))
        length = np.zeros(len(points))
        for every, long in sorted(lengths.items()):
            length = np.where(number % every == 0, long, length)
        along = np.abs(points[:, 0] - number * pitch) - 0.09
        across = np.maximum(points[:, 1] - edge, edge - length - points[:, 1])
        return np.maximum(along, across)

    return distance


def scene(
    drawing,
    graduations,
    rng,
    tilt=(5.0, -4.0),
    far=110.0,
    height=0.7,
    errors=1.0,
    turn=7.0,
    colours=(FACE, INK),
    table=(90, 105, 120),
    beside=(),
):
    """Return a photo of a ruler across the middle and its true camera; errors scale the pitch.

    What lies `beside` it is drawn first below it and then, from its second list on, over it.
    """
    below, over = beside or ((), ())
    camera = drawing.camera_over(FOCAL_PX, far, SHAPE, (*tilt, turn))
    pitch, lengths = graduations
    graduations = (pitch * errors, lengths)
    body = drawing.rounded_rectangle((0.3, -20.2), (100.0, 28.0), 0.0, 0.2)
    parts = [
        *below,
        (body, height, colours[0]),
        (marks(graduations, -45.0, 45.0, -6.2), height, colours[1]),
        *over,
    ]
    return drawing.photo_of(drawing.draw(camera, SHAPE, parts, rng, table=table)), camera


def length(camera, way: str, px: float = 150.0) -> float:
    """Return the length on the table seen between two pixels about the middle [mm]."""
    half = np.array([[px, 0.0], [0.0, px]][way == "y"])
    ends = camera.at_height(np.array([camera.centre_px - half, camera.centre_px + half]), 0.0)
    return float(np.linalg.norm(ends[1] - ends[0]))


def found(result) -> Scale:
    assert isinstance(result, Scale), result
    return result


@pytest.mark.parametrize(
    ("kind", "graduations", "far"),
    [
        ("ruler:mm", MM, 110.0),
        ("ruler:mm", HALF_MM, 80.0),
        ("ruler:inch", SIXTEENTHS, 110.0),
        ("ruler:inch", THIRTYSECONDS, 80.0),
    ],
)
@pytest.mark.parametrize("asked", [True, False])
def test_graduations_give_scale_and_tilt(drawing, kind, graduations, far, asked):
    photo, camera = scene(drawing, graduations, np.random.default_rng(1), far=far)
    scale = found(find_scale(photo, kind if asked else "auto"))
    assert scale.reference.kind == kind
    assert scale.reference.size_mm[0] == pytest.approx(graduations[0])
    assert scale.camera.tilt_deg == pytest.approx(camera.tilt_deg, abs=0.5)
    for way in "xy":
        assert length(scale.camera, way) == pytest.approx(length(camera, way), rel=2e-3)


def test_light_marks_on_a_dark_ruler_are_read(drawing):
    photo, camera = scene(drawing, MM, np.random.default_rng(6), colours=(INK, FACE))
    scale = found(find_scale(photo, "auto"))
    for way in "xy":
        assert length(scale.camera, way) == pytest.approx(length(camera, way), rel=3e-3)


def test_marks_of_the_tables_own_colour_that_break_up_the_edge_are_read(drawing):
    """Light marks run out into a light table: the ruler's other edge leads to them."""
    look = {"colours": (INK, FACE), "table": (222, 224, 221)}
    photo, camera = scene(drawing, MM, np.random.default_rng(7), **look)
    scale = found(find_scale(photo, "auto"))
    for way in "xy":
        assert length(scale.camera, way) == pytest.approx(length(camera, way), rel=5e-3)


def test_such_marks_are_read_on_a_mat_of_lines(drawing):
    """The edge that leads to them is one of many lines, and not one of the first."""

    def squares(points: np.ndarray) -> np.ndarray:
        c, s = np.cos(0.5), np.sin(0.5)
        turned = points @ np.array([[c, -s], [s, c]])
        return np.abs((turned + 3.0) % 6.0 - 3.0).min(axis=1) - 0.5

    look = {"colours": (INK, FACE), "table": (222, 224, 221)}
    below = [(squares, 0.0, (60, 60, 160))]
    photo, camera = scene(drawing, MM, np.random.default_rng(7), beside=(below, []), **look)
    scale = found(find_scale(photo, "ruler:mm"))
    for way in "xy":
        assert length(scale.camera, way) == pytest.approx(length(camera, way), rel=5e-3)


def test_a_table_of_many_lines_does_not_crowd_the_ruler_out(drawing):
    """Squared paper has dozens of lines as long and clear as the ruler's edge."""

    def squares(points: np.ndarray) -> np.ndarray:
        c, s = np.cos(0.6), np.sin(0.6)
        turned = points @ np.array([[c, -s], [s, c]])
        return np.abs((turned + 5.0) % 10.0 - 5.0).min(axis=1) - 0.4

    lines = [(squares, 0.0, (60, 60, 160))]
    photo, camera = scene(drawing, MM, np.random.default_rng(4), beside=(lines, []))
    scale = found(find_scale(photo, "ruler:mm"))
    for way in "xy":
        assert length(scale.camera, way) == pytest.approx(length(camera, way), rel=3e-3)


def test_lines_from_rim_to_rim_do_not_crowd_the_ruler_out(drawing):
    """Lines that fan out are of as many directions, and all are longer than the ruler."""
    turns = np.radians(np.arange(3.0, 180.0, 8.0))
    ways = np.column_stack([np.cos(turns), np.sin(turns)])
    offsets = np.random.default_rng(5).uniform(-25.0, 25.0, len(ways))

    def fan(points: np.ndarray) -> np.ndarray:
        return np.abs(points @ ways.T - offsets).min(axis=1) - 0.6

    lines = [(fan, 0.0, (200, 220, 90))]
    photo, camera = scene(drawing, MM, np.random.default_rng(4), beside=(lines, []))
    scale = found(find_scale(photo, "ruler:mm"))
    for way in "xy":
        assert length(scale.camera, way) == pytest.approx(length(camera, way), rel=3e-3)


def test_things_that_lie_on_long_marks_do_not_halve_the_graduation(drawing):
    """Where every other centimetre mark is half hidden for a while, ten millimetres stay ten."""
    hidden = [
        (drawing.rounded_rectangle((x, -11.0), (3.0, 6.0), 0.0, 1.0), 0.7, (40, 160, 170))
        for x in (-30.0, -10.0)
    ]
    photo, camera = scene(drawing, MM, np.random.default_rng(8), beside=([], hidden))
    scale = found(find_scale(photo, "auto"))
    assert scale.reference.size_mm[0] == pytest.approx(1.0)
    for way in "xy":
        assert length(scale.camera, way) == pytest.approx(length(camera, way), rel=3e-3)


def test_long_marks_are_told_from_short_ones_however_near_they_are(drawing):
    """Thirty-three pixels a millimetre: even the shortest marks are 115 px long."""
    shape = (1800, 2400)
    camera = drawing.camera_over(2.0 * FOCAL_PX, 54.0, shape, (3.0, 2.0, 7.0))
    body = drawing.rounded_rectangle((0.3, -8.0), (100.0, 28.0), 0.0, 0.2)
    light = (222, 224, 221)  # marks that run out into a table of their colour break up the edge
    parts = [(body, 0.7, INK), (marks(MM, -45.0, 45.0, 6.0), 0.7, light)]
    picture = drawing.draw(camera, shape, parts, np.random.default_rng(9), table=light)
    scale = found(find_scale(drawing.photo_of(picture), "auto"))
    assert scale.reference.size_mm[0] == pytest.approx(1.0)
    for way in "xy":
        assert length(scale.camera, way) == pytest.approx(length(camera, way), rel=5e-3)


def strip(rows: np.ndarray) -> Strip:
    """Return a strip of greys (R, L) whose rows lie 3 px apart."""
    offsets = 3.0 * np.arange(len(rows))
    return Strip(np.zeros(2), np.array([1.0, 0]), np.array([0, 1.0]), offsets, np.float32(rows))


def dark_marks(at: np.ndarray, wide_px: float = 1800.0) -> np.ndarray:
    """Return a row of greys with dark marks."""
    x = np.arange(wide_px)
    return -60.0 * np.exp(-0.5 * ((x[:, None] - at) / 1.6) ** 2).sum(axis=1)


def test_a_row_alone_with_a_rhythm_is_no_row_of_marks():
    """Graduations show in several rows on end; stairs along an edge in one, and more clearly."""
    rng = np.random.default_rng(10)
    rows = 8.0 * rng.standard_normal((30, 1800))
    rows[5:15] += dark_marks(20.0 + 24.0 * np.arange(73)) + 25.0 * rng.standard_normal((10, 1800))
    rows[24] += dark_marks(10.0 + 14.0 * np.arange(127))
    row, _, periods = rhythm(strip(rows))
    assert 5 <= row < 15
    assert np.median(periods) == pytest.approx(24.0, rel=0.05)


def test_edges_of_things_beside_the_marks_are_left_out_of_their_row():
    """A third of the marks lie under teeth whose edges are up to a fifth of a millimetre off."""
    rng = np.random.default_rng(11)
    true = 20.0 + 24.0 * np.arange(73)
    off = np.where(np.arange(73) % 3 == 1, rng.uniform(-4.5, 4.5, 73), 0.0)
    marked = strip(dark_marks(true + off) + 2.0 * rng.standard_normal((30, 1800)))
    ticks = read_ticks(marked, rhythm(marked))
    assert ticks is not None
    assert ticks.rms_px < 0.3
    places = np.nanmean(ticks.points[..., 0], axis=0)
    assert np.ptp(places - 24.0 * ticks.number) < 1.5


def test_ribs_beyond_a_ruler_s_end_do_not_bend_its_row():
    """Seen aslant, a ruler's rhythm rises steadily; the cloth beside it has one of its own."""
    rng = np.random.default_rng(12)
    number = np.arange(100)
    true = 1200.0 + 18.0 * number / (1.0 - 0.0016 * number)
    rows = dark_marks(true, 3600.0) + 2.0 * rng.standard_normal((30, 3600))
    ribs = 25.0 * np.sin(2.0 * np.pi * np.arange(1150) / rng.uniform(22.0, 27.0, (30, 1)))
    rows[:, :1150] += ribs + 4.0 * rng.standard_normal((30, 1150))
    marked = strip(rows)
    ticks = read_ticks(marked, rhythm(marked))
    assert ticks is not None
    assert len(ticks.number) >= 95
    assert np.ptp(np.interp(ticks.points[0, :, 0], true, number) - ticks.number) < 0.05


def test_the_other_unit_is_not_found(drawing):
    photo, _ = scene(drawing, MM, np.random.default_rng(2))
    refusal = find_scale(photo, "ruler:inch")
    assert isinstance(refusal, Refusal)
    assert refusal.reason == "reference-not-found"


def test_part_of_a_ruler_is_enough(drawing):
    """Both ends lie outside the picture."""
    photo, camera = scene(drawing, MM, np.random.default_rng(3), far=70.0, tilt=(3.0, 2.0))
    scale = found(find_scale(photo, "ruler:mm"))
    for way in "xy":
        assert length(scale.camera, way) == pytest.approx(length(camera, way), rel=3e-3)


def test_bands_of_rulers_are_honest(drawing):
    """Over 16 rulers whose pitch, height and slant are drawn from their priors."""
    rng = np.random.default_rng(8)
    ratios = []
    for _ in range(16):
        height = max(0.1, rng.normal(0.7, 0.34))
        errors = 1.0 + rng.normal(0.0, 0.0015)
        tilt, turn = rng.normal(0.0, 6.0, 2), rng.uniform(0.0, 360.0)
        photo, camera = scene(drawing, MM, rng, tilt, 110.0, height, errors, turn)
        scale = found(find_scale(photo, "ruler:mm"))
        for way in "xy":
            best = length(scale.camera, way)
            u2 = sum((length(c, way) - best) ** 2 for _, c in scale.variants)
            ratios.append((best - length(camera, way)) / np.sqrt(u2))
    assert 0.6 < np.sqrt(np.mean(np.square(ratios))) < 1.3
    assert np.mean(np.abs(ratios) < 1.96) >= 0.9


def test_a_comb_without_long_marks_is_no_ruler(drawing):
    """A comb, a zip or a screw has the rhythm of a ruler, and no tenth tooth that stands out."""
    comb = (1.0, {1: 4.0})
    photo, _ = scene(drawing, comb, np.random.default_rng(5))
    for kind in ("auto", "ruler:mm", "ruler:inch"):
        assert isinstance(find_scale(photo, kind), Refusal)


@pytest.mark.parametrize("seed", [7, 12, 13])
def test_even_teeth_beside_a_ruler_are_not_its_graduations(drawing, seed):
    """The ruler's own edge is broken up; that of a comb, whose teeth are all alike, is not."""
    look = {"colours": (INK, FACE), "table": (222, 224, 221)}
    spine = drawing.rounded_rectangle((0.0, 20.0), (80.0, 4.0), 0.0, 0.5)
    teeth = marks((2.0, {1: 8.0}), -38.0, 38.0, 18.5)

    def gaps(points: np.ndarray) -> np.ndarray:
        x = np.clip(np.rint(points[:, 0] / 2.6), -20, 20) * 2.6
        return np.hypot(points[:, 0] - x, points[:, 1] + 5.9) - 1.0

    over = [(spine, 0.7, INK), (teeth, 0.7, INK), (gaps, 0.7, look["table"])]
    photo, camera = scene(drawing, MM, np.random.default_rng(seed), beside=([], over), **look)
    scale = found(find_scale(photo, "ruler:mm"))
    for way in "xy":
        assert length(scale.camera, way) == pytest.approx(length(camera, way), rel=5e-3)


def test_a_speckled_table_does_not_drown_the_rhythm():
    """Speckles have power at every period; graduations have it on theirs and none between."""
    rng = np.random.default_rng(13)
    speckles = gaussian_filter1d(rng.standard_normal((30, 4400)), 7.0, axis=1)
    rows = 60.0 * speckles / speckles.std()
    rows[8:20, 1200:2400] = 2.0 * rng.standard_normal((12, 1200))
    rows[8:20] += dark_marks(1210.0 + 19.0 * np.arange(62), 4400.0)
    row, _, periods = rhythm(strip(rows))
    assert 8 <= row < 20
    assert np.median(periods) == pytest.approx(19.0, rel=0.05)


def test_marks_in_the_middle_may_be_covered(drawing):
    """A thing 40 mm long lies on the marks of a ruler of 100 mm."""
    thing = drawing.rounded_rectangle((4.0, -9.0), (40.0, 13.0), 8.0, 1.0)
    over = [(thing, 0.7, (150, 150, 160))]
    photo, camera = scene(drawing, MM, np.random.default_rng(14), beside=([], over))
    scale = found(find_scale(photo, "ruler:mm"))
    assert scale.reference.size_mm[0] == pytest.approx(1.0)
    for way in "xy":
        assert length(scale.camera, way) == pytest.approx(length(camera, way), rel=3e-3)


def row_of(number: np.ndarray, lengths: np.ndarray) -> Ticks:
    """Return graduations of given lengths [px], places left out."""
    return Ticks(number, np.zeros((4, len(number), 2)), lengths, 19.0, 0.1)


def test_one_long_mark_alone_comes_back_after_nothing():
    """Marks 48 to 86 are covered: of 32 residues, some have a single mark left."""
    number = np.array([*range(48), *range(87, 102)])
    lengths = np.where(number % 10 == 0, 126.0, np.where(number % 5 == 0, 96.0, 68.0))
    assert graduation(row_of(number, lengths)) == 10


def test_long_marks_far_apart_by_chance_are_no_graduation():
    """Two marks 64 apart are long, and so are others that are not."""
    rng = np.random.default_rng(15)
    number = np.arange(150)
    lengths = rng.uniform(18.0, 22.0, 150)
    lengths[[6, 70, 134]] = 36.0
    lengths[[20, 33, 47, 91, 118]] = 36.0
    assert graduation(row_of(number, lengths)) is None


@pytest.mark.parametrize("hidden", [(10, 70, 90), (70, 90, 10, 95), (90,), ()])
def test_marks_that_glare_hides_make_no_half_millimetres(hidden):
    """A steel rule whose middle shines, and of whose odd centimetres hardly one is seen."""
    number = np.array([k for k in [*range(25), *range(68, 101)] if k not in hidden])
    length = np.where(number % 10 == 0, 6.5, np.where(number % 5 == 0, 5.0, 3.5)) * 8.0
    length[number == 90] = 30.0  # half of it is lost
    length[number == 70] = 30.0
    points = np.zeros((3, len(number), 2))
    assert graduation(Ticks(number, points, length, 12.8, 0.5)) == 10
