"""Charts, legible at phone width and by people who see few colours."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

import altair as alt

from mechanics.curve import LoadCurve
from mechanics.estimate import Contribution
from mechanics.uncertainty import Quantity
from ui.load_units import LoadUnits

#: What the library makes of marks laid over each other.
Chart = alt.LayerChart | alt.FacetChart
#: What an axis with its title takes of a chart's height.
AXIS_PX = 60
#: Half-width of a 95 % band in standard uncertainties.
COVERAGE = 1.96
#: Blue and orange stay apart for every common kind of colour blindness (Okabe and Ito 2008).
WIDENS, NARROWS = "#3B8FC4", "#D55E00"
#: Of text, on paper and on slate.
INK = MappingProxyType({"light": "#1C2830", "dark": "#E8E9E3"})
#: Behind it, as in `look.toml`.
PAPER = MappingProxyType({"light": "#FBFAF6", "dark": "#12191E"})


def budget_rows(budget: Sequence[Contribution], least: float = 0.0005) -> list[dict[str, Any]]:
    """Return the causes that matter, largest first, each as its share alone at 95 %, in percent.

    Parameters
    ----------
    budget : sequence of Contribution
        Relative standard uncertainties by cause.
    least : float
        Causes below this relative standard uncertainty are left out [-].
    """
    kept = [part for part in budget if abs(part.u_relative) >= least]
    kept.sort(key=lambda part: -abs(part.u_relative))
    return [
        {
            "cause": part.cause.capitalize(),
            "percent": round(100.0 * COVERAGE * part.u_relative, 3),
            # Labels stand right of the bar, or of the axis where the bar points left.
            "end": round(max(100.0 * COVERAGE * part.u_relative, 0.0), 3),
            "label": f"±{100.0 * COVERAGE * abs(part.u_relative):.1f} %",
            "effect": "widens" if part.u_relative > 0.0 else "narrows",
        }
        for part in kept
    ]


def budget_chart(budget: Sequence[Contribution], theme: str = "light") -> Chart:
    """Return a bar for each cause of uncertainty, in percent of the rate at 95 %.

    Parameters
    ----------
    budget : sequence of Contribution
        Relative standard uncertainties by cause.
    theme : str
        ``light`` or ``dark``.
    """
    rows = budget_rows(budget)
    order = [row["cause"] for row in rows]
    base = alt.Chart(alt.InlineData(values=rows)).encode(
        y=alt.Y("cause:N", sort=order, title=None, axis=alt.Axis(labelLimit=150, labelFontSize=14)),
        x=alt.X("percent:Q", title=None, axis=None),
        tooltip=[alt.Tooltip("cause:N", title="Cause"), alt.Tooltip("label:N", title="Alone")],
    )
    bars = base.mark_bar(cornerRadius=3, height={"band": 0.62}).encode(
        color=alt.Color(
            "effect:N",
            scale=alt.Scale(domain=["widens", "narrows"], range=[WIDENS, NARROWS]),
            legend=None,
        )
    )
    labels = base.mark_text(align="left", dx=6, fontSize=14, color=INK[theme]).encode(
        text="label:N", x=alt.X("end:Q", title=None, axis=None)
    )
    whole = alt.layer(bars, labels)
    whole = whole.properties(height=34 * max(len(order), 1), padding={"right": 64})
    return _inked(whole, theme)


def load_chart(
    curve: LoadCurve, ends_mm: Mapping[str, float], units: LoadUnits, theme: str = "light"
) -> Chart:
    """Return force against travel to solid: middle, 95 % band, and what ends the travel before.

    Parameters
    ----------
    curve : LoadCurve
        Force against deflection.
    ends_mm : mapping of str to float
        Travels that are marked, by what they are called; those beyond solid are left out [mm].
    units : LoadUnits
        In which to show them.
    theme : str
        ``light`` or ``dark``.
    """
    columns = (curve.deflection_mm, curve.force_N, curve.low_N, curve.high_N)
    rows = [
        {
            "travel": float(s) / units.mm,
            "force": float(f) / units.newton,
            "low": float(low) / units.newton,
            "high": float(high) / units.newton,
        }
        for s, f, low, high in zip(*columns, strict=True)
    ]
    travel = alt.X("travel:Q", title=f"Travel, {units.travel}")
    base = alt.Chart(alt.InlineData(values=rows)).encode(x=travel)
    force = alt.Y("low:Q", title=f"Force, {units.force}")
    band = base.mark_area(color=WIDENS, opacity=0.3).encode(y=force, y2="high:Q")
    line = base.mark_line(color=WIDENS, strokeWidth=3).encode(y="force:Q")
    solid = float(curve.deflection_mm[-1])
    met = {"solid": solid} | {name: at for name, at in ends_mm.items() if at < solid}
    marks = [
        # One word below another: they may stand close together.
        {"travel": at / units.mm, "what": name, "line": 18.0 * k}
        for k, (name, at) in enumerate(met.items())
    ]
    ends = alt.Chart(alt.InlineData(values=marks)).encode(x="travel:Q")
    rules = ends.mark_rule(color=NARROWS, strokeDash=[5, 4], strokeWidth=2)
    words = ends.encode(text="what:N", y=alt.Y("line:Q", scale=None, axis=None))
    look: dict[str, Any] = {"align": "right", "dx": -5, "dy": 6, "baseline": "top", "fontSize": 14}
    # A rule that crosses a word stops short of it.
    halo = words.mark_text(**look, color=PAPER[theme], stroke=PAPER[theme], strokeWidth=5)
    names = words.mark_text(**look, color=INK[theme])
    return _inked(alt.layer(band, line, rules, halo, names).properties(height=240), theme)


def band_chart(rates: Mapping[str, Quantity], unit: str, theme: str = "light") -> Chart:
    """Return rates with their 95 % bands, one a row.

    Parameters
    ----------
    rates : mapping of str to Quantity
        By the row's name, in the unit.
    unit : str
        What they are in.
    theme : str
        ``light`` or ``dark``.
    """
    rows = [
        {"name": name, "low": q.low, "value": q.value, "high": q.high} for name, q in rates.items()
    ]
    base = alt.Chart(alt.InlineData(values=rows)).encode(
        y=alt.Y(
            "name:N", sort=list(rates), title=None, axis=alt.Axis(labelFontSize=14, labelLimit=150)
        ),
    )
    scale = alt.Scale(zero=False, nice=True)
    band = base.mark_bar(color=WIDENS, opacity=0.45, cornerRadius=3, height={"band": 0.5}).encode(
        x=alt.X("low:Q", title=f"Rate, {unit}", scale=scale), x2="high:Q"
    )
    middle = base.mark_tick(color=INK[theme], thickness=3, height={"band": 0.7}).encode(x="value:Q")
    return _inked(alt.layer(band, middle).properties(height=46 * len(rows) + AXIS_PX), theme)


def _inked(chart: Chart, theme: str) -> Chart:
    """Return the chart with the text of its axes as dark as all other: for sunlight."""
    inked: Chart = chart.configure_axis(labelColor=INK[theme], titleColor=INK[theme])
    return inked
