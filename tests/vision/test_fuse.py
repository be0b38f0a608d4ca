"""Photos of one spring: what is shared stays in the band, what is not averages away."""

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest

from mechanics.ends import Ends
from mechanics.geometry import SpringGeometry
from vision.fuse import IN_COMMON, fuse
from vision.measure import Measurement
from vision.refusal import Refusal
from vision.shared import SharedError

TRUTH = np.array([1.2, 12.0, 9.25, 40.0])
OWN = np.array([0.012, 0.03, 0.08, 0.15])
SCALE = 0.001 * TRUTH * [1, 1, 0, 1]


def photo(values, u=OWN, scale=SCALE, ends=Ends.CLOSED, **more):
    cov = np.diag(u**2) + np.outer(scale, scale)
    fields = {
        "kind": "compression",
        "hand": "right",
        "scale": None,
        "outline_px": (),
        "axis_px": np.zeros((2, 2)),
        "taper": None,
        "wire_px": 20.0,
        "flags": (),
        "timings_ms": MappingProxyType({}),
        "shared": (SharedError("card: card size (0)", scale),),
    }
    return Measurement(geometry=SpringGeometry(values, cov, ends), **{**fields, **more})


def drawn(rng, count, u=OWN):
    """Photos whose errors have the parts that `fuse` supposes."""
    size = SCALE * rng.standard_normal()
    alike = u * IN_COMMON**0.5 * rng.standard_normal(4)
    own = [u * (1.0 - IN_COMMON) ** 0.5 * rng.standard_normal(4) for _ in range(count)]
    return [photo(TRUTH + size + alike + one, u) for one in own]


def test_the_claimed_error_is_the_actual_error():
    """Rms over 400 sets of four photos against the mean claimed u, for every dimension."""
    rng, z = np.random.default_rng(5), []
    for _ in range(400):
        found = fuse(drawn(rng, 4))
        u = np.sqrt(np.diag(found.geometry.covariance))
        z.append((found.geometry.values - TRUTH) / u)
    assert np.sqrt(np.mean(np.square(z), axis=0)) == pytest.approx(np.ones(4), abs=0.12)


@pytest.mark.parametrize("count", [2, 4, 9])
def test_shared_parts_do_not_average_away(count):
    """Of the variance apart from the card's, s + (1 - s)/k is left; of the card's all of it."""
    found = fuse([photo(TRUTH)] * count)
    left = OWN**2 * (IN_COMMON + (1.0 - IN_COMMON) / count) + SCALE**2
    assert np.diag(found.geometry.covariance) == pytest.approx(left, rel=0.01)


def test_other_references_average_away():
    """A card and a coin err each by itself: half of the size's variance is left."""
    coin = photo(TRUTH, shared=(SharedError("coin:EUR-1: coin size (0)", SCALE),))
    both = fuse([photo(TRUTH), coin]).geometry.covariance
    same = fuse([photo(TRUTH)] * 2).geometry.covariance
    assert same[3, 3] - both[3, 3] == pytest.approx(0.5 * SCALE[3] ** 2, rel=0.05)


def test_a_sharper_photo_counts_for_more():
    near, far = photo(TRUTH, 0.2 * OWN), photo(TRUTH + 1.5 * OWN)
    found = fuse([near, far]).geometry.values
    assert (np.abs(found - TRUTH) < 0.1 * OWN).all()


def test_sound_photos_are_seldom_questioned():
    rng = np.random.default_rng(8)
    questioned = sum(bool(fuse(drawn(rng, 3)).flags) for _ in range(300))
    assert questioned / 300 < 0.02


def test_photos_that_disagree_are_said_and_the_band_holds_them():
    turns = np.array([0.0, 0.0, 1.0, 0.0])
    found = fuse([photo(TRUTH), photo(TRUTH + turns)])
    assert "photos-disagree" in found.flags
    assert found.chance < 0.005
    assert found.difference.startswith("total coils: 9.25, 10.25")
    u = np.sqrt(found.geometry.covariance[2, 2])
    assert abs(found.geometry.values[2] - TRUTH[2]) < 2.5 * u


def test_one_photo_of_another_spring_is_left_out_by_name():
    others = [photo(TRUTH + k * 0.3 * OWN) for k in (-1, 0, 1)]
    found = fuse([*others[:2], photo(TRUTH * [1.3, 1, 1, 1]), others[2]])
    assert found.left_out == (2,)
    assert found.used == (0, 1, 3)
    assert "photo-left-out" in found.flags
    assert found.geometry.values == pytest.approx(TRUTH, rel=0.01)


def test_as_many_are_left_out_as_leave_most_of_them():
    """Of five two that differ from the others and from each other; of four only one."""
    others = [photo(TRUTH + k * 0.3 * OWN) for k in (-1, 0, 1)]
    thick, long = photo(TRUTH * [1.3, 1, 1, 1]), photo(TRUTH * [1, 1, 1, 1.2])
    found = fuse([others[0], thick, *others[1:], long])
    assert (found.used, found.left_out) == ((0, 2, 3), (1, 4))
    assert found.geometry.values == pytest.approx(TRUTH, rel=0.01)
    split = fuse([*others[:2], thick, long])
    assert split.left_out == ()
    assert "photos-disagree" in split.flags
    assert split.farthest == 3  # its length by 53 u, the other one's wire by 30


def test_ends_hand_and_flags_are_those_of_most():
    ground = Ends.CLOSED_GROUND
    three = [
        photo(TRUTH, ends=Ends.UNKNOWN, hand="unknown", flags=("tilted", "glare")),
        photo(TRUTH, ends=ground, hand="left", flags=("tilted",)),
        photo(TRUTH, ends=ground, hand="left", flags=("tilted", "blurred")),
    ]
    found = fuse(three)
    assert (found.geometry.ends, found.hand, found.flags) == (ground, "left", ("tilted",))
    split = fuse([*three, photo(TRUTH, ends=Ends.OPEN, hand="right")])
    assert {"ends-differ", "hand-differs"} <= set(split.flags)


def test_cones_keep_their_small_end():
    cone = photo(TRUTH, kind="conical", taper=0.6)
    cone = replace(
        cone, geometry=replace(cone.geometry, small_end_ratio=0.6, u_small_end_ratio=0.01)
    )
    found = fuse([cone, cone])
    assert found.kind == "conical"
    assert found.geometry.small_end_ratio == pytest.approx(0.6)
    assert 0.005 < found.geometry.u_small_end_ratio < 0.01


def test_what_cannot_be_fused_is_refused():
    assert isinstance(fuse([photo(TRUTH)]), Refusal)
    assert "proportions" in fuse([photo(TRUTH), photo(TRUTH, shared=())]).message
