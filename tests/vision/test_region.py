"""Where the spring is looked for, and which looks are kept."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

import vision.region as region
from tests.vision import made
from vision.map_view import MapView
from vision.proposals import Box

RGB = np.zeros((600, 800, 3), np.uint8)


def test_a_long_spring_that_is_proposed_by_its_end_is_followed_to_the_other(monkeypatch):
    """It runs out of one patch after another."""
    long = region.Box(100.0, 280.0, 780.0, 320.0)

    def look(rgb, box, scale):
        size = (int((box.bottom - box.top) * scale), int((box.right - box.left) * scale))
        maps = np.zeros((3, *size), np.float32)
        low = [int((v - at) * scale) for v, at in ((long.left, box.left), (long.top, box.top))]
        high = [int((v - at) * scale) for v, at in ((long.right, box.left), (long.bottom, box.top))]
        maps[:, max(low[1], 0) : high[1], max(low[0], 0) : high[0]] = 1.0
        return MapView(maps, np.array([box.left, box.top]), scale)

    monkeypatch.setattr(region, "look", look)
    end = region.Sighting(Box(100.0, 280.0, 250.0, 320.0), np.array([[150.0, 300.0]]), 10.0, 1.0)
    assert region.settle(RGB, end).box.right == pytest.approx(780.0, abs=6.0)


@pytest.mark.parametrize(
    ("patch", "whole"),
    [
        (Box(90.0, 80.0, 310.0, 220.0), True),
        (Box(90.0, 80.0, 200.0, 220.0), False),  # wire runs out to the right
        (Box(100.0, 145.0, 300.0, 400.0), False),  # and upwards
    ],
)
def test_wire_with_table_all_around_it_is_looked_at_once(monkeypatch, patch, whole):
    looks = []

    def look(rgb, box, scale):
        looks.append(box)
        return made.pieces((Box(100.0, 100.0, 300.0, 200.0),), box, scale)

    monkeypatch.setattr(region, "look", look)
    monkeypatch.setattr(region, "patches", lambda rgb, outline, inside, most: [patch])
    sighting = next(region.sightings(RGB))
    assert sighting.whole is whole
    looks.clear()
    settled = region.settle(RGB, sighting)
    assert bool(looks) is not whole
    assert settled.box.middle == pytest.approx((200.0, 150.0), abs=3.0)


def test_wire_at_the_rim_of_the_photo_is_all_that_can_be_seen(monkeypatch):
    cut = (Box(0.0, 250.0, 240.0, 350.0),)
    monkeypatch.setattr(region, "look", lambda rgb, box, scale: made.pieces(cut, box, scale))
    monkeypatch.setattr(region, "patches", lambda rgb, outline, inside, most: list(cut))
    assert next(region.sightings(RGB)).whole


#: Where wire lies in a made photo: a broad piece and a small one, besides one on the reference.
PIECES = (Box(100.0, 100.0, 300.0, 200.0), Box(500.0, 400.0, 560.0, 460.0))
ON_REFERENCE = Box(650.0, 100.0, 700.0, 150.0)
REFERENCE = np.array([[600.0, 50.0], [780.0, 50.0], [780.0, 250.0], [600.0, 250.0]])


def photographed(rgb, box, scale, pieces=(*PIECES, ON_REFERENCE)):
    return made.pieces(pieces, box, scale)


def test_what_no_busy_part_holds_is_seen_in_the_whole_photo(monkeypatch):
    monkeypatch.setattr(region, "look", photographed)
    monkeypatch.setattr(region, "patches", lambda rgb, outline, inside, most: [PIECES[1]])
    boxes = [sighting.box for sighting in region.sightings(RGB, REFERENCE)]
    expected = (PIECES[1], PIECES[0], PIECES[1])
    for box, piece in zip(boxes, expected, strict=True):
        assert box.middle == pytest.approx(piece.middle, abs=2.0)
        assert box.long_side == pytest.approx(piece.long_side, abs=4.0)


def test_the_whole_photo_is_looked_at_only_where_more_is_asked_for(monkeypatch):
    seen = []

    def look(rgb, box, scale):
        seen.append(box.long_side)
        return photographed(rgb, box, scale)

    monkeypatch.setattr(region, "look", look)
    monkeypatch.setattr(region, "patches", lambda rgb, outline, inside, most: [PIECES[1]])
    sighted = region.sightings(RGB, REFERENCE)
    next(sighted)
    assert max(seen) < 200.0
    next(sighted)
    assert max(seen) == 800.0


@pytest.mark.parametrize("whole", [True, False])
def test_the_busiest_part_comes_first_if_all_of_its_wire_is_in_it(monkeypatch, whole):
    """Then no other is looked at unless it is asked for; each is told once."""
    looks = []

    def look(rgb, box, scale):
        looks.append(box)
        return photographed(rgb, box, scale)

    small, large = PIECES[1], PIECES[0]
    busiest = small if whole else replace(small, left=530.0)
    monkeypatch.setattr(region, "look", look)
    monkeypatch.setattr(region, "patches", lambda rgb, outline, inside, most: [busiest, large])
    sighted = region.sightings(RGB)
    first = next(sighted)
    assert first.box.middle[0] == pytest.approx((small if whole else large).middle[0], abs=2.0)
    assert len(looks) == (1 if whole else 2)
    second = next(sighted)
    assert second.box.middle[0] == pytest.approx(large.middle[0] if whole else 545.0, abs=12.0)


def test_less_busy_parts_are_looked_at_where_the_busiest_are_not_enough(monkeypatch):
    """Print on the table is busier than a small spring."""
    print_ = [Box(10.0 * k, 300.0, 10.0 * k + 40.0, 340.0) for k in range(region.MOST_PATCHES)]
    seen = []

    def look(rgb, box, scale):
        seen.append(box)
        return photographed(rgb, box, scale)

    monkeypatch.setattr(region, "look", look)
    monkeypatch.setattr(region, "patches", lambda rgb, o, i, most: [*print_, PIECES[0]][:most])
    sighting = next(region.sightings(RGB))
    assert sighting.box.middle == pytest.approx(PIECES[0].middle, abs=2.0)
    near = [box for box in seen if box.long_side < 800.0]
    assert len(near) == region.MOST_PATCHES + 1


def test_a_spring_of_which_the_busiest_parts_are_bits_is_seen_whole_before_crumbs(monkeypatch):
    """Its turns stand out one by one, and something small lies beside it."""
    turns = [Box(100.0 + 40.0 * k, 100.0, 132.0 + 40.0 * k, 220.0) for k in range(8)]
    crumb = Box(600.0, 500.0, 612.0, 506.0)

    def look(rgb, box, scale):
        return photographed(rgb, box, scale, (*turns, crumb))

    bits = [turns[3], crumb]
    monkeypatch.setattr(region, "look", look)
    monkeypatch.setattr(region, "patches", lambda rgb, o, i, most: bits)
    first, whole, *_, last = region.sightings(RGB)
    assert first.box.middle == pytest.approx(turns[3].middle, abs=20.0)
    assert whole.box.long_side == pytest.approx(turns[-1].right - turns[0].left, abs=4.0)
    assert last.box.middle == pytest.approx(crumb.middle, abs=4.0)


def test_of_a_patch_each_piece_of_wire_is_sighted_and_followed(monkeypatch):
    """A larger screw may lie beside the spring."""
    screw, spring = Box(100.0, 100.0, 300.0, 200.0), Box(316.0, 120.0, 376.0, 180.0)

    def look(rgb, box, scale):
        return photographed(rgb, box, scale, (screw, spring))

    monkeypatch.setattr(region, "look", look)
    both = Box(90.0, 90.0, 390.0, 210.0)
    monkeypatch.setattr(region, "patches", lambda rgb, outline, inside, most: [both])
    large, *others = region.sightings(RGB)
    (small,) = (sighting for sighting in others if sighting.beside)
    assert large.box.middle == pytest.approx(screw.middle, abs=4.0)
    assert not large.beside
    assert region.settle(RGB, small).box.middle == pytest.approx(spring.middle, abs=4.0)


def test_a_bar_that_lies_aslant_is_no_wire(monkeypatch):
    """Turns that touch run together in a small picture: the bar's own width tells the wire's."""
    wire = np.zeros((400, 600), np.uint8)
    cv2.line(wire, (100, 100), (500, 300), (1,), 60)
    view = MapView(np.stack([wire.astype(np.float32)] * 3), np.zeros(2), 1.0)
    told = region.largest(view, wire > 0)
    assert told.wire_px < 60.0 / 4.0 + 3.0


def test_on_a_sheet_only_what_lies_on_it_is_seen(monkeypatch):
    monkeypatch.setattr(region, "look", photographed)
    monkeypatch.setattr(region, "patches", lambda rgb, outline, inside, most: [])
    (sighting,) = region.sightings(RGB, REFERENCE, inside=True)
    assert sighting.box.middle == pytest.approx((675.0, 125.0), abs=2.0)


def test_the_same_wire_is_told_by_its_pixels():
    """A spring may lie within the box around a long comb that lies aslant."""
    view = photographed(RGB, Box(0.0, 0.0, 800.0, 600.0), 1.0)
    keep = np.zeros(view.maps.shape[1:], bool)
    keep[100:200, 100:300] = True
    one, other = (region.Sighting(piece, np.array([piece.middle]), 20.0, 1.0) for piece in PIECES)
    assert region.seen_in(view, keep, one)
    assert not region.seen_in(view, keep, other)
