"""Torsion springs in the collection, in its files and in the report: an angular rate, no other."""

import json
from dataclasses import replace
from datetime import date

import numpy as np
import pypdfium2
import pytest

from mechanics.materials import find_material
from tests.ui.collection.springs import made
from tests.ui.test_page import enter, page, text
from ui.collection.exchange import from_csv, from_json, to_csv, to_json
from ui.collection.matching import match
from ui.collection.record import Spring
from ui.collection.store import Collection
from ui.kept import draws_of_kept
from ui.report import Subject, paged
from ui.screens.keep import collection
from ui.torsion import TorsionReadings, spring_of_torsion, torsion_answer
from ui.torsion_report import SWINGS, torsion_contents
from ui.units import Units

__all__ = ["page"]

#: Jindal, Machine Design, example 8-9: wire 2.5 mm, coil 14.5 mm, 4.25 turns, legs of 20 mm.
JINDAL = TorsionReadings((2.5, 0.02), (14.5, 0.05), (4.25, 0.05), (20.0, 20.0), "right")


def answered(readings=JINDAL):
    return torsion_answer(readings, find_material("music wire"))


def sprung(name="Quay 7 hatch", readings=JINDAL, **more):
    return spring_of_torsion(answered(readings), name, **more)


def test_what_is_kept_is_what_was_told():
    answer, spring = answered(), sprung()
    assert spring.rate == answer.rate.per_degree.value
    assert spring.rate_N_per_mm is None
    assert spring.u("rate_N_mm_per_degree") == pytest.approx(answer.rate.per_degree.u, rel=1e-3)
    assert spring.u("wire_diameter_mm") == pytest.approx(0.02, rel=0.03)
    # Thicker wire, higher rate: their errors go together.
    assert spring.covariance[0][4] > 0.0
    assert spring.legs_mm == (20.0, 20.0)
    # E d^4 / (10.8 D n) with friction, as the book has it, lies in the band.
    book = 206_000.0 * 2.5**4 / (10.8 * 14.5 * 4.543) / 360.0
    assert answer.rate.per_degree.low < book < answer.rate.per_degree.high


def test_files_give_it_back_exactly_among_others():
    some = [made(), sprung(tags=("hatch", "stiff"), place="drawer 4"), made("Slipway")]
    assert from_json(to_json(some)) == some
    assert from_csv(to_csv(some)) == some
    body = json.loads(to_json(some))["springs"]
    assert "rate_N_per_mm" not in body[1]["values"]
    assert "legs_mm" not in body[0]


def test_files_from_before_there_were_torsion_springs_are_read():
    old = to_csv([made()]).splitlines()
    head, row = (line.split(",") for line in old)
    keep = [k for k, name in enumerate(head) if "degree" not in name and "leg_" not in name]
    assert len(keep) < len(head)
    # The covariance holds no commas; the lists are empty.
    text_ = "\r\n".join(",".join(cells[k] for k in keep) for cells in (head, row)) + "\r\n"
    assert from_csv(text_) == [made()]


def test_a_torsion_spring_without_its_legs_in_a_csv_is_refused_with_the_line():
    broken = to_csv([sprung()]).replace("leg_2_mm", "leg_3_mm")
    with pytest.raises(ValueError, match="line 2"):
        from_csv(broken)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"legs_mm": (1.0, -2.0)}, "legs are two lengths"),
        ({"legs_mm": (1.0, float("nan"))}, "legs are two lengths"),
        ({"kind": "compression"}, "only a torsion spring has legs"),
    ],
)
def test_impossible_legs_are_refused(change, said):
    with pytest.raises(ValueError, match=said):
        replace(sprung(), **change)


def test_the_database_keeps_it_and_sorts_it_last_by_rate(tmp_path):
    own = Collection(f"sqlite:///{tmp_path / 's.sqlite'}")
    key = own.keep(sprung())
    own.keep(made())
    assert own.get(key).spring == sprung()
    assert [k.spring.is_torsion for k in own.find(sort="rate")] == [False, True]
    assert [k.spring.is_torsion for k in own.find(rate_N_per_mm=(0.0, np.inf))] == [False]
    assert [k.spring.name for k in own.find("torsion")] == ["Quay 7 hatch"]
    own.edit(key, place="drawer 4")
    assert own.history(key)[0].before == sprung()
    own.close()


def test_it_is_recognised_among_its_like_and_never_as_a_compression_spring():
    again = sprung("?", replace(JINDAL, wire_mm=(2.51, 0.02)))
    thin = sprung("thin", replace(JINDAL, wire_mm=(2.0, 0.02)))
    found = match(again, {"hatch": sprung(), "thin": thin, "front": made()})
    assert found.matches[0].keys == ("hatch",)
    assert found.matches[0].chance > 0.9
    stranger = match(thin, {"hatch": sprung(), "front": made()})
    assert stranger.none_of_these > 0.99
    assert match(made(), {"hatch": sprung()}).none_of_these == pytest.approx(1.0)


def test_it_is_not_reckoned_with_as_a_straight_spring():
    with pytest.raises(ValueError, match="angular rate and no other"):
        draws_of_kept(sprung())


def test_the_report_has_the_angular_rate_its_cautions_and_no_linear_rate():
    subject = Subject("Quay 7 hatch", "torsion", "right", ("caliper",))
    contents = torsion_contents(answered(), Units())
    pdf = pypdfium2.PdfDocument(paged(contents, subject, Units(), date(2026, 3, 1)))
    assert len(pdf) == 1
    said = " ".join(pdf[0].get_textpage().get_text_range().split())
    for words in ("Quay 7 hatch", "N·mm a degree", "a turn", "Legs 20 and 20 mm".lower(), SWINGS):
        assert words in said
    assert "N/mm" not in said


def test_the_page_keeps_it_and_shows_it_again(page):
    page.segmented_control(key="kind").set_value("torsion").run()
    enter(page, 2.5, 17.0, 4.25)
    page.number_input(key="leg_1").set_value(20.0)
    page.number_input(key="leg_2").set_value(20.0).run()
    told = page.metric[0].value
    page.text_input[0].set_value("Quay 7 hatch")
    next(b for b in page.button if b.label == "Keep it in the collection").click().run()
    assert not page.exception
    assert any("Quay 7 hatch" in s.value for s in page.success)
    (kept,) = collection().find()
    assert isinstance(kept.spring, Spring)
    page.segmented_control(key="by").set_value("Collection").run()
    assert not page.exception
    page.button(key=f"open-{kept.id}").click().run()
    assert not page.exception
    assert page.metric[0].label == "Angular rate"
    assert page.metric[0].value == f"{told} a degree"
    assert "Turns of the body" in text(page)
    assert "| Free length |" not in text(page)
