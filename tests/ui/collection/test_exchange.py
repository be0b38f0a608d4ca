"""Out and in again: nothing is lost, and a wrong file is one plain sentence."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.ui.collection.springs import made
from ui.collection.exchange import from_csv, from_json, to_csv, to_json

words = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=30)
springs = st.builds(
    made,
    name=words.filter(lambda w: w.strip() != ""),
    d=st.floats(0.1, 5.0),
    mean=st.floats(6.0, 80.0),
    coils=st.floats(2.5, 60.0),
    u=st.floats(0.0001, 0.1),
    hand=st.sampled_from(["right", "left", "unknown"]),
    tags=st.lists(words, max_size=3).map(tuple),
    place=words,
    notes=words,
)


@settings(max_examples=40, deadline=None)
@given(st.lists(springs, max_size=3))
def test_json_and_csv_come_back_exactly(some):
    assert from_json(to_json(some)) == some
    assert from_csv(to_csv(some)) == some


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("milk, eggs", "no JSON"),
        ("[]", "holds no springs"),
        ('{"format": "coilreckon-springs", "version": 9, "springs": []}', "version 9"),
        ('{"format": "coilreckon-springs", "version": 1, "springs": [{}]}', "missing"),
    ],
)
def test_a_wrong_json_is_refused_with_the_reason(text, words):
    with pytest.raises(ValueError, match=words):
        from_json(text)


def test_a_wrong_csv_names_column_or_line():
    with pytest.raises(ValueError, match="columns are missing"):
        from_csv("name,wire\nA,1\n")
    good = to_csv([made(), made("Slipway rear")])
    with pytest.raises(ValueError, match="line 3"):
        from_csv(good.replace("Slipway rear", " "))
