"""Files and words from strangers: springs, or one sentence; and every list can still be drawn."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mechanics.ends import Ends
from tests.trust.fuzzing import fuzz, value_or_none
from tests.ui.collection.springs import made
from ui.charts import band_chart
from ui.collection.exchange import from_csv, from_json, to_csv, to_json
from ui.collection.matching import match
from ui.collection.record import NAMES, TORSION_NAMES
from ui.collection.store import Collection, Kept
from ui.collection.supplier import FIELDS, Reading, guess_columns, read_table, springs_of
from ui.collection.tables import now
from ui.correcting import parse_points
from ui.drafting.of_answer import plan_of_kept
from ui.kept import draws_of_kept
from ui.measuring import parse_reference
from ui.screens.keep import rates_beside
from ui.telling import dimensions_told, rate_told
from ui.units import LENGTH_UNITS, Units
from vision.marks import Marks, outside

JUNK = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**400), 10**400)
    | st.floats()
    | st.text(max_size=12)
    | st.sampled_from([1e300, 5e-324, "=1+1", "\0", "\ud800", "x" * 3000]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=6), inner),
    max_leaves=8,
)
FIELD = st.sampled_from(sorted(made().as_dict()))


def taken(read, text):
    """Return what was read; a refusal is a sentence."""
    return value_or_none(read, text) or []


def draw_all(springs):
    """Everything that the page and the files make of kept springs."""
    kept = [Kept(str(k), spring, now(), now()) for k, spring in enumerate(springs)]
    assert from_json(to_json(springs)) == springs
    assert from_csv(to_csv(springs)) == springs
    if kept:
        band_chart(rates_beside(springs[0], kept), "N/mm", "light")
    for spring in springs:
        known = dimensions_told(spring)
        rate, _ = rate_told(spring, Units("N/mm", "mm"))
        assert math.isfinite(rate.low)
        assert math.isfinite(rate.high)
        assert all(math.isfinite(q.low) and math.isfinite(q.high) for q in known.values())
        assert plan_of_kept(spring, known, Units("N/mm", "mm"), 300.0)
        found = match(spring, {one.id: one.spring for one in kept})
        assert 0.0 <= found.none_of_these <= 1.0
        draws = value_or_none(draws_of_kept, spring)
        assert draws is None or np.isfinite(draws.rate_N_per_mm).all()


@fuzz()
@given(st.dictionaries(FIELD, JUNK, max_size=3), st.sets(FIELD, max_size=1), JUNK)
def test_json_with_junk_in_its_fields(junk, left_out, more):
    spring = made().as_dict() | junk
    for field in left_out:
        spring.pop(field)
    body = {"format": "coilreckon-springs", "version": 1, "springs": [spring, more]}
    draw_all(taken(from_json, json.dumps(body)))
    draw_all(taken(from_json, json.dumps(body | {"springs": [spring]})))
    draw_all(taken(from_json, json.dumps(body | {"springs": more, "version": 1})))


NUMBER = st.one_of(
    st.floats(1e-7, 1e7), st.floats(), st.integers(-3, 3).map(lambda k: 10.0**k), st.just(-1.0)
)


@fuzz()
@given(
    st.lists(NUMBER, min_size=5, max_size=5),
    st.lists(NUMBER, min_size=25, max_size=25),
    st.sampled_from([*map(str, Ends), "?"]),
    st.sampled_from(["compression", "extension", "conical", "torsion"]),
    st.one_of(st.floats(0.05, 1.0), NUMBER),
    st.lists(NUMBER, max_size=3),
)
def test_json_with_any_numbers(values, matrix, ends, kind, small_end, legs):
    names = TORSION_NAMES if kind == "torsion" else NAMES
    square = np.array(matrix).reshape(5, 5)
    with np.errstate(all="ignore"):
        likely = (square, square @ square.T, np.diag(np.array(values) ** 2 * 1e-4))
    for covariance in likely:
        spring = made().as_dict() | {
            "values": dict(zip(names, values, strict=True)),
            "covariance": covariance.tolist(),
            **({"legs_mm": legs} if legs else {}),
            "ends": ends,
            "kind": kind,
            "small_end_ratio": small_end,
        }
        body = {"format": "coilreckon-springs", "version": 1, "springs": [spring]}
        draw_all(taken(from_json, json.dumps(body)))


@fuzz()
@given(st.text(max_size=200))
def test_any_text_as_json_csv_and_table(text):
    draw_all(taken(from_json, text))
    draw_all(taken(from_csv, text))
    taken(read_table, text)


EDIT = st.tuples(
    st.floats(0.0, 1.0),
    st.integers(0, 30),
    st.text(st.sampled_from('",;\n\r\0\t|=0aé\ud800[]{}-e'), max_size=6),
)


@fuzz()
@given(st.lists(EDIT, max_size=6), st.booleans())
def test_files_of_ours_edited_by_hand(edits, as_csv):
    some = [made("Quay 7", tags=("a", "b"), notes='two\nlines, "quoted"'), made("Slipway")]
    text = to_csv(some) if as_csv else to_json(some)
    for where, drop, put in edits:
        at = int(where * len(text))
        text = text[:at] + put + text[at + drop :]
    draw_all(taken(from_csv if as_csv else from_json, text))


CELL = st.one_of(
    st.floats(0.1, 60.0).map(lambda x: f"{x:.4g}"),
    st.floats().map(str),
    st.text(max_size=10),
    st.sampled_from(["1,5", "1.234,5", "1/8", "-3", "0", "9" * 400, "1e400", "=2+3", "½"]),
)


@fuzz(0.5)
@given(
    st.lists(st.lists(CELL, min_size=6, max_size=7), min_size=1, max_size=4),
    st.sampled_from(",;\t|"),
    st.sampled_from(sorted(LENGTH_UNITS)),
    st.sampled_from(list(Ends)),
)
def test_suppliers_tables(rows, parts, length, ends):
    head = ["part", "wire", "od", "free length", "total", "rate"]
    text = "\n".join(parts.join(cells) for cells in [head, *rows])
    table = taken(read_table, text)
    if not table:
        return
    how = Reading(guess_columns(table.columns), "chandler", length, "N/mm", ends)
    found = value_or_none(springs_of, table, how)
    if found is None:
        return
    springs, problems = found
    assert len(springs) + len(problems) == len(table.rows)
    draw_all(springs)


@fuzz()
@given(st.lists(st.text(max_size=12), max_size=8))
def test_columns_of_any_name(names):
    assert set(guess_columns(names)) <= set(FIELDS)


@fuzz()
@given(st.one_of(st.text(max_size=30), st.from_regex(r"(self|coin|ruler|paper|sheet):.{0,12}")))
def test_references_by_any_name(name):
    value_or_none(parse_reference, name, 0.03)


@fuzz()
@given(st.one_of(st.text(max_size=30), st.from_regex(r"(\d{1,400}, ?\d{1,3}; ?){1,4}")))
def test_points_typed_anyhow(text):
    marks = value_or_none(lambda: Marks(parse_points(text)))
    if marks is None:
        return
    at = np.array(marks.spring_px).reshape(-1, 2)
    # A place beyond all numbers is one outside the photo.
    assert np.isfinite(at).all() or outside(marks, (900, 1600, 3)) is not None


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"name": "x" * 201}, "longer than 200"),
        ({"notes": "x\0"}, "a character that is none"),
        ({"kind": "leaf"}, "the kind must be one of"),
        ({"covariance": tuple(tuple([1e9] * 5) for _ in range(5))}, "more than ten times"),
        ({"values": (5.0, 4.0, 9.0, 40.0, 1.0)}, "thick as the coil"),
    ],
)
def test_what_cannot_be_kept_is_told_and_nothing_is_kept(change, said, tmp_path):
    collection = Collection(f"sqlite:///{tmp_path / 'springs.sqlite'}")
    with pytest.raises(ValueError, match=said):
        collection.keep(replace(made(), **change))
    assert collection.find() == []
    collection.close()


def test_a_name_that_fills_the_column_is_kept(tmp_path):
    collection = Collection(f"sqlite:///{tmp_path / 'springs.sqlite'}")
    key = collection.keep(made("x" * 200))
    assert collection.get(key).spring.name == "x" * 200
    collection.close()
