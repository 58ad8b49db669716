"""Studs on any side of a mesh, told by their tops: flat and as wide as a stud, a stud's height before a face that looks
the same way or, as on a head, a shoulder that falls away. Sizes: common practice of the trade, no published source."""

import numpy as np

from ..sizes import MET
from . import surface
from .shells import connected, volumes, weld

_ROUND_MM = 0.25  # what the two widths of a top differ by
_FACE_MM = 3.0  # a face lies around a stud at least in part no farther than this from its side
_LOOKS = 0.999
_SHOULDER_MM = 0.5  # that a body is wider than its stud, at least
_SAME_MM = 0.02


def standing(vertices: np.ndarray, triangles: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where studs leave a body (S, 3), and the unit directions (S, 3) along an axis that they point in.

    Of a mesh, vertices (V, 3) in mm and triangles (T, 3), which may be written inside out.
    """
    corners = vertices[triangles]
    if volumes(corners).sum() < 0.0:
        corners, triangles = corners[:, ::-1], triangles[:, ::-1]
    normal, _ = surface.normals(corners)
    welded = weld(vertices, triangles)
    places, ways = [np.zeros((0, 3))], [np.zeros((0, 3))]
    for axis in range(3):
        for sign in (1, -1):
            looking = np.flatnonzero(sign * normal[:, axis] > _LOOKS)
            found = _on_side(corners[looking], welded[looking], axis, sign, corners)
            places.append(found)
            ways.append(np.tile(sign * np.eye(3)[axis], (len(found), 1)))
    return np.concatenate(places), np.concatenate(ways)


def _on_side(corners: np.ndarray, welded: np.ndarray, axis: int, sign: int, every: np.ndarray) -> np.ndarray:
    """Feet (S, 3) of the studs among the flat pieces that look one way: triangles (T, 3, 3), welded corners (T, 3), and
    those of the whole mesh."""
    if not len(corners):
        return np.zeros((0, 3))
    flat = _flats(welded)
    low, high = np.full((flat.max() + 1, 3), np.inf), np.full((flat.max() + 1, 3), -np.inf)
    np.minimum.at(low, flat, corners.min(axis=1))
    np.maximum.at(high, flat, corners.max(axis=1))
    size, middle = np.delete(high - low, axis, axis=1), 0.5 * (low + high)
    top = MET.stud_diameter.holds(size).all(axis=1)
    top &= np.abs(size[:, 0] - size[:, 1]) < _ROUND_MM
    level = sign * middle[:, axis]
    feet = []
    for n in np.flatnonzero(top):
        below = level[n] - level
        apart = np.maximum(low - middle[n], middle[n] - high)
        near = np.delete(apart, axis, axis=1).max(axis=1) < 0.5 * size[n].max() + _FACE_MM
        face = near & MET.stud_height.holds(below)
        height = below[face].min() if face.any() else _over_shoulder(every, low[n], high[n], axis, sign)
        if height:
            foot = middle[n].copy()
            foot[axis] -= sign * height
            feet.append(foot)
    return np.array(feet).reshape(-1, 3)


def _over_shoulder(corners: np.ndarray, low: np.ndarray, high: np.ndarray, axis: int, sign: int) -> float:
    """How high a top, from low to high (3,), stands on walls of its own over what goes on outward from their foot; 0
    where it does not. Triangles (T, 3, 3)."""
    depth = sign * (low[axis] - corners[:, :, axis])
    apart = np.delete(np.maximum(low - corners, corners - high), axis, axis=2).max(axis=2)
    wall = (apart < _SAME_MM).all(axis=1) & (depth.min(axis=1) < _SAME_MM)
    height = float(depth[wall].max(initial=0.0))
    onward = (np.abs(depth - height) < _SAME_MM) & (np.abs(apart) < _SAME_MM)
    shoulder = onward.any(axis=1) & (apart.max(axis=1) > _SHOULDER_MM) & (depth.min(axis=1) > height - _SAME_MM)
    return height if MET.stud_height.holds(height) and shoulder.any() else 0.0


def _flats(welded: np.ndarray) -> np.ndarray:
    """(T,) which triangles hang together by a corner."""
    corner = welded.ravel()
    order = np.argsort(corner, kind="stable")
    same = corner[order][1:] == corner[order][:-1]
    return connected(len(welded), order[:-1][same] // 3, order[1:][same] // 3)


def of_studs(points: np.ndarray, places: np.ndarray, ways: np.ndarray) -> np.ndarray:
    """(P,) which points (P, 3) are of the studs and not of the body that they stand on."""
    own = np.zeros(len(points), dtype=bool)
    for place, way in zip(places, ways, strict=True):
        arm = points - place
        out = arm @ way
        aside = arm - out[:, None] * way
        own |= (
            (out > _SAME_MM)
            & (out < MET.stud_height.most + _SAME_MM)
            & ((aside * aside).sum(axis=1) < (0.5 * MET.stud_diameter.most + 0.1) ** 2)
        )
    return own
