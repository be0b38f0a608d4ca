"""The one glossary: trade terms as the page, the report and the documents use them.

``python -m ui.glossary > docs/glossary.md`` writes the document anew; a test compares the two.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Term:
    """A term with its usual symbol (empty where there is none) and what it means."""

    name: str
    symbol: str
    meaning: str


# Symbols as EN 13906-1 and the textbooks have them (from memory).
TERMS = (
    Term(
        "Rate",
        "R",
        "Force for each unit of travel, such as N/mm. Stiffness and spring constant mean the same.",
    ),
    Term(
        "95 % band",
        "",
        "Made to hold the true value for 19 of 20 springs, whatever is not known.",
    ),
    Term("Wire diameter", "d", "Across the wire, bare of paint. The rate goes with its 4th power."),
    Term("Wire across the axis", "b", "Rectangular wire: its side that points to the axis."),
    Term("Wire along the axis", "h", "Rectangular wire: its side that lies along the axis."),
    Term("Outside diameter", "De", "Over the coil: what a tube around it must clear."),
    Term("Inside diameter", "Di", "Within the coil: what a rod in it must clear."),
    Term("Mean coil diameter", "D", "From middle to middle of the wire: outside less one wire."),
    Term("Spring index", "w", "Mean coil diameter over wire diameter. Most springs have 4 to 12."),
    Term("Free length", "L0", "End to end with no load, hooks included."),
    Term("Solid length", "Lc", "With all coils pressed together."),
    Term("Pitch", "p", "From one working coil to the next along the axis."),
    Term("Total coils", "nt", "Turns of wire from tip to tip, to a quarter or better."),
    Term("Active coils", "n", "Those that work: total coils less what the ends keep still."),
    Term(
        "Ends",
        "",
        "Open: cut off as wound. Closed: the last turn lies on its neighbour. Ground: made flat. "
        "Hooks: bent out to pull by.",
    ),
    Term("Hand", "", "Right-hand winds like a common screw, left-hand the other way."),
    Term("Compression spring", "", "Pushes back when it is pressed shorter."),
    Term("Conical spring", "", "A compression spring that narrows from one end to the other."),
    Term("Extension spring", "", "Pulls back when it is drawn longer; its coils touch at rest."),
    Term("Torsion spring", "", "Turns back when its legs are wound up."),
    Term("Angular rate", "", "Moment for each degree or turn that a torsion spring is wound by."),
    Term("Leg", "", "Straight end of a torsion spring, from the coil to where the load acts."),
    Term("Preload", "F1", "Force that the spring already gives between its seats at rest."),
    Term("Shim", "", "A disc under a spring that presses it more, as a collar moved in does."),
    Term("Sag", "", "How far a wheel rises from hanging free to bearing its load."),
    Term("In line", "", "One spring on top of another: softer than either."),
    Term("Nested", "", "One spring inside or beside another on one pair of seats: rates add up."),
    Term("Initial tension", "F0", "Force that holds an extension spring's coils together."),
    Term("Usable travel", "", "Travel that keeps clear of solid, of a set and of buckling."),
    Term("Set", "", "What a spring stays shorter by after it was loaded too far."),
    Term("Surging", "", "Waves that run through the coils of a spring moved as fast as they do."),
    Term("Buckling", "", "Bending out sideways, of long slim springs without a rod or tube."),
    Term("Shear modulus", "G", "How stiff the wire's metal is in twist, in GPa."),
    Term("Reference", "", "The thing of known size in the photo: card, coin, ruler or paper."),
    Term("Flag", "", "A sentence about a measurement that went well enough, but not perfectly."),
)


def markdown() -> str:
    """Return the glossary as a document."""
    rows = [f"| {one.name} | {one.symbol} | {one.meaning} |" for one in TERMS]
    head = ["# Glossary", "", "| term | symbol | meaning |", "|---|---|---|"]
    return "\n".join([*head, *rows]) + "\n"


if __name__ == "__main__":
    print(markdown(), end="")
