"""What a mesh looks like: a brick by its studs, one by its sizes, a solid of another kind, or a sheet.

A sheet is an open surface in waves, as cloth is; a solid with a face missing, as exports have them, is none.
"""

import numpy as np

from ..build import bearing, lattice
from ..sizes import MET, TRADE
from . import shells
from .parts import Part, measured

SHEET, SOLID, SIZED, STUDDED = range(4)  # how much of a brick it is; from SIZED on it is taken for one

_FLAT_SHARE = 0.2  # of its footprint: faces that lie level, as bricks have them even where they are round or slope
_STUDS_SEEN = 12  # of a part; the others look alike
_FACE_MM2 = 1e-6


def likeness(vertices: np.ndarray, triangles: np.ndarray, part: Part) -> int:
    """What a mesh is like whose `part` was measured along its own axes; vertices (V, 3) in mm, triangles (T, 3)."""
    corners = vertices[triangles]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    areas = np.sqrt(np.einsum("ij,ij->i", normals, normals))
    normals = normals[areas > _FACE_MM2] / areas[areas > _FACE_MM2, None]
    areas = 0.5 * areas[areas > _FACE_MM2]
    if not len(areas):
        return SHEET
    upright = _as_it_lies(part, normals, areas)
    if upright >= SIZED:
        return upright
    axes = bearing.along(normals, areas)  # a brick at an angle whose turn went into its mesh
    if np.abs(axes).max(axis=1).min() < bearing.LEVEL:
        turned = _as_it_lies(measured(vertices @ axes.T, triangles), normals @ axes.T, areas)
        if turned >= SIZED:
            return turned
    squared = areas[(np.abs(normals @ axes.T) > bearing.LEVEL).any(axis=1)].sum()
    open_ = squared < 0.5 * areas.sum() and not shells.is_closed(vertices, triangles)
    return SHEET if open_ else SOLID


def _as_it_lies(part: Part, normals: np.ndarray, areas: np.ndarray) -> int:
    if _has_studs(part):
        return STUDDED
    return SIZED if _is_sized(part, normals, areas) else SOLID


def _has_studs(part: Part) -> bool:
    """Whether what stands out of a part's face is as wide as a stud, flat on top and round its own axis."""
    if not len(part.studs):
        return False
    axis, sign = part.stud_axis, part.stud_sign
    across = [other for other in range(3) if other != axis]
    return all(_is_stud(part.vertices - stud, axis, sign, across) for stud in part.studs[:_STUDS_SEEN])


def _is_stud(arms: np.ndarray, axis: int, sign: int, across: list[int]) -> bool:
    """Whether what stands around a stud's foot, seen from there (V, 3), is one; what is higher may be a back."""
    height = sign * arms[:, axis]
    standing = (height > 0.5) & (height <= MET.marked_stud_height.most) & (_apart(arms[:, across]) < MET.next_stud)
    top = standing & (height > height[standing].max(initial=0.0) - 0.3)  # a raised mark may stand on it
    sides, least = _reach(arms[standing][:, across]), _reach(arms[top][:, across])
    return bool(MET.stud_radius.holds(sides).all() and least.min() >= MET.stud_top)


def _apart(places: np.ndarray) -> np.ndarray:
    """How far (V,) places (V, 2) are from a stud's axis; beyond `MET.next_stud` they belong to the next."""
    return np.sqrt(np.einsum("ij,ij->i", places, places))


def _reach(places: np.ndarray) -> np.ndarray:
    """How far (2,) what lies around a stud's axis reaches."""
    return np.abs(places).max(axis=0) if len(places) else np.zeros(2)


def _is_sized(part: Part, normals: np.ndarray, areas: np.ndarray) -> bool:
    """Whether it measures whole studs two ways and whole plates the third, with level faces there."""
    for size in (np.ptp(part.vertices, axis=0), part.body_high - part.body_low):
        studs = lattice.whole(size, TRADE.pitch, MET.off_studs)
        plates = lattice.whole(size, TRADE.plate_height, MET.off_plates)
        for up in range(3):
            level = areas[np.abs(normals[:, up]) > bearing.LEVEL].sum()
            footprint = np.delete(size, up).prod()
            if plates[up] and np.delete(studs, up).all() and level >= _FLAT_SHARE * footprint:
                return bool(size.max() <= TRADE.longest_studs * TRADE.pitch)
    return False
