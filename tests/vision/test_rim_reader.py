"""The rim reader's network, and the slant by what it reads, against coins whose camera is known."""

from dataclasses import replace
from importlib.resources import files

import numpy as np
import pytest

from vision.reference import named
from vision.references.circles import Ring, weights
from vision.references.coin import coins, hardly_read
from vision.references.finding import LoneCoin
from vision.references.lattice import axes_of
from vision.references.rim_reader import Rims, read_rims, rim_beyond, station_angles
from vision.references.view import view_of
from vision.references.wall import EDGE_MM, slant_by_wall

SHAPE = (900, 1200)
FOCAL_PX = 26.0 / 43.2666 * float(np.hypot(*SHAPE))
TWO_EURO = named("coin:EUR-2")
RADIUS, HEIGHT = TWO_EURO.size_mm[0] / 2.0, TWO_EURO.thickness_mm
METAL, WALL, DARK = (205, 205, 200), (95, 92, 88), (120, 60, 40)


def disc(diameter: float):
    return lambda points: np.linalg.norm(points, axis=1) - diameter / 2.0


def circle(camera, height: float) -> np.ndarray:
    """Return the pixels of a circle of the coin at a height."""
    turn = np.linspace(0.0, 2.0 * np.pi, 720, endpoint=False)
    points = RADIUS * np.column_stack([np.cos(turn), np.sin(turn)])
    return camera.project(np.column_stack([points, np.full(720, height)]))


def radii(outline: np.ndarray, centre: np.ndarray) -> np.ndarray:
    """Return how far an outline lies from a centre at the stations [px]."""
    away = outline - centre
    turn = np.arctan2(away[:, 1], away[:, 0])
    order = np.argsort(turn)
    far = np.hypot(*away[order].T)
    return np.interp(station_angles(), turn[order], far, period=2.0 * np.pi)


def read_exactly(camera, u: float) -> tuple[Ring, Rims]:
    """Return a coin's outline, and what a reader that errs by nothing would tell of it."""
    rim, foot = circle(camera, HEIGHT - EDGE_MM), circle(camera, EDGE_MM)
    centre = rim.mean(axis=0)
    upper, lower = radii(rim, centre), radii(foot, centre)
    outline = np.maximum(upper, lower)
    angle = station_angles()
    shape = np.linalg.lstsq(weights(angle), outline, rcond=None)[0]
    points = centre + outline[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    doubt = np.full(len(angle), u * shape[0])
    return Ring(centre, shape, points, 0.1, 1.0), Rims(angle, upper, outline, doubt, doubt)


def test_the_file_is_small_and_reads_any_number_of_coins():
    assert len((files("vision") / "data" / "rim-reader.onnx").read_bytes()) < 1_000_000


@pytest.mark.parametrize("tilt", [(8.0, 0.0), (-6.0, 9.0), (2.0, -17.0)])
def test_the_wall_tells_the_slant(drawing, tilt):
    """Read exactly, the slant comes out to a third of a degree."""
    camera = drawing.camera_over(FOCAL_PX, 180.0, SHAPE, (*tilt, 40.0))
    ring, read = read_exactly(camera, 0.0005)
    view = view_of(drawing.photo_of(np.zeros((*SHAPE, 3), np.uint8)))
    slant = slant_by_wall(view, ring, read, (), TWO_EURO)
    off = slant.normal - camera.rotation[:2, 2]
    assert np.linalg.norm(off) < np.radians(0.35)
    assert np.sqrt(np.trace(slant.cov)) < np.radians(1.3)
    assert off @ np.linalg.solve(slant.cov, off) < 6.0


def test_a_wall_that_is_hidden_leaves_the_slant_open(drawing):
    """Seen from above, the rim hides the wall up to the angle under which half a coin shows."""
    doubts = []
    for tilt in (0.0, 12.0):
        camera = drawing.camera_over(FOCAL_PX, 120.0, SHAPE, (tilt, 0.0, 0.0))
        ring, read = read_exactly(camera, 0.002)
        view = view_of(drawing.photo_of(np.zeros((*SHAPE, 3), np.uint8)))
        slant = slant_by_wall(view, ring, read, (), TWO_EURO)
        doubts.append(float(np.sqrt(np.trace(slant.cov))))
    assert axes_of(np.zeros((1, 2)))[2][0] == pytest.approx([0.0, 0.0, -1.0])
    assert doubts[0] > 2.0 * doubts[1]
    assert doubts[0] > np.radians(2.0)


@pytest.mark.parametrize("tilt", [(10.0, 3.0), (-4.0, 14.0)])
def test_rim_and_wall_of_a_drawn_coin_are_read(drawing, tilt):
    """A coin with a dark wall: rim and outline to 0.7 %, the slant within its doubt."""
    camera = drawing.camera_over(FOCAL_PX, 150.0, SHAPE, (*tilt, 70.0))
    parts = [(disc(2.0 * RADIUS), h, WALL) for h in np.linspace(0.0, HEIGHT - 0.05, 6)]
    parts += [(disc(2.0 * RADIUS), HEIGHT, METAL), (disc(1.4 * RADIUS), HEIGHT, (215, 185, 120))]
    rgb = drawing.draw(camera, SHAPE, parts, np.random.default_rng(8), table=DARK)
    photo = drawing.photo_of(rgb)
    (ring,) = coins(photo)
    read = read_rims(photo.rgb, ring)
    rim, foot = (radii(circle(camera, h), ring.centre) for h in (HEIGHT, 0.0))
    assert np.median(np.abs(read.rim_px / rim - 1.0)) < 0.007
    assert np.median(np.abs(read.outline_px / np.maximum(rim, foot) - 1.0)) < 0.007
    slant = slant_by_wall(view_of(photo), ring, read, (), TWO_EURO)
    off = slant.normal - camera.rotation[:2, 2]
    assert off @ np.linalg.solve(slant.cov, off) < 6.0


@pytest.mark.parametrize(("share", "told"), [(0.002, False), (0.004, True)])
def test_a_rim_that_is_hardly_read_is_told(share, told):
    """Links of chains were read so, and very small coins."""
    radius = np.full(64, 300.0)
    doubt = share * radius
    ring = Ring(np.zeros(2), np.array([300.0, 0.0, 0.0, 0.0, 0.0]), np.zeros((1, 2)), 0.1, 1.0)
    read = Rims(station_angles(), radius, radius, doubt, doubt)
    assert hardly_read(LoneCoin(ring, read, (), None)) is told


@pytest.mark.parametrize("part", [1.0, 0.8, 0.62])
def test_the_rim_around_a_ring_of_a_face_is_read(drawing, part):
    """The ring may be the border of a relief; around a rim there is none."""
    camera = drawing.camera_over(FOCAL_PX, 150.0, SHAPE, (5.0, 2.0, 70.0))
    parts = [(disc(2.0 * RADIUS), h, WALL) for h in np.linspace(0.0, HEIGHT - 0.05, 6)]
    parts += [(disc(2.0 * RADIUS), HEIGHT, METAL), (disc(1.4 * RADIUS), HEIGHT, (215, 185, 120))]
    photo = drawing.photo_of(
        drawing.draw(camera, SHAPE, parts, np.random.default_rng(8), table=DARK)
    )
    (rim,) = coins(photo)
    ring = replace(rim, centre=rim.middle, shape=part * rim.shape * [1.0, 0.0, 0.0, 1.0, 1.0])
    found = rim_beyond(photo.rgb, ring)
    if part == 1.0:
        assert found is None
    else:
        assert found is not None
        assert found.radius_px == pytest.approx(rim.radius_px, rel=0.01)
        assert found.middle == pytest.approx(rim.middle, abs=2.0)


def test_no_rim_is_read_around_a_disc_printed_on_a_table_of_lines(drawing):
    camera = drawing.camera_over(FOCAL_PX, 150.0, SHAPE, (5.0, 2.0, 70.0))
    lines = (lambda points: np.abs((points[:, 0] % 4.0) - 2.0) - 0.3, 0.0, (150, 110, 80))
    parts = [lines, (disc(2.0 * RADIUS), HEIGHT, METAL)]
    photo = drawing.photo_of(
        drawing.draw(camera, SHAPE, parts, np.random.default_rng(9), table=DARK)
    )
    assert rim_beyond(photo.rgb, coins(photo)[0]) is None
