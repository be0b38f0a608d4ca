"""Look at the wire strand by strand once the helix is known roughly, and fit it again.

The wire map tells where wire is; its edge bends where strands cross, in their shade and where the
table is as busy as the wire. Read strand by strand, the edges are several times sharper.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from vision.camera import Camera, DoubtedCamera
from vision.close_wound import nearly_touching
from vision.edge_reader import Edges, read_edges
from vision.fitted import FittedSpring, has_hooks, prior_of_body, wire_px
from vision.helix import End, Helix, centre_line
from vision.strips import Stations, stations_along
from vision.touching import Traced
from vision.tube_fit import fit, residuals

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: Points of the centre line for each turn, fine enough to tell its direction.
PER_TURN = 72
#: Turns next to a ground end whose wire is round no more.
GROUND_TURNS = 0.75
#: Standard deviation of an edge over the mean deviation claimed for it (Laplace).
SPREAD = 1.4
#: The map's outline counts where no edge was read within this many half wires.
ASIDE = 0.7
#: Share of their difference that is the map's fault: neither is the better by far, on the whole.
MAP_SHARE = 0.5
#: Residual at which an edge's pull fades, round by round [spreads]: the last two are only made
#: where the wire's width still changes by more than this share.
SOFTNESS, SETTLED = (3.0, 2.0, 2.0, 2.0), 0.015
#: Wire read as less than this share of the pitch does not touch its neighbour.
APART = 0.962
#: Fewer edges than this tell nothing that the map does not.
LEAST_EDGES = 60


def sharpen(
    rgb: Pixels, found: FittedSpring, camera: DoubtedCamera, scaled: bool = True
) -> FittedSpring:
    """Return the spring fitted to the edges of its strands, as read from the photo.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photo.
    found : FittedSpring
        As fitted to the wire map.
    camera : DoubtedCamera
        As for that fit.
    scaled : bool
        Whether anything tells the slant: aslant, turns that touch look narrower than their pitch.
    """
    if found.touching:
        if not scaled or has_hooks(found) or not _stands_apart(rgb, found):
            return found
        found = nearly_touching(found, camera)
    beyond_px, wire = 0.0, 0.0
    for number, softness in enumerate(SOFTNESS):
        if number > 1 and abs(found.helix.wire_mm / wire - 1.0) < SETTLED:
            break
        wire = found.helix.wire_mm
        edges = read_edges(rgb, stations_of(found.helix, found.camera))
        if len(edges.points_px) < LEAST_EDGES:
            return found
        outline = found.outline_px[found.used]
        far, _ = cKDTree(edges.points_px).query(outline)
        aside = far > ASIDE * 0.5 * wire_px(found)
        points = Traced.of(outline[aside], beyond_px).and_(_traced(edges))
        before = prior_of_body(found.helix)
        better = fit(found.helix, camera, points, before, softness, shifts=found.fit.shifts)
        found = replace(found, helix=better.helix, fit=better)
        # The map errs by as much at the flanks, where no edges are read, as where they are.
        if (~aside).sum() >= LEAST_EDGES:
            beside = np.median(residuals(found.helix, found.camera, outline[~aside]))
            beyond_px = MAP_SHARE * float(beside)
    return found


def _stands_apart(rgb: Pixels, found: FittedSpring) -> bool:
    """Tell whether the wire of turns that seem to touch is read as thinner than their pitch."""
    edges = read_edges(rgb, stations_of(found.helix, found.camera))
    if len(edges.points_px) < LEAST_EDGES:
        return False
    beside = residuals(found.helix, found.camera, _traced(edges))
    narrower = 2.0 * float(np.average(beside, weights=1.0 / edges.deviation_px))
    wide = found.helix.wire_mm * (1.0 + narrower / wire_px(found))
    return wide < APART * float(np.exp(found.helix["log_pitch"]))


def stations_of(helix: Helix, camera: Camera) -> Stations:
    """Return the stations along a helix, those of ground wire marked as out of sight."""
    count = int(np.ceil(PER_TURN * max(helix.turns, 0.5))) + 1
    turn = np.linspace(helix["start"], helix["stop"], count)
    found = stations_along(centre_line(helix, turn), turn, 0.5 * helix.wire_mm, camera)
    shown = found.seen.copy()
    if helix.ends[0] is End.GROUND:
        shown[found.turn < helix["start"] + GROUND_TURNS] = False
    if helix.ends[1] is End.GROUND:
        shown[found.turn > helix["stop"] - GROUND_TURNS] = False
    return replace(found, seen=shown)


def _traced(edges: Edges) -> Traced:
    spread = SPREAD * edges.deviation_px
    return Traced(edges.points_px, edges.turn, spread, np.zeros(len(spread)))
