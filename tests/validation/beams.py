"""Springs as straight 3-D beams along the helix, solved by PyNiteFEA, a general frame library.

Nothing of `mechanics` is used: geometry, sections and supports are laid out here. The ends of the
wire are carried to the axis by arms a thousand times stiffer. Both may tilt, so that the load is
central, as the formula takes it; the upper may move along the axis only (held) or turn about it
as well (free). With ``flat`` the ends may not tilt, as between parallel plates. The beams are
straight and without shear, so the curvature of the wire within its own section is not in them:
at index 5 that is 0.75 % by the elasticity solution in `test_textbooks`.

``python -m tests.validation.beams`` prints the table of docs/mechanics.md.
"""

import math
import warnings
from dataclasses import dataclass

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from Pynite import FEModel3D

G, E = 80e3, 208e3
PER_TURN = 36


@dataclass(frozen=True)
class Case:
    """Index at the large end, helix angle there [deg], small end over large, turns, sides.

    Sides of rectangular wire are across and along the axis [mm]; the index is by the first.
    """

    index: float
    angle: float
    ratio: float = 1.0
    turns: int = 6
    sides: tuple[float, float] | None = None


#: Cylinders over index 5 to 14 and helix angles to 12 degrees, and cones.
CASES = (
    Case(5, 3),
    Case(5, 7),
    Case(5, 12),
    Case(8, 3),
    Case(8, 7),
    Case(8, 12),
    Case(14, 3),
    Case(14, 7),
    Case(14, 12),
    Case(10, 5, 0.8),
    Case(10, 5, 0.6),
    Case(14, 8, 0.5),
    Case(12, 3, 0.4),
)


#: J = k b t^3 of rectangular bars by b/t: Timoshenko's table (from memory).
BARS = {1.0: 0.1406, 1.5: 0.196, 2.0: 0.229, 3.0: 0.263}


def _section(case: Case, d: float) -> tuple[float, float, float, float]:
    """Area, second moments within the coil's plane and out of it, torsion constant."""
    if case.sides is None:
        inertia = math.pi * d**4 / 64
        return math.pi * d**2 / 4, inertia, inertia, 2 * inertia
    b, h = case.sides
    long, short = max(b, h), min(b, h)
    J = BARS[round(long / short, 6)] * long * short**3
    return b * h, h * b**3 / 12, b * h**3 / 12, J


def _nodes(case: Case, d: float):
    """Points of the wire's centre line, set out so that the chords' sum of r^2 is the circle's."""
    D, n = case.index * d, case.turns
    pitch = math.pi * D * math.tan(math.radians(case.angle))
    half = math.pi / PER_TURN
    chord = math.sin(half) / half * (1.0 - 2.0 / 3.0 * math.sin(half) ** 2)
    count = n * PER_TURN
    for k in range(count + 1):
        radius = 0.5 * D * (1.0 - (1.0 - case.ratio) * k / count) / chord ** (1 / 3)
        turn = 2.0 * math.pi * k / PER_TURN
        yield radius * math.cos(turn), pitch * k / PER_TURN, radius * math.sin(turn)


def beam_rate(case: Case, d: float = 1.0, free: bool = False, flat: bool = False) -> float:
    """Rate of the spring as beams [N/mm]; axis along Y."""
    model = FEModel3D()
    model.add_material("steel", E, G, E / (2 * G) - 1, 7.85e-6)
    d = d if case.sides is None else case.sides[0]
    area, within, out_of, torsion = _section(case, d)
    model.add_section("wire", area, within, out_of, torsion)
    stiff = 1e3 * max(within, out_of, torsion / 2)
    model.add_section("arm", 1e3, stiff, stiff, 2 * stiff)
    nodes = list(_nodes(case, d))
    for k, (x, y, z) in enumerate(nodes):
        model.add_node(f"n{k}", x, y, z)
        if k:
            model.add_member(f"w{k}", f"n{k - 1}", f"n{k}", "steel", "wire")
    last = len(nodes) - 1
    for name, k in (("foot", 0), ("head", last)):
        model.add_node(name, 0.0, nodes[k][1], 0.0)
        model.add_member(f"arm-{name}", name, f"n{k}", "steel", "arm")
    model.def_support("foot", True, True, True, flat, True, flat)
    model.def_support("head", True, False, True, flat, not free, flat)
    model.add_node_load("head", "FY", -1.0)
    model.analyze_linear(log=False, check_stability=False)
    return 1.0 / -model.nodes["head"].DY["Combo 1"]


def main() -> None:
    """Print the table."""
    from tests.validation.test_beams import ours

    print("| index | angle | small/large end | beams, held | beams, free | ours | difference |")
    print("|---|---|---|---|---|---|---|")
    for case in CASES:
        held, free, mine = beam_rate(case), beam_rate(case, free=True), ours(case)
        off = mine / (0.5 * (held + free)) - 1.0
        print(
            f"| {case.index:g} | {case.angle:g}° | {case.ratio:g} | {held:.4f} | {free:.4f} "
            f"| {mine:.4f} | {off:+.2%} |"
        )


if __name__ == "__main__":
    main()
