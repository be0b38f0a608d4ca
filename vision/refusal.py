"""A photo that cannot be measured is a value with its reason, never an exception or a guess."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a photo was not measured.

    Attributes
    ----------
    reason : str
        Short code, such as ``no-reference``.
    stage : str
        Where it happened: ``photo``, ``scale``, ``view`` or ``geometry``.
    message : str
        What is wrong, in plain words.
    try_this : str
        What to do about it.
    """

    reason: str
    stage: str
    message: str
    try_this: str
