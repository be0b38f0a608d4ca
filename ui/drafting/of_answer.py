"""The drawing of an answer: its form, and what is written on it with the digits its band allows."""

from collections.abc import Mapping

from mechanics.ends import Ends
from mechanics.geometry import NAMES
from mechanics.uncertainty import Quantity
from ui.answer import Answer
from ui.collection.record import Spring
from ui.drafting.plan import plan
from ui.drafting.sheet import Sheet
from ui.drafting.wire import Form
from ui.figures import value_text
from ui.torsion import torsion_labels
from ui.units import Units


def plan_of(
    answer: Answer, seen: tuple[str, str], units: Units, wide_pt: float, beside: bool = False
) -> Sheet:
    """Return the drawing of a spring, as `plan` does.

    Parameters
    ----------
    answer : Answer
        After all evidence.
    seen : tuple of str
        Kind and hand.
    units : Units
        To write in.
    wide_pt : float
        Width of the sheet [pt].
    beside : bool
        Whether the end view stands beside the side view.
    """
    form = form_of(answer, seen)
    return plan(form, labels_of(answer.told, seen[1], form, units), wide_pt, beside)


def form_of(answer: Answer, seen: tuple[str, str]) -> Form:
    """Return the shape of a spring; `seen` is its kind and hand."""
    told = {
        name: answer.told[name].value if name in answer.told else float(value)
        for name, value in zip(NAMES, answer.geometry.values, strict=True)
    }
    wire, mean, coils, length = (told[name] for name in NAMES)
    flat = "wire_width_mm" in answer.told
    if flat:
        wire = answer.told["wire_height_mm"].value
    hooks = answer.draws.ends is Ends.HOOKS
    return Form(
        "extension" if hooks else seen[0],
        wire,
        mean,
        coils,
        length,
        answer.draws.ends,
        seen[1],
        float(answer.geometry.small_end_ratio),
        width_mm=answer.told["wire_width_mm"].value if flat else None,
    )


def plan_of_kept(
    spring: Spring, told: Mapping[str, Quantity], units: Units, wide_pt: float
) -> Sheet:
    """Return the drawing of a kept spring; `told` are its dimensions with their bands [mm, -]."""
    form = form_of_kept(spring)
    if spring.is_torsion:
        return plan(form, torsion_labels(told, form, units), wide_pt)
    return plan(form, labels_of(told, spring.hand, form, units), wide_pt)


def form_of_kept(spring: Spring) -> Form:
    """Return the shape of a kept spring."""
    wire, mean, coils, length, _ = spring.values
    return Form(
        "extension" if spring.ends == Ends.HOOKS else spring.kind,
        wire,
        mean,
        coils,
        length,
        Ends(spring.ends),
        spring.hand,
        spring.small_end_ratio,
        spring.legs_mm,
        spring.wire_width_mm or None,
    )


def labels_of(told: Mapping[str, Quantity], hand: str, form: Form, units: Units) -> dict[str, str]:
    """Return what is written on the drawing; what was not measured is not written."""
    shown = units.told(told)

    def written(name: str, words: str) -> str:
        return f"{words} {value_text(shown[name])} {units.length}" if name in shown else ""

    turns = f"{value_text(shown['total_coils'])} coils" if "total_coils" in shown else ""
    way = f"{hand} hand" if hand in ("right", "left") else ""
    end = written("inner_diameter_mm", "inside")
    if form.small_end_ratio < 1.0:
        small = (form.small_end_ratio * form.mean_mm + form.wire_mm) / units.mm
        end = f"small end {small:.3g} {units.length} outside"
    wire = written("wire_diameter_mm", "wire")
    if "wire_width_mm" in shown:
        along, across = (value_text(shown[f"wire_{side}_mm"]) for side in ("height", "width"))
        wire = f"wire {across} across, {along} {units.length} along"
    return {
        "wire": wire,
        "length": written("free_length_mm", "free length"),
        "outside": written("outer_diameter_mm", "outside"),
        "coils": ", ".join(filter(None, (turns, way))),
        "end": end,
    }
