"""What should be told about a measurement that went well enough: each flag once, in plain words."""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Flag:
    """One thing to tell.

    Attributes
    ----------
    code : str
        As it stands in results, such as ``tilted``.
    short : str
        A few words, for a list.
    sentence : str
        What it means, for the person.
    try_this : str
        What to do about it.
    """

    code: str
    short: str
    sentence: str
    try_this: str


_FLAGS = (
    Flag(
        "tilted",
        "taken at a slant",
        "The photo was taken well off the vertical, so heights matter more.",
        "Hold the phone level above the spring.",
    ),
    Flag(
        "few-pixels",
        "wire only a few pixels wide",
        "The wire is less than 12 pixels wide in this photo, so its diameter is uncertain.",
        "Go closer, or use the camera's full size, and keep the reference in the picture.",
    ),
    Flag(
        "blurred",
        "out of focus",
        "The wire's edges are soft, so its diameter is uncertain.",
        "Tap on the spring to focus, hold still, and give it more light.",
    ),
    Flag(
        "glare",
        "strong highlights",
        "Parts of the wire are washed out by light or lost in shadow.",
        "Turn the spring or the lamp so that no bright streak runs along the wire.",
    ),
    Flag(
        "shadow",
        "deep shadow",
        "Part of the spring lies in deep shadow, where its wire is hard to tell from the table.",
        "Light it from more than one side, and keep your own shadow off it.",
    ),
    Flag(
        "far",
        "taken from far away",
        "Spring and reference fill little of the picture, so every length is uncertain.",
        "Go closer until they fill at least a third of it.",
    ),
    Flag(
        "cut-off",
        "spring leaves the picture",
        "Part of the spring lies outside the picture, so its length and turns are not whole.",
        "Take the whole spring with some table around it.",
    ),
    Flag(
        "hook-unseen",
        "hooks unlike",
        "One hook was seen to reach less far than the other, or not at all; the free length is "
        "longer if part of it was missed.",
        "Look at the drawn length, and measure over both hooks with a caliper.",
    ),
    Flag(
        "few-coils",
        "few working coils",
        "With fewer than four working coils the ends count for much, and the formula is rough.",
        "Check the rate with a weight.",
    ),
    Flag(
        "turns-close",
        "turns nearly touch",
        "The turns nearly touch, so the wire's edges lie in each other's shade and its width is "
        "less sure.",
        "Check the wire with a caliper.",
    ),
    Flag(
        "hand-unknown",
        "hand not seen",
        "Which way the spring is wound could not be told. It does not change the rate.",
        "Look at it: a right-hand spring winds like a common screw.",
    ),
    Flag(
        "ends-unknown",
        "ends not seen",
        "How the ends are made could not be told, so the working coils are uncertain.",
        "Name the ends yourself.",
    ),
    Flag(
        "turns-uncertain",
        "turns hard to count",
        "The turns could not be counted to a quarter.",
        "Count them yourself and compare.",
    ),
    Flag(
        "focal-unknown",
        "lens not known",
        "The photo does not say which lens took it, so the heights are corrected by a guess.",
        "Use the photo as the camera saved it, not one sent by a messenger.",
    ),
    Flag(
        "reference-small",
        "reference small in the picture",
        "The reference covers few pixels, so the scale is uncertain.",
        "Go closer, or use a larger one, such as a card.",
    ),
    Flag(
        "reference-cut",
        "reference cut by the border",
        "Part of the reference lies outside the picture, so the scale is uncertain.",
        "Leave some table around it.",
    ),
    Flag(
        "reference-misshapen",
        "reference fits badly",
        "The outline does not quite have the reference's shape: bent, worn or partly hidden?",
        "Lay it flat and whole in view, and check that the right reference was named.",
    ),
    Flag(
        "paper-size-assumed",
        "paper taken as A4",
        "The sheet was taken to be A4; other sheets of the A series have the same shape.",
        "Name the sheet if it is A5 or A6.",
    ),
    Flag(
        "coin-rim-unsure",
        "coin's edge in doubt",
        "What was taken for the coin's edge may be a line of its face, and the scale far off.",
        "See whether the line drawn around the coin lies on its edge; mark the coin if not.",
    ),
    Flag(
        "several-coins",
        "more than one coin",
        "Several coins are in the picture, and one of them was taken to be the coin named.",
        "Look at the drawing, or leave one coin only.",
    ),
    Flag(
        "marked-by-hand",
        "scale from marks set by hand",
        "The scale rests on marks set by hand, and a finger is not fine: the band is wider.",
        "A photo with a card or coin that stands out from the table says more.",
    ),
    Flag(
        "photos-disagree",
        "photos do not agree",
        "The photos differ by more than their bands allow, so the band was widened to hold them.",
        "Check that all show the same spring, and look at each drawing before you trust any.",
    ),
    Flag(
        "photo-left-out",
        "photo left out",
        "A photo that does not go with the others was left out.",
        "Look at its drawing, and check that it shows the same spring and the right reference.",
    ),
    Flag(
        "ends-differ",
        "ends seen differently",
        "The photos show different kinds of ends; what most of them show was taken.",
        "Name the ends yourself.",
    ),
    Flag(
        "hand-differs",
        "hand seen differently",
        "The photos show different hands; what most of them show was taken.",
        "Look at it: a right-hand spring winds like a common screw.",
    ),
    Flag(
        "print-unchecked",
        "print not checked",
        "The printed sheet was taken to be printed at its true size; a printer that fits it to the "
        "page makes it some per cent smaller.",
        "Measure the line on the sheet and tell its length (--check-line).",
    ),
    Flag(
        "rough-fit",
        "model fits badly",
        "The fitted spring does not follow the wire well; look at the drawing before you trust it.",
        "Compare the drawn outline with the wire, and take another photo if they part.",
    ),
    Flag(
        "cross-check",
        "two ways of looking disagree",
        "Two independent ways of reading the wire's diameter disagree.",
        "Measure the wire with a caliper and compare.",
    ),
)

FLAGS = {flag.code: flag for flag in _FLAGS}

#: Which to tell first: what may make the answer wrong outright, then what widens its band most,
#: then what does neither. A judgement, no source.
_ORDER = (
    "photos-disagree",
    "photo-left-out",
    "cut-off",
    "rough-fit",
    "cross-check",
    "hook-unseen",
    "coin-rim-unsure",
    "reference-misshapen",
    "several-coins",
    "marked-by-hand",
    "print-unchecked",
    "paper-size-assumed",
    "few-pixels",
    "blurred",
    "glare",
    "shadow",
    "far",
    "tilted",
    "reference-cut",
    "reference-small",
    "turns-uncertain",
    "ends-differ",
    "ends-unknown",
    "few-coils",
    "turns-close",
    "focal-unknown",
    "hand-differs",
    "hand-unknown",
)


def in_order(codes: Iterable[str]) -> tuple[str, ...]:
    """Return codes with the most important first; those that nobody has ranked come last."""
    rank = {code: place for place, code in enumerate(_ORDER)}
    return tuple(sorted(dict.fromkeys(codes), key=lambda code: rank.get(code, len(_ORDER))))


def find_flag(code: str) -> Flag:
    """Return the flag of that code.

    A code that nobody has put into words yet is told as it stands: a measurement is not lost
    for want of a sentence.
    """
    return FLAGS.get(code, Flag(code, code, f"Note: {code}.", "Look at the drawing closely."))
