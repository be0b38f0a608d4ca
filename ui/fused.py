"""Several photos of one spring: the answer that they give together, for the command line."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from mechanics.geometry import NAMES
from mechanics.materials import Material
from ui.answer import Answer, answer_of
from ui.batch import Outcome, advice
from ui.contract import GEOMETRY_KEYS, budget_of, refused_object
from ui.figures import answer_lines
from ui.measuring import OWN_READING
from ui.quantities import as_json
from ui.words import plain
from vision.fuse import Fused, fuse
from vision.measure import Measurement
from vision.refusal import Refusal

#: How much wider than by noise alone a band must be for the reason to be told.
MUCH_MORE = 1.1


@dataclass(frozen=True, slots=True)
class Together:
    """What photos of one spring give together.

    Attributes
    ----------
    photos : tuple of str
        Those that were measured, in order.
    fused : Fused or Refusal
        The spring, or why they do not go together.
    answer : Answer or None
        Its rate and all else; None where there is no spring.
    band_left : float
        The wire's u over that of one photo, the middle one of those that count [-].
    alike : str
        What the photos may all have wrong alike, in words.
    """

    photos: tuple[str, ...]
    fused: Fused | Refusal
    answer: Answer | None
    band_left: float = float("nan")
    alike: str = ""

    @property
    def refused(self) -> bool:
        """Whether there is no fused spring."""
        return self.answer is None

    def as_json(self) -> dict[str, Any]:
        """Return the object that follows those of the photos."""
        if isinstance(self.fused, Refusal) or self.answer is None:
            assert isinstance(self.fused, Refusal)
            return {"photos": list(self.photos), **_without_photo(self.fused)}
        told, fused = self.answer.told, self.fused
        out: dict[str, Any] = {
            "photos": [self.photos[i] for i in fused.used],
            "status": "fused",
            "kind": fused.kind,
            "hand": fused.hand,
            "ends": str(fused.geometry.ends),
            "geometry": {name: as_json(told[name]) for name in GEOMETRY_KEYS},
            "covariance": {"names": list(NAMES), "matrix": fused.geometry.covariance.tolist()},
            "material": self.answer.material.name,
            "shear_modulus_GPa": round(self.answer.material.shear_modulus_GPa, 6),
            "rate_N_per_mm": as_json(told["rate_N_per_mm"]),
            "budget": budget_of(self.answer),
            "agreement": {
                "chi2": float(f"{fused.chi2:.4g}"),
                "dof": fused.dof,
                "chance": float(f"{fused.chance:.3g}"),
                "differs_most_in": fused.difference,
                "farthest": None if fused.farthest is None else self.photos[fused.farthest],
            },
            "left_out": [self.photos[i] for i in fused.left_out],
            "wire_u_over_one_photo": float(f"{self.band_left:.3g}"),
            "flags": list(fused.flags),
        }
        if fused.kind == "conical":
            out["taper"] = fused.geometry.small_end_ratio
            out["u_taper"] = fused.geometry.u_small_end_ratio
        return out

    def as_text(self) -> str:
        """Return the same for people."""
        if isinstance(self.fused, Refusal) or self.answer is None:
            assert isinstance(self.fused, Refusal)
            return f"Together: not fused. {self.fused.message} {self.fused.try_this}\n"
        fused = self.fused
        head = f"Together, {len(fused.used)} photos: {fused.kind} spring, hand {fused.hand}"
        head += f", ends {fused.geometry.ends}"
        said = [f"Left out: {self.photos[i]}" for i in fused.left_out]
        if fused.farthest is not None:
            said.append(f"{self.photos[fused.farthest]} lies farthest from the others.")
        differ = f"They differ most in {fused.difference}; a difference of this size or more "
        differ += f"comes by chance in {fused.chance:.1%} of such sets."
        said += [differ, *self._band_words(fused)]
        return "\n".join([head, *answer_lines(self.answer), *said, *advice(fused.flags), ""])

    def _band_words(self, fused: Fused) -> list[str]:
        """Return why so many photos do not narrow the band as noise alone would let them."""
        count = len(fused.used)
        noise_alone = count**-0.5
        # Photos that disagree have a wider band for another reason, which their flag tells.
        if "photos-disagree" in fused.flags or self.band_left < MUCH_MORE * noise_alone:
            return []
        return [
            f"The wire's band is {self.band_left:.0%} as wide as that of one photo; {count} photos "
            f"that have nothing in common would leave {noise_alone:.0%}. What they may all have "
            f"wrong alike stays, however many they are: {self.alike}."
        ]


def together(outcomes: Sequence[Outcome], material: Material) -> Together:
    """Return what the measured photos give together.

    Parameters
    ----------
    outcomes : sequence of Outcome
        Of photos of one spring.
    material : Material
        Wire material.
    """
    seen = [
        (one.photo, one.seen)
        for one in outcomes
        if isinstance(one.seen, Measurement) and not one.refused
    ]
    names = tuple(name for name, _ in seen)
    fused = fuse([one for _, one in seen])
    if isinstance(fused, Refusal):
        return Together(names, fused, None)
    kept = [seen[i][1] for i in fused.used]
    left = _wire_u(fused) / float(np.median([_wire_u(one) for one in kept]))
    try:
        return Together(names, fused, answer_of(fused.geometry, material), left, _alike(kept))
    except ValueError as problem:
        said = plain(str(problem))
        none = Refusal("no-working-coil", "geometry", said, "Count the turns and name the ends.")
        return Together(names, none, None)


def _wire_u(spring: Fused | Measurement) -> float:
    return float(spring.geometry.covariance[0, 0] ** 0.5)


def _alike(photos: Sequence[Measurement]) -> str:
    """Return what photos of one spring may all have wrong alike."""
    own_reading = any(one.cause == OWN_READING for photo in photos for one in photo.shared)
    scale = "your own reading" if own_reading else "the size of what lies beside it, the lens"
    return f"how this wire looks in this light, {scale}"


def _without_photo(refusal: Refusal) -> dict[str, Any]:
    return {k: v for k, v in refused_object("", refusal).items() if k != "photo"}
