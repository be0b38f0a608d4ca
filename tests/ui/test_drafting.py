"""Drawings to scale: the wire runs where the dimensions say, and nothing is drawn off the sheet."""

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from mechanics.ends import Ends
from mechanics.materials import find_material
from ui.answer import answer_of
from ui.drafting.of_answer import plan_of
from ui.drafting.plan import plan
from ui.drafting.sheet import Stroke, Words, svg
from ui.drafting.wire import Form, pieces
from ui.units import Units

LABELS = {"length": "free length 40 mm", "outside": "outside 12 mm", "wire": "wire 1 mm"}
FORMS = {
    "closed and ground": Form("compression", 1.4, 11.6, 9.5, 33.5, Ends.CLOSED_GROUND, "right"),
    "open": Form("compression", 1.0, 10.0, 6.25, 40.0, Ends.OPEN, "left"),
    "closed": Form("compression", 2.0, 16.0, 5.5, 30.0, Ends.CLOSED),
    "cone": Form("conical", 1.5, 20.0, 6.0, 30.0, Ends.CLOSED, "right", 0.5),
    "extension": Form("extension", 1.2, 10.0, 20.25, 46.0, Ends.HOOKS, "right"),
    "torsion": Form("torsion", 1.5, 12.0, 5.25, 9.4, Ends.OPEN, "right", 1.0, (25.0, 18.0)),
}


@pytest.mark.parametrize("form", FORMS.values(), ids=FORMS)
def test_the_wire_is_as_long_and_as_wide_as_its_dimensions(form):
    line = np.vstack(pieces(form))
    half = [0.0 if flat else form.wire_mm / 2.0 for flat in form.ground]
    # A hook is drawn by points a few degrees apart.
    assert line[:, 0].min() - half[0] == pytest.approx(0.0, abs=0.03)
    assert line[:, 0].max() + half[1] == pytest.approx(form.length_mm, abs=0.03)
    if form.kind != "torsion":
        assert np.hypot(line[:, 1], line[:, 2]).max() == pytest.approx(form.mean_mm / 2.0)


@pytest.mark.parametrize(("hand", "sign"), [("right", 1.0), ("left", -1.0)])
def test_a_right_hand_spring_winds_like_a_common_screw(hand, sign):
    """ISO 2162-1 and the trade: turning clockwise, it moves away from whoever looks at it."""
    line = np.vstack(pieces(Form("compression", 1.0, 10.0, 6.0, 40.0, Ends.OPEN, hand)))
    angle = np.unwrap(np.arctan2(line[:, 2], line[:, 1]))
    assert sign * (angle[-1] - angle[0]) / (2.0 * np.pi) == pytest.approx(6.0)


def test_the_legs_are_as_long_as_said_and_square_to_the_axis():
    form = FORMS["torsion"]
    first, *_, last = pieces(form)
    for leg, long in ((first, 25.0), (last, 18.0)):
        assert np.linalg.norm(leg[-1] - leg[0]) == pytest.approx(long)
        assert np.ptp(leg[:, 0]) == pytest.approx(0.0, abs=1e-9)


def test_a_cone_narrows_to_its_small_end():
    line = np.vstack(pieces(FORMS["cone"]))
    assert np.hypot(*line[0, 1:]) == pytest.approx(10.0)
    assert np.hypot(*line[-1, 1:]) == pytest.approx(5.0)


@given(
    wire=some.floats(0.1, 8.0),
    index=some.floats(2.5, 25.0),
    coils=some.floats(1.0, 60.0),
    stretch=some.floats(1.02, 6.0),
    ends=some.sampled_from([Ends.OPEN, Ends.CLOSED, Ends.CLOSED_GROUND, Ends.UNKNOWN]),
    beside=some.booleans(),
)
@settings(max_examples=25, deadline=None)
def test_nothing_is_drawn_off_the_sheet_and_both_views_have_one_scale(
    wire, index, coils, stretch, ends, beside
):
    form = Form("compression", wire, wire * index, coils, wire * (coils + 1.5) * stretch, ends)
    sheet = plan(form, LABELS, 358.0, beside)
    for part in sheet.parts:
        if isinstance(part, Stroke):
            assert part.points.min() > -3.0
            assert (part.points.max(axis=0) < np.array(sheet.size) + 3.0).all()
    rules = [p.points for p in sheet.parts if isinstance(p, Stroke) and p.width == 0.8]
    level = [r for r in rules if len(r) == 2 and r[0, 1] == r[1, 1]]
    length, outside = (abs(r[1, 0] - r[0, 0]) for r in level[:2])
    assert length / outside == pytest.approx(form.length_mm / form.outside_mm)


def test_what_was_not_measured_is_not_written(seen):
    answer = answer_of(seen.geometry, find_material("music wire"))
    sheet = plan_of(answer, ("compression", "right"), Units(length="in"), 358.0)
    words = [part.text for part in sheet.parts if isinstance(part, Words)]
    assert "wire 0.0472 in" in words
    assert any(re.fullmatch(r"9\.2\d coils, right hand", word) for word in words)
    told = {k: v for k, v in answer.told.items() if k != "free_length_mm"}
    short = plan_of(replace(answer, told=told), ("compression", "right"), Units(), 358.0)
    assert not any("length" in p.text for p in short.parts if isinstance(p, Words))


def test_the_picture_is_well_formed_and_says_what_it_shows():
    root = ElementTree.fromstring(svg(plan(FORMS["closed"], {"wire": "wire <2> & more"}, 358.0)))
    assert root.find("{*}title").text.startswith("A compression spring to scale")
    assert "wire <2> & more" in "".join(root.itertext())


def luminance(colour):
    """Relative luminance of #RRGGBB (WCAG 2.2, definitions)."""
    parts = [int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_words_and_dimensions_stand_out_by_day_and_by_night(theme):
    root = ElementTree.fromstring(svg(plan(FORMS["closed"], {"wire": "wire 2 mm"}, 358.0), theme))
    paper = luminance(root.find("{*}rect").get("fill"))
    assert (paper < 0.1) == (theme == "dark")

    def contrast(colour):
        low, high = sorted((paper, luminance(colour)))
        return (high + 0.05) / (low + 0.05)

    words = {one.get("fill") for one in root.findall("{*}text")}
    rules = {"light": "#1B5E72", "dark": "#6FC3D6"}[theme]
    assert min(contrast(colour) for colour in words) > 7.0
    assert contrast(rules) > 4.5
    assert rules in {one.get("stroke") for one in root.findall("{*}polyline")}
