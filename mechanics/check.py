"""Bad input is refused here, in one sentence that names the field, before anything is computed."""

import math
from typing import TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

#: A value, or draws of it.
Floats: TypeAlias = "float | NDArray[np.float64]"
#: All values, or all draws.
Real = TypeVar("Real", float, NDArray[np.float64])

#: Spring index that a coiler can make at all, with room; beyond it a unit is wrong.
INDEX_RANGE = (1.5, 60.0)
#: Plain limits of what this project reckons with [mm, -]: outside them a unit or a digit is wrong.
RANGES = {
    "wire_diameter_mm": (0.05, 30.0),
    "mean_diameter_mm": (0.3, 1000.0),
    "total_coils": (0.5, 1000.0),
    "free_length_mm": (0.3, 5000.0),
    "wire_width_mm": (0.05, 30.0),
    "wire_height_mm": (0.05, 30.0),
    "body_coils": (0.1, 1000.0),
    "leg_mm": (0.0, 1000.0),
}


def require_positive(**values: Floats) -> None:
    """Refuse a value that is not positive and finite.

    Raises
    ------
    ValueError
        Naming the field and its value.
    """
    for name, value in values.items():
        array = np.asarray(value, dtype=np.float64)
        sound = np.isfinite(array) & (array > 0.0)
        if not bool(sound.all()):
            raise ValueError(
                f"{name} must be a positive number, not {float(array[~sound].flat[0])!r}"
            )


def require_not_negative(**values: Floats) -> None:
    """Refuse a value that is negative, infinite or not a number.

    Raises
    ------
    ValueError
        Naming the field and its value.
    """
    for name, value in values.items():
        array = np.asarray(value, dtype=np.float64)
        sound = np.isfinite(array) & (array >= 0.0)
        if not bool(sound.all()):
            raise ValueError(
                f"{name} must be zero or a positive number, not {float(array[~sound].flat[0])!r}"
            )


def require_index(C: Floats) -> None:
    """Refuse a spring index that no coil can have: its wire would be thicker than the coil.

    Parameters
    ----------
    C : float
        Mean coil diameter over wire diameter [-].

    Raises
    ------
    ValueError
        If it is no number above 1.
    """
    require_positive(spring_index=C)
    least = float(np.min(C))
    if least <= 1.0:
        raise ValueError(f"spring_index must be above 1, not {least!r}")


def require_share(**values: float) -> None:
    """Refuse a value outside 0 to 1.

    Raises
    ------
    ValueError
        Naming the field and its value.
    """
    for name, value in values.items():
        if not (math.isfinite(value) and 0.0 <= value <= 1.0):
            raise ValueError(f"{name} must lie between 0 and 1, not {value!r}")


def require_dimension(name: str, value: float) -> None:
    """Refuse a dimension that no spring of this project has.

    Parameters
    ----------
    name : str
        A key of `RANGES`.
    value : float
        The dimension [mm, or turns].

    Raises
    ------
    ValueError
        Naming the field, its value and the limits.
    """
    low, high = RANGES[name]
    (require_positive if low > 0.0 else require_not_negative)(**{name: value})
    if not low <= value <= high:
        hint = "a digit too many?" if name.endswith("coils") else "is it in millimetres?"
        raise ValueError(f"{name} is {value:g}, outside {low:g} to {high:g}: {hint}")


def require_coil(d: float, D: float, name: str = "wire_diameter_mm") -> None:
    """Refuse a wire that does not go with its coil.

    Parameters
    ----------
    d : float
        Wire diameter, or the side across the axis of rectangular wire [mm].
    D : float
        Mean coil diameter [mm].
    name : str
        Of the field that holds it.

    Raises
    ------
    ValueError
        Naming both fields.
    """
    require_positive(**{name: d, "mean_diameter_mm": D})
    low, high = INDEX_RANGE
    if d >= D:
        raise ValueError(
            f"{name} ({d:g}) must be smaller than mean_diameter_mm ({D:g}): "
            "the wire is thicker than the coil"
        )
    if not low <= D / d <= high:
        raise ValueError(
            f"{name} ({d:g}) does not go with mean_diameter_mm ({D:g}): "
            f"their ratio {D / d:.3g} is outside {low:g} to {high:g}; is one of them in inches?"
        )
