"""What the command line prints with ``--json``: one object a line, keys as agreed."""

from collections.abc import Mapping
from typing import Any, Protocol

from mechanics.geometry import NAMES, SpringGeometry
from mechanics.uncertainty import Quantity
from ui.answer import Answer
from ui.quantities import as_json
from vision.draw import Array
from vision.refusal import Refusal
from vision.scale import Scale

#: Dimensions that a measured photo's ``geometry`` holds; the agreement allows more.
GEOMETRY_KEYS = (
    "wire_diameter_mm",
    "outer_diameter_mm",
    "mean_diameter_mm",
    "inner_diameter_mm",
    "pitch_mm",
    "total_coils",
    "active_coils",
    "free_length_mm",
    "solid_length_mm",
    "spring_index",
)


class Measured(Protocol):
    """What is needed of a measurement here."""

    @property
    def geometry(self) -> SpringGeometry:
        """Dimensions with covariance; in wire diameters where there is no scale."""

    @property
    def kind(self) -> str:
        """Compression, extension or conical."""

    @property
    def hand(self) -> str:
        """Right, left or unknown."""

    @property
    def scale(self) -> Scale | None:
        """None where only proportions are known."""

    @property
    def outline_px(self) -> tuple[Array, ...]:
        """Outlines of the fitted wire, each (N, 2)."""

    @property
    def axis_px(self) -> Array:
        """Ends of the axis, (2, 2)."""

    @property
    def length_px(self) -> Array | None:
        """Ends of the free length on it, (2, 2), where hooks reach beyond the turns."""

    @property
    def taper(self) -> float | None:
        """Of a cone."""

    @property
    def flags(self) -> tuple[str, ...]:
        """Codes of what should be told."""

    @property
    def timings_ms(self) -> Mapping[str, float]:
        """By stage."""


def rate_object(answer: Answer) -> dict[str, Any]:
    """Return the object that ``coilreckon rate --json`` prints."""
    ratio = answer.geometry.small_end_ratio
    return {
        "status": "reckoned",
        "material": answer.material.name,
        **{name: as_json(q) for name, q in answer.told.items()},
        **({"taper": float(f"{ratio:.6g}")} if ratio < 1.0 else {}),
        "budget": budget_of(answer),
    }


def measured_object(photo: str, seen: Measured, answer: Answer) -> dict[str, Any]:
    """Return the object of a photo that was measured to scale.

    Parameters
    ----------
    photo : str
        Its name, as it was given.
    seen : Measured
        What was seen in it.
    answer : Answer
        What follows from it.
    """
    told = answer.told
    out: dict[str, Any] = {
        "photo": photo,
        "status": "measured",
        "kind": seen.kind,
        "hand": seen.hand,
        "ends": str(seen.geometry.ends),
        "reference": _reference(seen.scale),
        "geometry": {name: as_json(told[name]) for name in GEOMETRY_KEYS},
        "covariance": {"names": list(NAMES), "matrix": seen.geometry.covariance.tolist()},
        "material": answer.material.name,
        "shear_modulus_GPa": round(answer.material.shear_modulus_GPa, 6),
        "rate_N_per_mm": as_json(told["rate_N_per_mm"]),
        "budget": budget_of(answer),
        "flags": list(seen.flags),
        "timings_ms": _timings(seen),
    }
    if seen.taper is not None:
        out["taper"] = seen.taper
        out["u_taper"] = seen.geometry.u_small_end_ratio
    return out


def proportions_object(
    photo: str, seen: Measured, proportions: Mapping[str, Quantity]
) -> dict[str, Any]:
    """Return the object of a photo without a scale: what does not depend on one."""
    return {
        "photo": photo,
        "status": "proportions",
        "kind": seen.kind,
        "hand": seen.hand,
        "ends": str(seen.geometry.ends),
        **{name: as_json(q) for name, q in proportions.items()},
        "flags": list(seen.flags),
        "timings_ms": _timings(seen),
    }


def refused_object(photo: str, refusal: Refusal) -> dict[str, Any]:
    """Return the object of a photo that was refused."""
    return {
        "photo": photo,
        "status": "refused",
        "reason": refusal.reason,
        "stage": refusal.stage,
        "message": refusal.message,
        "try": refusal.try_this,
    }


def budget_of(answer: Answer) -> list[dict[str, Any]]:
    """Return the rate's budget by cause."""
    return [
        {"cause": part.cause, "u_relative": float(f"{part.u_relative:.4g}")}
        for part in answer.rate.budget
    ]


def _timings(seen: Measured) -> dict[str, float]:
    return {stage: round(float(ms), 1) for stage, ms in seen.timings_ms.items()}


def _reference(scale: Scale | None) -> dict[str, Any]:
    if scale is None:
        return {"kind": "none"}
    return {
        "kind": scale.reference.kind,
        "size_mm": list(scale.reference.size_mm),
        "u_mm": scale.reference.u_mm,
        "source": scale.reference.source,
        "tilt_deg": round(scale.camera.tilt_deg, 2),
        "residual_px": round(scale.residual_px, 3),
    }
