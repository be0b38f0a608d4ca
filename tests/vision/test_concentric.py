"""Coins that go on beyond the ring that was found first."""

import numpy as np
import pytest

from vision.photo import Photo
from vision.reference import named
from vision.references.circles import Ring
from vision.references.coin import whole_rim
from vision.references.concentric import widened
from vision.references.view import view_of

SHAPE, FOCAL_PX, AT = (450, 600), 700.0, (3.0, -2.0)
PALE, GREY, COPPER, INK = (214, 219, 214), (192, 191, 184), (196, 152, 122), (84, 36, 104)


def disc(centre: tuple[float, float], diameter: float):
    """Return the signed distance to a disc [mm]."""
    return lambda points: np.linalg.norm(points - centre, axis=1) - diameter / 2.0


def drawn(drawing, parts: list, ring_mm: float):
    """Return a picture, a ring of a diameter in it about the coin's middle, and [px] for a mm."""
    camera = drawing.camera_over(FOCAL_PX, 90.0, SHAPE, (2.0, -3.0, 15.0))
    rng = np.random.default_rng(21)
    rgb = drawing.draw(camera, SHAPE, parts, rng, table=PALE)
    middle = camera.project(np.array([[*AT, 2.0]]))[0]
    mm_px = FOCAL_PX / 88.0
    radius = 0.5 * ring_mm * mm_px
    ring = Ring(middle, np.array([radius, 0.0, 0.0, 0.0, 0.0]), np.zeros((0, 2)), 0.3, 1.0)
    return rgb, ring, mm_px


def seen(drawing, parts: list, ring_mm: float) -> tuple[Ring, float, float]:
    """Return the ring found from one of a diameter, that one's radius and [px] for a mm."""
    rgb, ring, mm_px = drawn(drawing, parts, ring_mm)
    return widened(rgb, ring), ring.radius_px, mm_px


def test_a_coin_of_two_metals_goes_on_to_where_the_table_begins(drawing):
    """Its core and the band around it are clear, its border is nearly of the table's colour."""
    ink = [(disc((3.0 + 14.0 * np.cos(t), -2.0 + 14.0 * np.sin(t)), 5.0), 0.0, INK) for t in (1, 3)]
    face = [(disc(AT, d), 2.0, c) for d, c in ((21.2, GREY), (15.4, PALE), (12.2, COPPER))]
    ring, radius, mm_px = seen(drawing, [*ink, *face], 15.4)
    assert radius < 0.75 * ring.radius_px
    assert ring.radius_px == pytest.approx(10.6 * mm_px, rel=0.01)


def test_what_lies_beside_a_coin_is_no_part_of_it(drawing):
    """A soft shadow all round, a larger disc that shares no middle, and its neighbour's print."""
    shades = [(disc(AT, 24.0 + 0.8 * k), 0.0, (150 + 4 * k,) * 3) for k in range(15, -1, -1)]
    plate = (disc((5.2, -1.0), 33.0), 0.0, (180, 186, 200))
    coin = [(disc(AT, 21.2), 2.0, COPPER), (disc((18.0, 4.0), 7.0), 0.0, INK)]
    for table in ([plate], shades):
        ring, radius, _ = seen(drawing, [*table, *coin], 21.2)
        assert ring.radius_px == radius


CORE_MM, WHOLE_MM, GOLD, FAINT = 15.4, 21.2, (206, 176, 110), (204, 209, 204)


def whole(drawing, kind: str, border: bool):
    """Return what is taken for a coin's rim where its core was found, over its radius, and doubt.

    Its border is hardly darker than the table.
    """
    parts = [(disc(AT, WHOLE_MM), 2.0, FAINT)] if border else []
    rgb, ring, _ = drawn(drawing, [*parts, (disc(AT, CORE_MM), 2.0, GOLD)], CORE_MM)
    assert widened(rgb, ring) is ring  # it is seen too badly to be found without knowing the coin
    view = view_of(Photo(rgb, "0421", "core", None))
    rim, unsure = whole_rim(view, ring, named(kind))
    return rim.radius_px / ring.radius_px, unsure


def test_the_core_of_a_coin_of_two_metals_is_not_taken_for_it(drawing):
    """Of the wrong one of its two metals alone no such coin is made."""
    ratio, unsure = whole(drawing, "coin:EUR-2", border=True)
    assert ratio == pytest.approx(WHOLE_MM / CORE_MM, rel=0.01)
    assert not unsure


def test_a_rim_is_in_doubt_where_the_coin_may_go_on(drawing):
    """Of one metal it may have a larger rim; of two it shows one where none is seen around it."""
    assert whole(drawing, "coin:USD-0.25", border=True) == (1.0, True)
    assert whole(drawing, "coin:USD-0.25", border=False) == (1.0, False)
    assert whole(drawing, "coin:EUR-2", border=False) == (1.0, True)
