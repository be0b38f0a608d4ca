"""What a helix covers in the picture: its wire's two edges, and a drawing of it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.camera import Camera
from vision.helix import End, Helix, along_axis, frame, is_upper, line_at, turns_of
from vision.map_view import MapView

Array = NDArray[np.float64]
Place = tuple[slice, slice]

#: Width at which the wire is drawn for comparison [px].
WIRE_PX = 12
#: Most that is drawn [px].
FAR_PX = 20_000.0
#: OpenCV fills a smooth shape as far beyond each side (mean of all directions, measured) [px].
DRAWN_BEYOND_PX = 0.7
#: From which turn between two pieces on the wire's flank shows between them [rad].
SHARPLY = 0.25
#: All of something, and all along the wire [turns].
WHOLE, ALL_TURNS = slice(None), (-np.inf, np.inf)


def edges_of(helix: Helix, camera: Camera, shown: slice = WHOLE) -> tuple[Array, Array]:
    """Return where the wire's two edges lie as the camera sees them, each (N, 3) [mm].

    The wire is round but for what grinding has taken off at its ends: there its section is a disc
    cut by the ground face, and the edge is where that reaches furthest aside.

    Parameters
    ----------
    helix : Helix
        The spring.
    camera : Camera
        The camera over the table.
    shown : slice
        Which of its sampled turns are asked for.
    """
    turn = turns_of(helix)
    x = along_axis(helix, turn)
    faces = zip(helix.ends, (x[0], x[-1]), (-1.0, 1.0), strict=True)
    turn, x = turn[shown], x[shown]
    line = line_at(helix, turn, x)
    aside = _aside(line, camera)
    radius = np.full(len(line), 0.5 * helix.wire_mm)
    one, other = radius, radius
    if End.GROUND in helix.ends:
        towards = aside @ frame(helix)[1][0]
        for face, way in ((face, way) for end, face, way in faces if end is End.GROUND):
            depth = np.clip(way * (face - x), -radius, radius)
            one = np.minimum(one, _reach(way * towards, radius, depth))
            other = np.minimum(other, _reach(-way * towards, radius, depth))
    return line + one[:, None] * aside, line - other[:, None] * aside


def _aside(line: Array, camera: Camera) -> Array:
    """Return the direction square to a line and to the line of sight, at its points (N, 3)."""
    aside = _across(_along(line), line - camera.position_mm)
    return np.asarray(aside / (np.sqrt((aside**2).sum(axis=1, keepdims=True)) + 1e-12))


def _along(line: Array) -> Array:
    """Return the direction of a line at each of its points (N, 3), of any length."""
    return np.concatenate([line[1:2] - line[:1], line[2:] - line[:-2], line[-1:] - line[-2:-1]])


def _across(a: Array, b: Array) -> Array:
    """Return the cross product of directions (N, 3), which NumPy's takes long over."""
    (ax, ay, az), (bx, by, bz) = a.T, b.T
    return np.column_stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])


def _reach(towards: Array, radius: Array, depth: Array) -> Array:
    """Return how far a disc that is cut reaches in a direction, from its middle (N,) [mm].

    The cut lies `depth` from the middle; the direction's cosine to the way there is `towards`.
    """
    corner = depth * towards + np.sqrt((radius**2 - depth**2) * np.clip(1.0 - towards**2, 0.0, 1.0))
    return np.asarray(np.where(radius * towards <= depth, radius, corner))


@dataclass(frozen=True, slots=True)
class Silhouette:
    """A helix as the camera sees it, ready to be drawn.

    Attributes
    ----------
    turn : ndarray, shape (N,)
        Along the wire [turns].
    middle : ndarray, shape (N, 2)
        Middle of the wire in the drawing [px].
    width : ndarray, shape (N,)
        Its width as drawn [px].
    pieces : ndarray, shape (N - 1, 4, 2)
        Corners of the wire between neighbouring points [px].
    sharp : ndarray of bool, shape (N,)
        Where it turns so sharply that the wire's round flank shows between two pieces.
    """

    turn: Array
    middle: Array
    width: Array
    pieces: Array
    sharp: NDArray[np.bool_]

    @staticmethod
    def of(
        helix: Helix,
        camera: Camera,
        view: MapView,
        zoom: float,
        part: tuple[float, float] = ALL_TURNS,
    ) -> "Silhouette":
        """Return the silhouette on a map's grid scaled by `zoom`, of the turns between two."""
        turn = turns_of(helix)
        low, high = np.searchsorted(turn, part[0]), np.searchsorted(turn, part[1], "right")
        shown = slice(int(low), int(high))
        edges = edges_of(helix, camera, shown)
        return Silhouette._between(turn[shown], edges, camera, view, zoom)

    @staticmethod
    def of_line(
        line_mm: Array, wire_mm: float, camera: Camera, view: MapView, zoom: float
    ) -> "Silhouette":
        """Return that of wire about any line (N, 3) [mm], each of whose steps counts as a turn."""
        aside = 0.5 * wire_mm * _aside(line_mm, camera)
        turn = np.arange(float(len(line_mm)))
        return Silhouette._between(turn, (line_mm + aside, line_mm - aside), camera, view, zoom)

    @staticmethod
    def _between(
        turn: Array, edges_mm: tuple[Array, Array], camera: Camera, view: MapView, zoom: float
    ) -> "Silhouette":
        """Return the silhouette of wire between its two edges, each (N, 3) [mm]."""
        edges = (view.to_map(camera.project(np.vstack(edges_mm))) + 0.5) * zoom - 0.5
        a, b = edges[: len(turn)], edges[len(turn) :]
        middle, half = 0.5 * (a + b), 0.5 * (a - b)
        far = np.sqrt((half**2).sum(axis=1, keepdims=True))
        half *= np.clip(1.0 - DRAWN_BEYOND_PX / (far + 1e-9), 0.01, 1.0)
        # What lies far outside the map is as good as at its edge, and the drawing takes no more.
        a, b = (np.clip(edge, -FAR_PX, FAR_PX) for edge in (middle + half, middle - half))
        pieces = np.stack([a[:-1], a[1:], b[1:], b[:-1]], axis=1)
        width = np.sqrt(((a - b) ** 2).sum(axis=1))
        middle = np.clip(middle, -FAR_PX, FAR_PX)
        return Silhouette(turn, middle, width, pieces, _turns_sharply(middle))

    def drawn(self, shape: tuple[int, int]) -> NDArray[np.float32]:
        """Return its coverage (H, W)."""
        out = np.zeros(shape, dtype=np.float32)
        where = self.place(shape)
        out[where] = self.drawn_at(where)
        return out

    def place(self, shape: tuple[int, int]) -> Place:
        """Return the rows and columns of a drawing (H, W) outside of which it covers nothing."""
        if not len(self.pieces):
            return slice(0, 0), slice(0, 0)
        room = 0.5 * float(self.width.max()) + 2.0  # of a joint, and of smoothing
        corners = self.pieces.reshape(-1, 2)
        low = np.floor(corners.min(axis=0) - room)
        high = np.ceil(corners.max(axis=0) + room) + 1
        (left, top), (right, bottom) = np.clip([low, high], 0, shape[::-1]).astype(int)
        return slice(int(top), int(bottom)), slice(int(left), int(right))

    def drawn_at(self, where: Place) -> NDArray[np.float32]:
        """Return its coverage in rows and columns of a drawing."""
        out = _blank(where)
        self.draw_on(out, where)
        return out.astype(np.float32) / 255.0

    def draw_on(self, out: NDArray[np.uint8], where: Place) -> None:
        """Draw it on a picture of those rows and columns of a drawing, 255 where it covers."""
        self._draw(out, where, np.ones(len(self.turn), dtype=bool))

    def drawn_twice_at(self, where: Place) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Return there the coverage of the whole coil and of its upper half, for less than two."""
        above = is_upper(self.turn)
        upper = _blank(where)
        self._draw(upper, where, above)
        whole = upper.copy()
        # The pieces between both halves are neither's alone.
        beyond = ~above
        beyond[1:] |= ~above[:-1]
        beyond[:-1] |= ~above[1:]
        self._draw(whole, where, beyond)
        return whole.astype(np.float32) / 255.0, upper.astype(np.float32) / 255.0

    def _draw(self, out: NDArray[np.uint8], where: Place, shown: NDArray[np.bool_]) -> None:
        if not out.size:  # it lies beside the picture
            return
        corner = np.array([where[1].start, where[0].start])
        pieces = self.pieces[shown[:-1] & shown[1:]] - corner
        for piece in np.round(pieces * 16).astype(np.int32):
            cv2.fillConvexPoly(out, piece, (255,), cv2.LINE_AA, 4)
        joints = np.nonzero(self.sharp & shown)[0]
        at = np.round((self.middle[joints] - corner) * 16).astype(int).tolist()
        radii = np.round(8 * self.width[joints]).astype(int).tolist()
        for (x, y), radius in zip(at, radii, strict=True):
            cv2.circle(out, (x, y), radius, (255,), -1, cv2.LINE_AA, 4)


def _blank(where: Place) -> NDArray[np.uint8]:
    """Return an empty drawing of these rows and columns."""
    return np.zeros([side.stop - side.start for side in where], dtype=np.uint8)


def _turns_sharply(line: Array) -> NDArray[np.bool_]:
    """Tell at which points (N, 2) a line changes its direction by more than `SHARPLY`."""
    steps = np.diff(line, axis=0)
    way = steps / (np.sqrt((steps**2).sum(axis=1, keepdims=True)) + 1e-12)
    sharp = np.zeros(len(line), dtype=bool)
    sharp[1:-1] = (way[1:] * way[:-1]).sum(axis=1) < np.cos(SHARPLY)
    return sharp


def shrink(
    view: MapView, keep: NDArray[np.bool_], wire_map_px: float
) -> tuple[float, NDArray[np.float32]]:
    """Return the zoom at which the wire is `WIRE_PX` wide, and there the map of what is kept."""
    zoom = min(1.0, WIRE_PX / wire_map_px)
    size = (round(view.maps.shape[2] * zoom), round(view.maps.shape[1] * zoom))
    near = cv2.resize(keep.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    small = cv2.resize(view.maps[0], size, interpolation=cv2.INTER_AREA)
    return zoom, np.where(near, small, 0.0).astype(np.float32)
