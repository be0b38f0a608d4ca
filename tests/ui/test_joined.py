"""Several photos of one spring: what is said of them, and what stands in their table."""

from dataclasses import replace

import numpy as np
import pytest

from ui.joined import Further, photos_of, rows, sentences, verdict
from ui.measuring import Look
from ui.units import Units
from vision.refusal import Refusal


def further(seen, to_scale=True):
    return Further("0417", Look(seen, None, None, to_scale))


def with_values(measurement, values, covariance=None):
    geometry = measurement.geometry
    covariance = geometry.covariance if covariance is None else covariance
    return replace(measurement, geometry=replace(geometry, values=values, covariance=covariance))


def test_one_photo_is_believed_as_it_is(measurement):
    photos = photos_of(measurement, ())
    assert photos.seen is measurement
    assert sentences(photos) == []
    assert photos_of(None, ()).seen is None


def test_what_was_refused_or_has_no_scale_or_is_gone_does_not_count(measurement):
    refused = Further("1", Look(None, Refusal("no-spring", "view", "No.", "Look."), None))
    others = [refused, further(measurement, to_scale=False), Further("2", None)]
    photos = photos_of(measurement, others)
    assert photos.seen is measurement
    assert [verdict(photos, k) for k in (1, 2, 3, 4)] == ["counts", *["not measured"] * 3]


def test_the_spring_of_all_is_what_fusing_gives(measurement):
    wider = with_values(measurement, measurement.geometry.values * [1.0, 1.004, 1.0, 1.0])
    photos = photos_of(measurement, [further(wider)])
    assert photos.seen.geometry is photos.fused.geometry
    assert photos.seen.outline_px is measurement.outline_px
    assert photos.seen.flags == photos.fused.flags


def test_the_table_is_in_the_units_chosen(measurement):
    photos = photos_of(measurement, [further(measurement)])
    table = rows(photos, Units(length="in"))
    assert [row[0] for row in table] == ["photo 1", "photo 2", "**together**"]
    assert [float(cell) for cell in table[0][1:]] == pytest.approx(
        [1.2 / 25.4, 13.2 / 25.4, 9.25, 40.0 / 25.4], rel=0.01
    )


def test_a_mean_outside_all_photos_is_explained(measurement):
    """One photo tells wire and diameter hand in hand, the other the wire alone: it moves both."""
    values = np.array([1.2, 12.0, 9.25, 40.0])
    alone = np.diag([0.002, 0.2, 0.05, 0.1]) ** 2
    u = np.array([0.02, 0.2, 0.05, 0.1])
    hand_in_hand = np.eye(4)
    hand_in_hand[0, 1] = hand_in_hand[1, 0] = 0.99
    first = with_values(measurement, values, hand_in_hand * np.outer(u, u))
    second = with_values(measurement, values + np.array([0.015, 0.0, 0.0, 0.0]), alone)
    photos = photos_of(first, [further(second)])
    assert photos.fused.geometry.values[1] > 12.05
    (said,) = sentences(photos)
    assert said.startswith("Together the outside diameter lies outside what each photo says")
    same = photos_of(first, [further(first)])
    assert sentences(same) == []
