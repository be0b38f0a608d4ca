import numpy as np
import pytest

from mechanics.curve import load_curve
from mechanics.ends import Ends
from mechanics.estimate import Contribution
from mechanics.materials import find_material
from mechanics.units import RATE_UNITS
from ui.answer import answer_of_readings
from ui.caliper import Readings
from ui.charts import budget_chart, budget_rows, load_chart
from ui.load_units import LOAD_UNITS

BUDGET = (
    Contribution("material", 0.02),
    Contribution("wire diameter", 0.04),
    Contribution("shared by dimensions", -0.01),
    Contribution("few coils", 0.0),
)


def test_causes_come_largest_first_and_nothing_is_left_out_but_zeros():
    rows = budget_rows(BUDGET)
    assert [row["cause"] for row in rows] == ["Wire diameter", "Material", "Shared by dimensions"]
    assert rows[0]["label"] == "±7.8 %"  # 1.96 times 4 %
    assert rows[2]["effect"] == "narrows"


def test_the_budget_chart_names_its_causes_in_order():
    told = budget_chart(BUDGET, "dark").to_dict()
    assert told["layer"][0]["encoding"]["y"]["sort"][0] == "Wire diameter"


@pytest.mark.parametrize("unit", list(RATE_UNITS))
def test_units_of_force_and_travel_make_the_unit_of_rate(unit):
    units = LOAD_UNITS[unit]
    assert units.newton / units.mm == pytest.approx(RATE_UNITS[unit], rel=1e-12)
    assert unit == f"{units.force}/{units.travel}"


def test_the_load_curve_starts_with_the_rate_that_is_told():
    readings = Readings(1.2, 13.2, 14, 45.0, ends=Ends.CLOSED)
    answer = answer_of_readings(readings, find_material("music wire"))
    curve = load_curve(answer.draws)
    assert curve.rate_N_per_mm[0] == pytest.approx(answer.told["rate_N_per_mm"].value, rel=0.02)
    told = load_chart(curve, {"usable": 20.0, "set": np.inf}, LOAD_UNITS["lb/in"]).to_dict()
    rows = told["datasets"][told["layer"][0]["data"]["name"]]
    last = max(row["travel"] for row in rows)
    assert last == pytest.approx(curve.deflection_mm[-1] / 25.4)
    assert np.all([row["low"] <= row["force"] <= row["high"] for row in rows])
    marks = told["datasets"][told["layer"][2]["data"]["name"]]
    # What is never met before solid is not marked.
    assert [mark["what"] for mark in marks] == ["solid", "usable"]
    assert marks[1]["travel"] == pytest.approx(20.0 / 25.4)
