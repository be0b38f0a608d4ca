"""The sentences that the page and the command line say; trade terms as in the glossary."""

from types import MappingProxyType

CAUTIONS = (
    "Wear eye protection: wire ends are sharp and springs jump.",
    "A spring at rest stores nothing, a loaded one does: never cut or release a spring under load.",
    "Nothing here replaces licensed work on vehicles, doors or lifting gear.",
)

#: Dimensions in the order in which they are told, with their labels.
DIMENSION_LABELS = MappingProxyType(
    {
        "wire_diameter_mm": "Wire diameter, mm",
        "outer_diameter_mm": "Outside diameter, mm",
        "mean_diameter_mm": "Mean coil diameter, mm",
        "inner_diameter_mm": "Inside diameter, mm",
        "free_length_mm": "Free length, mm",
        "solid_length_mm": "Solid length, mm",
        "pitch_mm": "Pitch, mm",
        "total_coils": "Total coils",
        "active_coils": "Active coils",
        "spring_index": "Spring index",
    }
)

_LESSEN = MappingProxyType(
    {
        "wire diameter": "Rate goes with the fourth power of the wire: measure it again, best "
        "as several coils pressed together, or with a micrometer.",
        "coil diameter": "Read the outside diameter at several coils, turning the spring.",
        "turns counted": "Count the turns again, to a quarter of a turn.",
        "end coils": "How much of the end coils works is a guess: weigh the spring down and "
        "measure how far it gives.",
        "few coils": "With so few working coils the formula itself is rough: weigh the spring "
        "down and measure how far it gives.",
        "material": "Name the wire's material, or try a magnet: if it does not cling, it is no "
        "carbon steel.",
        "shared by dimensions": "The scale is common to all lengths: read one dimension with a "
        "caliper.",
        "formula": "The formula's own spread: only a load test can lessen it.",
    }
)


def how_to_lessen(cause: str) -> str | None:
    """Return what a person can do about a cause of uncertainty, None where nothing is known."""
    return _LESSEN.get(cause)
