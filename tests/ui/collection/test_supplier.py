"""Suppliers' tables by mapping their columns; what they say is reckoned, not believed blindly."""

import numpy as np
import pytest

from mechanics.ends import Ends
from ui.collection.matching import match
from ui.collection.supplier import Reading, guess_columns, read_table, springs_of

#: A made-up harbour chandler's list; the first row is Shigley, 10e, problem 10-3's spring.
TABLE = """Part no.;Wire mm;OD mm;Free length;Coils total;Rate N/mm;Remark
HC-1;2,5;31;162,8;14;1,31;first
HC-2;1,0;11,0;38;12,5;;
HC-3;milk;11;38;12;1;
HC-4;1,2;13,2;45;;0,93;no coils told
"""
HOW = Reading(
    {
        "name": "Part no.",
        "wire": "Wire mm",
        "outside": "OD mm",
        "length": "Free length",
        "total": "Coils total",
        "rate": "Rate N/mm",
        "notes": "Remark",
    },
    "Harbour chandler",
    ends=Ends.OPEN_GROUND,
    material="music wire",
)


def test_columns_are_guessed_by_the_trade_s_words():
    found = guess_columns(read_table(TABLE).columns)
    assert found == dict(HOW.columns)


def test_rows_become_springs_and_a_bad_one_is_named():
    springs, problems = springs_of(read_table(TABLE), HOW)
    assert [s.name for s in springs] == ["HC-1", "HC-2", "HC-4"]
    assert problems == ["row 4: wire diameter 'milk' is no number"]
    first = springs[0]
    assert first.values == pytest.approx((2.5, 28.5, 14.0, 162.8, 1.31))
    assert first.tags == ("Harbour chandler",)
    assert first.notes == "first"


def test_a_rate_that_is_not_told_is_reckoned():
    """Shigley, 10e, problem 10-3: k = 1.314 N/mm with G = 81 GPa; music wire here is 78.5 to 81."""
    text = TABLE.replace(";1,31;first", ";;first")
    springs, _ = springs_of(read_table(text), HOW)
    assert springs[0].rate_N_per_mm == pytest.approx(1.314, rel=0.05)


def test_coils_that_are_not_told_follow_from_the_rate():
    springs, _ = springs_of(read_table(TABLE), HOW)
    last = springs[2]
    d, mean, total, _, rate = last.values
    active = total - 1.0
    assert rate == pytest.approx(78_480 * d**4 / (8 * mean**3 * active), rel=0.05)


def test_inches_and_pounds():
    text = "name,wire,outside,free,total,rate\nA,.1,1.2,6.4,14,7.5\n"
    table = read_table(text)
    how = Reading(guess_columns(table.columns), "s", "in", "lb/in", Ends.OPEN_GROUND)
    (spring,), problems = springs_of(table, how)
    assert problems == []
    assert spring.wire_mm == pytest.approx(2.54)
    assert spring.rate_N_per_mm == pytest.approx(7.5 * 0.1751268, rel=1e-6)


def test_a_measured_spring_is_recognised_among_a_supplier_s():
    springs, _ = springs_of(read_table(TABLE), HOW)
    kept = {s.name: s for s in springs}
    found = match(springs[1], kept)
    assert found.matches[0].keys == ("HC-2",)
    assert np.linalg.eigvalsh(np.array(springs[1].covariance)).min() > -1e-9


@pytest.mark.parametrize("text", ["", "wire\n1\n", "a,b\n", "a,a\n1,2\n"])
def test_what_is_no_table_is_one_sentence(text):
    with pytest.raises(ValueError, match="column"):
        read_table(text)


def test_too_few_columns_are_told():
    table = read_table(TABLE)
    with pytest.raises(ValueError, match="of one diameter"):
        springs_of(table, Reading({"wire": "Wire mm"}, "s"))
