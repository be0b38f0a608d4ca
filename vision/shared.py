"""What else in a photo's geometry other photos of the spring would have wrong in the same way."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.fitted import FittedSpring
from vision.geometry import effects_of_doubts
from vision.photo import Photo
from vision.scale import Scale

Array = NDArray[np.float64]

#: Causes that belong to the thing laid down or to the lens; the others change with every photo.
_OF_THE_THING = ("size", "pitch", "thickness")
_OF_THE_LENS = ("focal length", "lens")


@dataclass(frozen=True, slots=True)
class SharedError:
    """One cause of error that other photos share.

    Attributes
    ----------
    cause : str
        By which it is known again in another photo.
    effect : ndarray, shape (4,)
        On a geometry's values, at one standard uncertainty of the cause [mm, mm, -, mm].
    """

    cause: str
    effect: Array


def shared_errors(
    photo: Photo, scale: Scale | None, found: FittedSpring
) -> tuple[SharedError, ...]:
    """Return what a measurement owes to the reference's own size and to the lens.

    Two photos beside a card are taken to be beside the same card: the cautious reading.

    Parameters
    ----------
    photo : Photo
        The photo.
    scale : Scale or None
        None where only proportions are known: then nothing of the kind is shared.
    found : FittedSpring
        The spring in it.
    """
    if scale is None:
        return ()
    out: list[SharedError] = []
    for (cause, _), effect in zip(scale.variants, effects_of_doubts(found).T, strict=True):
        if cause in _OF_THE_LENS:
            name = f"lens of {photo.focal_35mm or 0.0:g} mm: {cause}"
        elif cause.endswith(_OF_THE_THING):
            name = f"{scale.reference.kind}: {cause}"
        else:
            continue
        # A cause moves the camera in more than one way, each with a sign that is nobody's choice:
        # the one that makes the coil larger.
        turn = sum(one.cause.startswith(name) for one in out)
        way = 1.0 if effect[1] >= 0.0 else -1.0
        out.append(SharedError(f"{name} ({turn})", way * effect))
    return tuple(out)
