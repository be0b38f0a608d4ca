"""The sentences that the page and the command line say; trade terms as in the glossary."""

import re
from types import MappingProxyType

CAUTIONS = (
    "Wear eye protection: wire ends are sharp and springs jump.",
    "A spring at rest stores nothing, a loaded one does: never cut or release a spring under load.",
    "Nothing here replaces licensed work on vehicles, doors or lifting gear.",
)

#: Dimensions in the order in which they are told, with their labels.
DIMENSION_LABELS = MappingProxyType(
    {
        "wire_diameter_mm": "Wire diameter",
        "wire_width_mm": "Wire across the axis",
        "wire_height_mm": "Wire along the axis",
        "outer_diameter_mm": "Outside diameter",
        "mean_diameter_mm": "Mean coil diameter",
        "inner_diameter_mm": "Inside diameter",
        "free_length_mm": "Free length",
        "solid_length_mm": "Solid length",
        "pitch_mm": "Pitch",
        "total_coils": "Total coils",
        "active_coils": "Active coils",
        "spring_index": "Spring index",
    }
)

#: Of a torsion spring.
TORSION_LABELS = MappingProxyType(
    {
        **{
            name: DIMENSION_LABELS[name]
            for name in (
                "wire_diameter_mm",
                "outer_diameter_mm",
                "mean_diameter_mm",
                "inner_diameter_mm",
            )
        },
        "body_coils": "Turns of the body",
        "active_coils": "Active coils, legs counted",
    }
)

#: Limits in the order in which they are told; the units that are chosen go into the braces.
LIMIT_LABELS = MappingProxyType(
    {
        "usable_deflection_mm": "Usable travel, {length}",
        "travel_to_solid_mm": "Travel to solid, {length}",
        "set_deflection_mm": "Takes a set from, {length}",
        "buckling_deflection_mm": "Buckles from, {length}",
        "clearance_mm": "Gap to keep to solid, {length}",
        "force_at_solid_N": "Force when solid, {force}",
        "stress_at_solid_MPa": "Stress when solid, MPa",
        "allowable_stress_MPa": "Allowable stress, MPa",
        "outside_growth_mm": "Grows outside by, {length}",
        "energy_to_solid_mJ": "Energy when solid, mJ",
        "natural_frequency_Hz": "Surges at, Hz",
        "mass_g": "Mass, g",
    }
)

#: What an extension spring bears.
EXTENSION_LABELS = MappingProxyType(
    {
        "initial_tension_N": "Initial tension, {force}",
        "allowable_force_N": "Allowable force, {force}",
        "allowable_extension_mm": "Allowable extension, {length}",
        "mass_g": "Mass with its hooks, g",
    }
)

#: At one travel.
LOAD_LABELS = MappingProxyType(
    {
        "force_N": "Force there, {force}",
        "stress_MPa": "Stress of the coils, MPa",
        "hook_bending_stress_MPa": "Bending stress of the hook, MPa",
        "hook_torsion_stress_MPa": "Torsion stress of the hook, MPa",
        "energy_mJ": "Energy stored, mJ",
        "length_mm": "Length there, {length}",
    }
)

#: What a change is shown by; the units that are chosen go into the braces.
CHANGE_LABELS = MappingProxyType(
    {
        "rate_N_per_mm": "Rate, {rate}",
        "free_length_mm": "Free length, {length}",
        "solid_length_mm": "Solid length, {length}",
        "travel_to_solid_mm": "Travel to solid, {length}",
        "force_at_solid_N": "Force when solid, {force}",
        "total_coils": "Total coils",
        "active_coils": "Active coils",
    }
)

#: Of a spring between seats.
SEAT_LABELS = MappingProxyType(
    {
        "preload_N": "Preload, {force}",
        "force_N": "Force moved in, {force}",
        "preload_deflection_mm": "Preload travel, {length}",
        "room_to_solid_mm": "Room to solid, {length}",
        "rate_N_per_mm": "Rate there, {rate}",
    }
)

#: Of a corner of a vehicle.
CORNER_LABELS = MappingProxyType(
    {
        "sag_mm": "Sag at the wheel, {length}",
        "sag_percent": "Share of the travel used, %",
        "spring_length_mm": "Spring's length, {length}",
        "force_N": "Force on the spring, {force}",
        "preload_N": "Preload, hanging, {force}",
        "rate_at_wheel_N_per_mm": "Rate at the wheel, {rate}",
    }
)

#: What a photo tells without a scale.
PROPORTION_LABELS = MappingProxyType(
    {
        "spring_index": "Spring index (mean coil over wire)",
        "total_coils": "Total coils",
        "pitch_over_wire": "Pitch over wire",
        "length_over_outside": "Free length over outside diameter",
    }
)

_REFERENCES = MappingProxyType(
    {
        "auto": "Look for it",
        "card": "Bank or member card",
        "coin": "Coin …",
        "ruler:mm": "Ruler in millimetres",
        "ruler:inch": "Ruler in inches",
        "sheet": "Printed sheet of marks",
        "self": "Nothing: I measured one dimension",
        "none": "Nothing: proportions only",
    }
)


def reference_label(kind: str) -> str:
    """Return a reference's command-line name in words.

    Examples
    --------
    >>> reference_label("coin:EUR-0.5"), reference_label("paper:A4")
    ('Coin, 0.5 EUR', 'Paper, A4')
    """
    family, _, which = kind.partition(":")
    if kind in _REFERENCES:
        return _REFERENCES[kind]
    if family == "coin":
        currency, _, value = which.partition("-")
        return f"Coin, {value} {currency}"
    return f"{family.capitalize()}, {which}"


_ADVICE = MappingProxyType(
    {"which-coin": "Choose it below: under “What lies beside it”, Coin, then currency and value."}
)


def advice(reason: str, try_this: str) -> str:
    """Return what to do after a refusal in words of the page, where the usual ones are commands.

    Examples
    --------
    >>> advice("no-spring", "Go closer.")
    'Go closer.'
    """
    return _ADVICE.get(reason, try_this)


_FIELDS = MappingProxyType(
    {
        "wire_diameter_mm": "the wire diameter",
        "mean_diameter_mm": "the mean coil diameter",
        "total_coils": "the number of total coils",
        "free_length_mm": "the free length",
        "turns_cut": "the cut",
        "first_length_mm": "the length at rest",
        "second_length_mm": "the length fully moved in",
        "target_rate": "the rate wanted",
        "longer_mm": "the stretch",
        "body_coils": "the number of turns of the body",
        "leg_mm": "the length of a leg",
        "deflection_mm": "the travel",
        "extension_mm": "the extension",
        "run_pitch_mm": "the pitch of a stretch",
        "run_turns": "the number of turns of a stretch",
        "seat_length_mm": "the distance of the seats",
        "thickness_mm": "the shim",
        "load_N": "the load",
        "lever_ratio": "the lever ratio",
        "droop_length_mm": "the seats' distance hanging",
        "bump_length_mm": "their distance pressed in",
        "small_end_ratio is below 1": "this spring tapers",
        "ends are hooks": "this is an extension spring",
        "wire_width_mm": "the wire's side across the axis",
        "wire_height_mm": "the wire's side along the axis",
    }
)


def plain(message: str) -> str:
    """Return a message as a sentence, with names of fields as words.

    Examples
    --------
    >>> plain("total_coils is 2000, outside 0.5 to 1000: a digit too many?")
    'The number of total coils is 2000, outside 0.5 to 1000: a digit too many?'
    """
    for field, words in _FIELDS.items():
        message = message.replace(field, words)
    end = "" if message.endswith((".", "?")) else "."
    return f"{message[:1].upper()}{message[1:]}{end}"


def literal(text: str) -> str:
    r"""Return a person's own words so that Markdown shows them as they were typed.

    Examples
    --------
    >>> print(literal("2 * [front]"))
    2 \* \[front\]
    """
    return re.sub(r"([\\`*_{}\[\]()#+\-.!|$:<>~])", r"\\\1", text)


def as_told(message: str) -> str:
    r"""Return a message as a sentence, a stranger's words in it shown as they stand.

    Examples
    --------
    >>> print(as_told("![](x).csv was not read"))
    \!\[\]\(x\)\.csv was not read\.
    """
    return literal(plain(message))
