"""A turn of a close-coiled spring, whatever the section of its wire: exact elasticity of a ring.

A ring loaded along its axis bears only shear, which follows from one stress function f that
vanishes on the section's edge [1]_: f_rr - 3 f_r / r + f_zz = -2, or, weakly,
integral of grad f . grad v / r^3 = integral of 2 v / r^3. Polynomials times a bubble that vanishes
on the edge solve it (Ritz). With I = integral of f / r^3 a turn gives way by pi / (G I) under unit
force, and the stress is |grad f| / (2 I r^2).

References
----------
.. [1] Goehner's problem, in Timoshenko and Goodier, Theory of Elasticity, torsion of a ring sector
   (from memory; the resultants and the deflection were derived anew, see docs/mechanics.md).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
#: Places (x, z) to a function that vanishes on the edge, and its slopes along x and z.
Bubble = Callable[[Array, Array], tuple[Array, Array, Array]]


@dataclass(frozen=True, slots=True)
class Places:
    """Where a section is looked at; x away from the coil's axis, z along it, from the middle.

    Attributes
    ----------
    x, z, weight : ndarray, shape (k,)
        Points and weights of integrals over the section [mm, mm, mm^2].
    edge_x, edge_z : ndarray, shape (m,)
        Points of its edge, where the highest stress is [mm].
    """

    x: Array
    z: Array
    weight: Array
    edge_x: Array
    edge_z: Array


@dataclass(frozen=True, slots=True)
class Turn:
    """What one turn does.

    Attributes
    ----------
    compliance : float
        Its deflection under unit force, times the shear modulus [1/mm].
    stress : float
        Highest shear stress under unit force [1/mm^2].
    """

    compliance: float
    stress: float


def solve_turn(
    bubble: Bubble, places: Places, radius: float, half: tuple[float, float], order: int = 13
) -> Turn:
    """Return what a turn of a section does, which must be alike above and below its middle.

    Parameters
    ----------
    bubble : callable
        Vanishes on the section's edge and nowhere within [-].
    places : Places
        Of the section.
    radius : float
        Of the section's middle from the coil's axis [mm].
    half : (float, float)
        Half the section's extent along x and z, by which powers are scaled [mm].
    order : int
        Highest power along each side [-].
    """
    r = radius + places.x
    f, fx, fz = _basis(bubble, places.x, places.z, half, order)
    weight = places.weight / r**3
    stiff = (fx * weight) @ fx.T + (fz * weight) @ fz.T
    load = 2.0 * f @ weight
    share = np.linalg.solve(stiff, load)
    inside = 0.5 * float(share @ load)
    _, ex, ez = _basis(bubble, places.edge_x, places.edge_z, half, order)
    slope = np.hypot(share @ ex, share @ ez) / (radius + places.edge_x) ** 2
    return Turn(float(np.pi / inside), float(slope.max() / (2.0 * inside)))


def _basis(
    bubble: Bubble, x: Array, z: Array, half: tuple[float, float], order: int
) -> tuple[Array, Array, Array]:
    """Return bubble times polynomials even in z, and their slopes, shape (n, k)."""
    w, wx, wz = bubble(x, z)
    across = np.polynomial.legendre.legvander(x / half[0], order).T
    along = np.polynomial.legendre.legvander(z / half[1], 2 * (order // 2))[:, ::2].T
    steps = np.polynomial.legendre.legder(np.eye(order + 1)).T
    across_x = _vander(x / half[0], order - 1) @ steps.T if order else np.zeros_like(across.T)
    even = np.eye(2 * (order // 2) + 1)
    along_z = (_vander(z / half[1], 2 * (order // 2) - 1) @ np.polynomial.legendre.legder(even))[
        :, ::2
    ]
    p = (across[:, None] * along[None]).reshape(-1, x.size)
    px = (across_x.T[:, None] * along[None]).reshape(-1, x.size) / half[0]
    pz = (across[:, None] * along_z.T[None]).reshape(-1, x.size) / half[1]
    return w * p, wx * p + w * px, wz * p + w * pz


def _vander(at: Array, order: int) -> Array:
    return np.asarray(np.polynomial.legendre.legvander(at, order))


def rectangle(width: float, height: float, points: int = 24) -> tuple[Bubble, Places]:
    """Return the bubble and the places of a rectangle.

    Parameters
    ----------
    width, height : float
        Sides across and along the coil's axis [mm].
    points : int
        Of the integral along each side [-].
    """
    a, c = 0.5 * width, 0.5 * height

    def bubble(x: Array, z: Array) -> tuple[Array, Array, Array]:
        u, v = x / a, z / c
        across, along = 1.0 - u**2, 1.0 - v**2
        return across * along, -2.0 * u / a * along, -2.0 * v / c * across

    node, weight = np.polynomial.legendre.leggauss(points)
    x, z = (grid.ravel() for grid in np.meshgrid(a * node, c * node))
    area = a * c * np.outer(weight, weight).ravel()
    side = np.linspace(-1.0, 1.0, 201)
    one = np.ones_like(side)
    edge_x = np.concatenate([-a * one, a * one, a * side])
    edge_z = np.concatenate([c * side, c * side, c * one])
    return bubble, Places(x, z, area, edge_x, edge_z)
