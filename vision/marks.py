"""What a person marked in a photo where the program saw nothing: seeds that the fit refines."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.refusal import Refusal

Array = NDArray[np.float64]
Points = tuple[tuple[float, float], ...]

#: How far a finger is off, of the picture's long side, one standard uncertainty: a judgement [-].
U_TAP = 0.006


@dataclass(frozen=True, slots=True)
class Marks:
    """Points of a photo (x, y) [px].

    Attributes
    ----------
    spring_px : tuple of two points, or empty
        The two ends of the spring, where its axis leaves it.
    reference_px : tuple of points, or empty
        The four corners of a card or sheet in any order; two opposite points of a coin's rim; or
        two points whose distance is known.
    distance_mm : float or None
        The distance of those two, where the person knows it [mm].

    Raises
    ------
    ValueError
        If a number of points does not suit, two fall together or the distance is not positive;
        the message is a sentence for the person.
    """

    spring_px: Points = ()
    reference_px: Points = ()
    distance_mm: float | None = None

    def __post_init__(self) -> None:
        if len(self.spring_px) not in (0, 2):
            raise ValueError("mark the two ends of the spring, one point each")
        if len(self.reference_px) not in (0, 2, 4):
            raise ValueError(
                "mark the four corners of a card or sheet, or two points of known distance"
            )
        for points in (self.spring_px, self.reference_px):
            if len(points) and min(_gaps(np.array(points))) < 8.0:
                raise ValueError("two marks fall together; mark them apart")
        if self.distance_mm is not None and not 0.5 <= self.distance_mm <= 2000.0:
            raise ValueError("the distance of the two marks must be 0.5 to 2000 mm")


def outside(marks: Marks, shape: tuple[int, ...]) -> Refusal | None:
    """Return the refusal of marks that lie outside a photo of that shape, as a cut address has.

    Parameters
    ----------
    marks : Marks
        What was marked.
    shape : tuple of int
        Height and width first [px].
    """
    at = np.array([*marks.spring_px, *marks.reference_px]).reshape(-1, 2)
    if bool(((at >= 0.0) & (at <= np.array(shape[1::-1]))).all()):
        return None
    return Refusal(
        "marks-outside",
        "view",
        "A mark lies outside the photo.",
        "Mark the places in this photo once more.",
    )


def _gaps(points: Array) -> list[float]:
    return [
        float(np.linalg.norm(points[i] - points[j]))
        for i in range(len(points))
        for j in range(i + 1, len(points))
    ]


def u_tap_px(shape: tuple[int, ...]) -> float:
    """Return how far a mark is off in a photo of that shape, one standard uncertainty [px]."""
    return U_TAP * max(shape[:2])
