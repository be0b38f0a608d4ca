"""The end reader's network: rendered photos with their truth, and drawn views of known ends."""

import json
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from tests.vision import made
from vision import turns, turns_apart
from vision.camera import DoubtedCamera
from vision.end_reader import ACROSS, ALONG, ASIDE, REACH, EndRead, pairs_read, places_mm, read_ends
from vision.fitted import FittedSpring, beyond_faces, faces_along
from vision.geometry import dimensions
from vision.helix import End, frame
from vision.measure import measure
from vision.photo import read
from vision.spring_fit import fit_spring

PICTURES = Path(__file__).parents[2] / "fixtures" / "pictures"
OPEN, CLOSED, GROUND = End.OPEN, End.CLOSED, End.GROUND


def said(**odds: float) -> EndRead:
    return EndRead({end: odds.get(end.name.lower(), 0.0) for end in End}, np.zeros(2), 0.1)


def test_the_file_is_small():
    assert len((files("vision") / "data" / "end-reader.onnx").read_bytes()) < 1_000_000


def test_an_end_is_sampled_outwards_and_across_by_its_width():
    face, ways = np.array([3.0, -2.0, 5.0]), np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0]])
    places = places_mm(face, ways, 8.0)
    assert places.shape == (ACROSS, ALONG, 3)
    reach = (places - face) / 8.0
    assert reach @ ways[0] == pytest.approx(np.tile(np.linspace(*REACH, ALONG), (ACROSS, 1)))
    assert (reach @ ways[1])[[0, -1]].T == pytest.approx(np.tile([-ASIDE, ASIDE], (ALONG, 1)))


def test_both_ends_tell_together():
    """Makers treat both alike, and a cut leaves one open: common practice, no source."""
    pairs = pairs_read((said(closed=0.58, ground=0.42), said(open=0.01, closed=0.03, ground=0.96)))
    assert max(pairs, key=pairs.__getitem__) == (GROUND, GROUND)
    assert (CLOSED, GROUND) not in pairs
    cut = pairs_read((said(open=0.98, closed=0.02), said(closed=0.99, open=0.01)))
    assert max(cut, key=cut.__getitem__) == (OPEN, CLOSED)
    for told in (pairs, cut, pairs_read(None)):
        assert sum(told.values()) == pytest.approx(1.0)
    assert len(set(pairs_read(None).values())) == 1


@pytest.fixture(scope="module")
def seen() -> dict[str, FittedSpring]:
    """Springs as they were fitted in committed pictures."""
    found: dict[str, FittedSpring] = {}
    with pytest.MonkeyPatch.context() as patch:
        for name, beside in (("sample", "card"), ("scene-3000000", "coin:EUR-2")):

            def kept(*given, name=name):
                found[name] = turns.with_ends(*given)
                return found[name]

            patch.setattr(turns_apart, "with_ends", kept)
            measure(read(PICTURES / f"{name}.jpg"), beside)
    return found


@pytest.mark.parametrize("name", ["sample", "scene-3000000"])
def test_ends_of_rendered_springs_are_read(seen, name):
    truth = json.loads((PICTURES / f"{name}.json").read_text())
    found = seen[name]
    assert found.ends_read is not None
    pairs = pairs_read(found.ends_read)
    assert pairs[End(truth["ends"]), End(truth["ends"])] > 0.8
    for beyond, one in zip(beyond_faces(found, found.ends_read), found.ends_read, strict=True):
        assert abs(beyond) < 0.3
        assert 0.0 < one.deviation < 0.4


def test_turned_end_for_end_the_same_is_read_of_each(seen):
    """The start of one helix is the stop of the same wire counted from its other end."""
    found = seen["sample"]
    wire = found.view.maps[0] > 0.5
    turned = found.helix.with_values(
        heading=found.helix["heading"] + np.pi, ramp=-found.helix["ramp"]
    )
    one, other = read_ends(found.helix, found.camera, found.view, wire)
    last, first = read_ends(turned, found.camera, found.view, wire)
    for a, b in ((one, first), (other, last)):
        assert a.odds[GROUND] == pytest.approx(b.odds[GROUND], abs=0.05)
        assert np.linalg.norm(a.face_px - b.face_px) < 2.0


@pytest.fixture(scope="module")
def closed() -> FittedSpring:
    """A drawn spring of closed ends, as it is fitted: 8.3 turns."""
    camera = made.camera(8.0)
    view = made.view(made.helix(ends=(CLOSED, CLOSED)), camera, np.random.default_rng(0))
    found = fit_spring(view, DoubtedCamera.of(camera))
    assert isinstance(found, FittedSpring)
    assert found.helix.ends == (CLOSED, CLOSED)
    return found


def read_beyond(found: FittedSpring, start: float, stop: float, deviation: float):
    """Return what was read of ends whose faces lie so many wires beyond those of the fit."""
    middle, axes = frame(found.helix)
    low, high = faces_along(found.helix)
    wire = found.helix.wire_mm
    at = middle + np.outer([low - start * wire, high + stop * wire], axes[0])
    odds = {OPEN: 0.02, CLOSED: 0.9, GROUND: 0.08}
    one, other = (EndRead(odds, px, deviation) for px in found.camera.project(at))
    return one, other


def test_a_face_that_was_read_plainly_beyond_gives_back_a_dead_turn(closed):
    """Dead turns rise by a wire each, so half a wire beyond is half a turn."""
    more = turns._put_back(closed, read_beyond(closed, 0.0, 0.5, 0.02)).helix
    assert more["stop"] - closed.helix["stop"] == pytest.approx(0.5, abs=0.05)
    assert more["dead_stop"] - closed.helix["dead_stop"] == pytest.approx(0.5, abs=0.05)
    assert more["start"] == closed.helix["start"]
    assert faces_along(more)[1] - faces_along(closed.helix)[1] == pytest.approx(
        0.5 * closed.helix.wire_mm, rel=0.15
    )


@pytest.mark.parametrize(
    ("beyond", "deviation"),
    [
        (0.1, 0.05),  # no plainer than faces usually differ
        (0.5, 0.3),  # nor than was claimed
        (-0.6, 0.02),  # a fit draws no wire where none is seen
        (3.0, 0.02),  # a hook, or wire of something else
    ],
)
def test_else_the_wire_ends_where_it_was_fitted(closed, beyond, deviation):
    same = turns._put_back(closed, read_beyond(closed, beyond, beyond, deviation))
    assert same.helix.values == pytest.approx(closed.helix.values)


@pytest.mark.parametrize("deviation", [0.01, 0.05, 0.2])
def test_the_length_lies_between_that_of_the_fit_and_that_which_was_read(closed, deviation):
    """The surer it was read, the nearer; what is read of both ends counts."""
    alone = dimensions(closed)[3]
    both = dimensions(replace(closed, ends_read=read_beyond(closed, 0.1, 0.1, deviation)))[3]
    share = (both - alone) / (0.2 * closed.helix.wire_mm)
    assert share == pytest.approx(0.1**2 / (0.1**2 + (1.9 * deviation) ** 2), rel=0.02)


def test_ends_that_were_read_unlikely_are_not_tried(monkeypatch, closed):
    """What was read is heeded as far as it is sure: surely ground, and nothing else is drawn."""
    tried = []
    find = turns.find_tips

    def noted(*given):
        tried.append(given[-1])
        return find(*given)

    monkeypatch.setattr(turns, "find_tips", noted)
    for ground, pairs in ((0.999, {(GROUND, GROUND)}), (0.6, {(GROUND, GROUND), (CLOSED, CLOSED)})):
        odds = {OPEN: 0.0, CLOSED: 1.0 - ground, GROUND: ground}
        said_both = tuple(replace(r, odds=odds) for r in read_beyond(closed, 0.0, 0.0, 0.05))
        monkeypatch.setattr(turns, "read_ends", lambda *_, said_both=said_both: said_both)
        picture = np.zeros((*closed.view.maps.shape[1:], 3), np.uint8)
        fit_spring(replace(closed.view, picture=picture), DoubtedCamera.of(closed.camera))
        assert set(tried[-1]) == pairs
