from dataclasses import replace

import numpy as np
import pytest

import vision.spring_fit as spring_fit
import vision.turns as turns
import vision.turns_apart as turns_apart
from tests.vision import made
from vision.camera import DoubtedCamera
from vision.close_wound import nearly_touching
from vision.fitted import FittedSpring, free_length_mm, overlap_of, wire_px
from vision.geometry import geometry_of
from vision.helix import End
from vision.map_view import MapView
from vision.refusal import Refusal
from vision.solid import solid_part
from vision.spring_fit import fit_spring, is_spring

CAMERA = DoubtedCamera.of(made.camera())


def fitted(spring, tilt=0.0, seed=3) -> FittedSpring:
    seen_by = made.camera(tilt)
    found = fit_spring(
        made.view(spring, seen_by, np.random.default_rng(seed)), DoubtedCamera.of(seen_by)
    )
    assert isinstance(found, FittedSpring)
    return found


@pytest.fixture(scope="module")
def plain() -> FittedSpring:
    """The plain spring, fitted once for all that look at it."""
    return fitted(made.helix())


@pytest.mark.parametrize("hand", [1, -1])
@pytest.mark.parametrize("tilt", [0.0, 18.0])
def test_an_open_spring_comes_back(hand, tilt):
    spring = made.helix(hand)
    found = fitted(spring, tilt)
    helix = found.helix
    assert helix.hand == hand
    assert helix.wire_mm == pytest.approx(1.2, rel=0.01)
    assert helix.radius_mm == pytest.approx(5.5, rel=0.003)
    assert helix.turns == pytest.approx(8.3, abs=0.08)
    assert np.exp(helix["log_pitch"]) == pytest.approx(3.7, rel=0.003)
    assert free_length_mm(helix) == pytest.approx(free_length_mm(spring), abs=0.2)


@pytest.mark.parametrize(("plain_from", "fits"), [(turns_apart.PLAIN_HAND, 1), (1e3, 2)])
def test_a_hand_that_is_plainly_wrong_is_fitted_roughly(monkeypatch, plain_from, fits):
    fitted_on, times = turns_apart.fitted_on, []
    monkeypatch.setattr(turns_apart, "PLAIN_HAND", plain_from)
    monkeypatch.setattr(
        turns_apart, "fitted_on", lambda *given: times.append(1) or fitted_on(*given)
    )
    found = fitted(made.helix())
    assert len(times) == fits
    assert found.helix.hand == 1
    assert found.hand_odds > turns_apart.PLAIN_HAND or plain_from > 100.0
    assert found.helix.turns == pytest.approx(8.3, abs=0.08)


def test_closed_ends_are_told_from_open_ones():
    spring = made.helix(ends=(End.CLOSED, End.CLOSED))
    found = fitted(spring, 5.0)
    assert End.OPEN not in found.helix.ends
    assert found.helix.turns == pytest.approx(8.3, abs=0.15)


def test_of_ends_that_explain_as_much_those_with_one_dead_turn_are_likelier(monkeypatch):
    """Common practice, no source: a closed end has one dead turn."""
    spring, camera = made.helix(ends=(End.CLOSED, End.CLOSED)), made.camera(6.0)
    view = made.view(spring, camera, np.random.default_rng(1))
    found = fit_spring(view, DoubtedCamera.of(camera))
    assert isinstance(found, FittedSpring)
    keep = np.ones(view.maps.shape[1:], dtype=bool)
    monkeypatch.setattr(turns, "faces_apart", lambda *_: 0.1)
    one, more = (
        turns._misfit_of_ends(replace(found, helix=found.helix.with_values(dead_start=d)), keep)
        for d in (1.0, 1.3)
    )
    assert more - one == pytest.approx(0.27, abs=0.01)


def test_odds_on_other_ends_widen_the_length(plain):
    widths = [
        geometry_of(replace(plain, ends_margin=margin)).covariance[3, 3] ** 0.5
        for margin in (1.5, 0.4, 0.0)
    ]
    assert widths[0] < widths[1] < widths[2]
    # Even odds: half a wire each way.
    half_a_wire = 0.5 * plain.helix.wire_mm
    assert np.sqrt(widths[2] ** 2 - widths[0] ** 2) == pytest.approx(half_a_wire, rel=0.05)


def test_tips_that_lie_against_a_turn_are_less_sure(plain):
    """And where turns nearly touch a tip may be any of a quarter of them."""
    ends = ((End.OPEN, End.OPEN), (End.OPEN, End.CLOSED), (End.CLOSED, End.CLOSED))
    helices = [replace(plain.helix, ends=pair) for pair in ends]
    helices.append(helices[0].with_values(log_wire=np.log(0.45) + plain.helix["log_pitch"]))
    unsure = [geometry_of(replace(plain, helix=helix)).covariance[2, 2] ** 0.5 for helix in helices]
    assert unsure[0] < unsure[1] < unsure[2] < 0.15
    assert unsure[3] > 0.25


def test_turns_out_of_view_explain_nothing(plain):
    """A view holds all the wire there is: turns that lie out of it have none to explain."""
    along = np.nonzero((plain.view.maps[0] > 0.5).any(axis=0))[0]
    view = replace(
        plain.view,
        maps=plain.view.maps[:, :, : along[-1] + 2],
        picture=None,
    )
    helix, keep = plain.helix, np.ones(view.maps.shape[1:], dtype=bool)
    longer = helix.with_values(stop=helix["stop"] + 0.5 * helix.turns)
    whole, more = (overlap_of(one, plain.camera, view, keep) for one in (helix, longer))
    assert whole > 0.9
    assert more < 0.72 * whole


def test_a_spring_is_seen_anew_through_another_camera():
    """From what it was through one camera, as from nothing through the other."""
    spring, camera = made.helix(ends=(End.CLOSED, End.CLOSED)), made.camera(14.0)
    view = made.view(spring, camera, np.random.default_rng(1))
    thought = DoubtedCamera.of(made.camera(8.0), [made.camera(11.0)])
    before = fit_spring(view, thought)
    assert isinstance(before, FittedSpring)
    there = DoubtedCamera.of(camera)
    again, anew = turns.seen_anew(before, there), fit_spring(view, there)
    assert isinstance(anew, FittedSpring)
    assert again.helix.turns == pytest.approx(anew.helix.turns, abs=0.03)
    for name in ("log_radius", "log_wire", "log_pitch"):
        assert again.helix[name] == pytest.approx(anew.helix[name], abs=0.003)
    assert again.overlap > before.overlap - 0.01


@pytest.mark.parametrize("tilt", [8.0, 20.0])
def test_a_coil_twice_as_wide_as_long_lies_along_its_shorter_side(tilt):
    """Along its longer side it shows no row of strands, so it is sought across as well."""
    wire = float(np.log(1.06))
    values = {"log_pitch_start": wire, "log_pitch_stop": wire, "start": -1.0, "stop": 3.0}
    size = {"log_radius": np.log(7.25), "log_wire": np.log(0.53), "log_pitch": np.log(2.5)}
    helix = fitted(made.helix(ends=(End.CLOSED, End.CLOSED), **values, **size), tilt).helix
    assert helix.turns == pytest.approx(4.0, abs=0.05)
    assert helix.radius_mm == pytest.approx(7.25, rel=0.01)
    assert helix.wire_mm == pytest.approx(1.06, rel=0.03)


@pytest.mark.parametrize("taper", [0.08, 0.3])
def test_a_cone_keeps_its_taper(taper):
    spring = made.helix(taper=-taper)
    helix = fitted(spring).helix
    # The axis may be walked the other way, and the taper is told over a span of its own.
    assert abs(helix["taper"]) / helix.span == pytest.approx(taper / spring.span, rel=0.05)


def test_parallel_flanks_are_not_tried_as_a_cones(monkeypatch):
    monkeypatch.setattr(turns_apart, "cone_if_plain", lambda *of: pytest.fail("tried"))
    helix = fitted(made.helix(), 4.0).helix
    assert helix["taper"] == pytest.approx(0.0, abs=1e-3)
    assert helix.turns == pytest.approx(8.3, abs=0.05)


def test_a_slant_in_doubt_makes_no_cone_of_a_cylinder():
    spring = made.helix()
    view = made.view(spring, made.camera(12.0), np.random.default_rng(3))
    believed = made.camera(8.0)
    found = fit_spring(view, DoubtedCamera.of(believed, [made.camera(12.0)]))
    assert isinstance(found, FittedSpring)
    assert found.helix["taper"] == pytest.approx(0.0, abs=1e-3)
    assert found.camera.tilt_deg == pytest.approx(12.0, abs=1.5)
    assert found.helix.radius_mm == pytest.approx(5.5, rel=0.01)


@pytest.mark.parametrize("hand", [1, -1])
def test_turns_that_touch_are_counted_by_their_spacing(hand):
    spring = made.helix(hand, log_pitch=np.log(1.205), start=-8.0, stop=14.0)
    found = fitted(spring, 4.0)
    assert found.touching
    assert found.helix.hand == hand
    assert np.exp(found.helix["log_pitch"]) == pytest.approx(1.205, rel=0.01)
    assert found.helix.turns == pytest.approx(22.0, abs=0.6)
    assert found.helix.radius_mm == pytest.approx(5.5, rel=0.01)


def test_a_cone_of_turns_that_nearly_touch_is_no_bar():
    """A bar lies far off its outline: as one its wire came out 15 % too wide."""
    spring = made.helix(log_pitch=np.log(1.4), taper=0.1, start=-4.2, stop=9.0)
    found = fitted(spring)
    helix = found.helix
    assert not found.touching
    assert abs(helix["taper"]) / helix.span == pytest.approx(0.1 / spring.span, rel=0.1)
    assert helix.turns == pytest.approx(13.2, abs=0.1)
    assert helix.wire_mm == pytest.approx(1.2, rel=0.05)


def test_of_a_bar_and_turns_apart_the_one_that_follows_the_outline_is_kept(monkeypatch):
    """Both may cover the map alike."""
    view = made.view(
        made.helix(log_pitch=np.log(1.21), start=-8.0, stop=14.0),
        made.camera(),
        np.random.default_rng(3),
    )
    bar = fit_spring(view, CAMERA)
    assert isinstance(bar, FittedSpring)
    loose = replace(bar, fit=replace(bar.fit, rms_px=0.2 * wire_px(bar)))
    apart = replace(bar, touching=False)
    monkeypatch.setattr(spring_fit, "close_wound", lambda *given: loose)
    monkeypatch.setattr(spring_fit, "turns_apart", lambda *given: apart)
    monkeypatch.setattr(spring_fit, "hook_goes_on", lambda found: True)
    assert fit_spring(view, CAMERA) is apart
    monkeypatch.setattr(spring_fit, "close_wound", lambda *given: bar)
    assert fit_spring(view, CAMERA) is bar
    # However well it follows the outline, no wire is wound closer than it is thick.
    thick = apart.helix.with_values(log_radius=np.log(0.4 * apart.helix.wire_mm))
    apart = replace(apart, helix=thick)
    monkeypatch.setattr(spring_fit, "close_wound", lambda *given: loose)
    monkeypatch.setattr(spring_fit, "_suits", lambda found, keep: float(found is apart))
    assert fit_spring(view, CAMERA) is loose


def test_a_bar_that_was_taken_too_wide_is_held_by_its_own_flanks(monkeypatch):
    """Within a bar every point lies near some turn, so nothing pulls its flanks in."""
    view = made.view(
        made.helix(log_pitch=np.log(1.21), start=-8.0, stop=14.0),
        made.camera(),
        np.random.default_rng(3),
    )
    right = spring_fit._bar_body

    def too_wide(*given):
        body = right(*given)
        return replace(body, width=1.13 * body.width)

    monkeypatch.setattr(spring_fit, "_bar_body", too_wide)
    found = fit_spring(view, CAMERA)
    assert isinstance(found, FittedSpring)
    assert found.touching
    assert found.helix.radius_mm == pytest.approx(5.5, rel=0.01)


def test_stripes_are_no_turns_to_be_drawn_one_by_one(monkeypatch):
    """Each of very many takes long, and a refusal shall not take half a minute."""
    monkeypatch.setattr(spring_fit, "MOST_TURNS", 10.0)
    monkeypatch.setattr(spring_fit, "nearly_touching", None)
    found = fitted(made.helix(log_pitch=np.log(1.4), taper=0.1, start=-4.2, stop=9.0))
    assert found.touching


def test_a_bar_too_short_for_turns_that_stand_apart_stays_one():
    bar = fitted(made.helix(log_pitch=np.log(1.205), start=-8.0, stop=14.0))
    short = replace(bar, helix=bar.helix.with_values(start=0.0, stop=0.05))
    assert nearly_touching(short, CAMERA) is short


def test_a_bowed_spring_is_followed():
    found = fitted(made.helix(bow=0.12), 6.0)
    assert abs(found.helix["bow"]) > 0.05
    assert found.helix.wire_mm == pytest.approx(1.2, rel=0.01)
    assert found.helix.radius_mm == pytest.approx(5.5, rel=0.005)


def test_one_turn_is_no_spring_however_well_it_covers_the_map(plain):
    assert is_spring(plain)
    one = plain.helix.with_values(stop=plain.helix["start"] + 1.0)
    assert not is_spring(replace(plain, helix=one))
    assert not is_spring(replace(plain, overlap=0.5))


def test_the_rougher_a_fit_the_wider_its_bands(plain):
    told = [geometry_of(replace(plain, overlap=overlap)) for overlap in (0.9, 0.81, 0.77, 0.7)]
    fair, near, rough, roughest = (np.sqrt(np.diag(one.covariance)) for one in told)
    assert near == pytest.approx(fair)
    assert (rough > 2.0 * fair).all()
    assert (roughest > 2.0 * rough).all()
    assert roughest[0] / told[-1].values[0] == pytest.approx(0.06, abs=0.003)


def test_nothing_is_no_spring():
    blank = MapView(np.zeros((3, 200, 200), np.float32), np.zeros(2), 1.0)
    answer = fit_spring(blank, DoubtedCamera.of(made.camera()))
    assert isinstance(answer, Refusal)
    assert answer.reason == "no-spring"


def test_a_lone_straight_wire_is_no_spring():
    maps = np.zeros((3, 200, 400), np.float32)
    maps[:, 90:110, 20:380] = 1.0
    answer = fit_spring(
        MapView(maps, np.array([800.0, 650.0]), 1.0), DoubtedCamera.of(made.camera())
    )
    assert isinstance(answer, Refusal) or answer.overlap < 0.62


@pytest.mark.parametrize("tilt", [0.0, 8.0, 14.0])
def test_turns_that_touch_are_counted_however_the_camera_slants(tilt):
    """The outline of a slanted bar holds the face of one end, which is no turn."""
    spring = replace(
        made.helix(start=-8.0, stop=14.4, log_pitch=np.log(1.206), heading=np.pi / 2),
        span=22.4,
    )
    seen_by = made.camera(tilt)
    view = made.view(spring, seen_by, np.random.default_rng(4))
    found = fit_spring(view, DoubtedCamera.of(seen_by))
    assert found.touching
    assert found.helix.turns == pytest.approx(22.4, abs=0.6)
    assert found.helix.radius_mm == pytest.approx(5.5, rel=0.02)


def test_a_slant_far_off_is_found_by_drawing():
    """A coin may leave the slant open by more than a wire between the coil's top and bottom."""
    spring = made.helix(heading=1.3, log_pitch=np.log(2.1))
    view = made.view(spring, made.camera(14.0), np.random.default_rng(5))
    believed = DoubtedCamera.of(made.camera(0.0), [made.camera(12.0)])
    found = fit_spring(view, believed)
    assert isinstance(found, FittedSpring)
    assert found.overlap > 0.85
    assert found.helix.turns == pytest.approx(8.3, abs=0.3)
    assert found.helix.radius_mm == pytest.approx(5.5, rel=0.01)
    assert found.camera.tilt_deg == pytest.approx(14.0, abs=1.0)


def test_a_cone_of_few_turns_comes_back():
    spring = replace(
        made.helix(taper=0.3, start=0.2, stop=3.2, log_pitch=np.log(5.0)), span=3.0, anchor=1.7
    )
    found = fitted(spring, 12.0)
    assert found.overlap > 0.9
    assert found.helix.turns == pytest.approx(3.0, abs=0.1)
    assert abs(found.helix["taper"]) / found.helix.span == pytest.approx(0.1, rel=0.15)


@pytest.mark.parametrize("start", [-0.09, 0.3])
def test_a_strong_cone_of_few_turns_with_closed_ends_comes_back(start):
    """As a cylinder it looks like a coil of the other hand: both hands are bettered, as cones."""
    told = {"log_radius": np.log(9.5), "log_wire": np.log(0.9), "log_pitch": np.log(8.0)}
    dead = {"log_pitch_start": np.log(1.8), "log_pitch_stop": np.log(1.8)}
    cone = made.helix(
        -1, (End.CLOSED, End.CLOSED), taper=0.8, start=start, stop=start + 3.75, **told, **dead
    )
    found = fitted(replace(cone, span=3.75, anchor=start + 1.875), 12.0)
    assert found.overlap > 0.9
    assert found.helix.hand == -1
    assert found.helix.turns == pytest.approx(3.75, abs=0.15)
    assert found.helix.wire_mm == pytest.approx(1.8, rel=0.03)


def test_turns_that_touch_may_lie_across_their_longer_side():
    spring = replace(
        made.helix(start=0.0, stop=6.0, log_pitch=np.log(1.206), log_radius=np.log(9.0)),
        span=6.0,
    )
    found = fitted(spring)
    assert found.touching
    assert found.helix.turns == pytest.approx(6.0, abs=0.6)
    assert found.helix.radius_mm == pytest.approx(9.0, rel=0.03)


def test_what_lies_near_a_solid_body_is_no_part_of_it():
    """Neither a hook seen from its side, nor another body joined to it by a wire."""
    maps = np.zeros((3, 400, 900), np.float32)
    maps[:, 100:300, 300:600] = 1.0  # the body
    maps[:, 160:240, 600:700] = 1.0  # a hook
    maps[:, 195:205, 100:300] = 1.0  # a wire
    maps[:, 150:250, 20:120] = 1.0  # another body
    for edge in range(310, 600, 20):
        maps[2, 100:300, edge] = 0.0  # where one turn ends and the next begins
    view = MapView(maps, np.zeros(2), 1.0)
    solid = solid_part(view, np.ones((400, 900), dtype=bool))
    assert solid is not None
    x = np.nonzero(solid.any(axis=0))[0]
    assert x[0] == pytest.approx(300, abs=8)
    assert x[-1] == pytest.approx(600, abs=8)


def test_the_tips_of_a_few_steep_turns_are_not_cut_off():
    """They are longest askew to their axis, and a band along that would leave a tip out."""
    values = {"log_radius": np.log(8.5), "log_wire": np.log(0.95), "log_pitch": np.log(9.93)}
    spring = made.helix(start=0.1, stop=3.35, heading=0.2, **values)
    spring = replace(spring, anchor=1.5, span=3.0)
    found = fitted(spring, 13.0)
    assert found.helix.turns == pytest.approx(3.25, abs=0.1)
    assert free_length_mm(found.helix) == pytest.approx(free_length_mm(spring), rel=0.02)


@pytest.mark.parametrize("heading", [0.0, 0.4, 0.8, 2.2])
def test_a_solid_body_keeps_its_corners_and_flanks_however_it_lies(heading):
    """A square that opened it askew would cut them off, and with them a part of the last turns."""
    spring = made.helix(heading=heading, log_pitch=np.log(1.22), start=-3.1, stop=9.2)
    view = made.view(spring, made.camera(), np.random.default_rng(0), 0.0)
    wire = view.maps[0] > 0.5
    solid = solid_part(view, np.ones(wire.shape, dtype=bool))
    assert solid is not None
    assert (solid & wire).sum() > 0.99 * wire.sum()


def test_a_short_body_between_leaning_hooks_keeps_its_corners():
    """With stubs of its hooks it is longest askew, and was cut off across that."""
    maps = np.zeros((3, 700, 700), np.float32)
    maps[:2, 250:450, 240:470] = 1.0
    for top in range(252, 450, 20):
        maps[2, top : top + 16, 240:470] = 1.0
    maps[:, 200:250, 240:310] = 1.0  # the bends of the hooks, across from each other
    maps[:, 450:500, 400:470] = 1.0
    solid = solid_part(MapView(maps, np.zeros(2), 1.0), np.ones((700, 700), dtype=bool))
    assert solid is not None
    assert solid[255:445, 245:465].mean() > 0.99


@pytest.mark.parametrize(("hand", "start"), [(1, 0.1), (-1, 0.35), (1, 0.6)])
def test_two_dead_turns_and_hardly_one_between_are_found(hand, start):
    """A guess may be half a turn off, and no tip lies beyond the dead turns that it has."""
    spring = replace(
        made.helix(
            hand,
            (End.CLOSED, End.CLOSED),
            start=start,
            stop=start + 2.75,
            heading=0.8,
            log_pitch=np.log(5.6),
        ),
        span=3.0,
        anchor=start + 1.375,
    )
    found = fitted(spring, 8.0)
    assert found.helix.turns == pytest.approx(2.75, abs=0.15)
    assert 2.0 * found.helix.radius_mm == pytest.approx(11.0, rel=0.01)
    assert free_length_mm(found.helix) == pytest.approx(free_length_mm(spring), rel=0.02)
    assert found.helix.hand == hand
