"""A CAD mesh made ready to be rounded: in one piece, its flat faces free of the cuts of their triangles."""

from collections.abc import Generator, Iterator
from typing import Any

import bmesh
import numpy as np

from ...core import units
from ...core.parts import shells
from ...core.slices import is_over
from . import paint, rounds

SHARP, FLAT = units.radians(30.0), units.radians(0.2)  # edges over and faces under these angles
_WELD_MM = 2e-4


def putting_in_order(shape: bmesh.types.BMesh, reach_mm: float) -> Generator[None, None, None]:
    """Joins what CAD has split, leaves as few seams within flat faces as can be, none of them at a corner, and makes
    round what is nearly; in parts. Seams that hold what is painted stay.

    reach_mm: how far from a corner a seam ends.
    """
    if paint.is_on(shape):
        doubles: Any = bmesh.ops.find_doubles(shape, verts=list(shape.verts), dist=_WELD_MM)
        paint.part(shape, doubles["targetmap"])
    bmesh.ops.remove_doubles(shape, verts=list(shape.verts), dist=_WELD_MM)
    bmesh.ops.dissolve_degenerate(shape, edges=list(shape.edges), dist=_WELD_MM)
    _part(shape)
    yield
    points, edges = paint.loose(shape)
    bmesh.ops.dissolve_limit(
        shape,
        angle_limit=FLAT,
        use_dissolve_boundaries=False,
        verts=points,
        edges=edges,
        delimit={"MATERIAL", "UV"},
    )
    shape.normal_update()
    rounds.make(shape)
    yield
    for corner in list(shape.verts):
        _clear(corner, reach_mm)
        if is_over():
            yield
    shape.normal_update()
    for elements in (shape.verts, shape.edges, shape.faces):
        elements.index_update()
        elements.ensure_lookup_table()


def _part(shape: bmesh.types.BMesh) -> None:
    """Gives each solid edges of its own where several touch along one: Blender's Bevel leaves such edges out."""
    if all(len(edge.link_faces) < 3 for edge in shape.edges):
        return
    shape.verts.index_update()
    shape.faces.index_update()
    loops = shape.calc_loop_triangles()
    triangles = np.array([[loop.vert.index for loop in three] for three in loops])
    label = shells.split(np.array([point.co[:] for point in shape.verts]), triangles).label
    faces = list(shape.faces)
    number = np.full(len(faces), -1)
    np.maximum.at(number, [three[0].face.index for three in loops], label)
    for solid in range(1, number.max() + 1):
        own: Any = [faces[n] for n in np.flatnonzero(number == solid)]
        bmesh.ops.split(shape, geom=own, use_only_faces=True)
    shape.normal_update()


def _clear(corner: bmesh.types.BMVert, reach_mm: float) -> None:
    """Moves the seams that lie in a flat face away from a corner: a rounding that meets one there would bulge.

    A seam from the corner A to B goes to A' instead, a little along the edge of the face beside it.
    """
    rims = [edge for edge in corner.link_edges if edge.is_manifold and edge.calc_face_angle_signed() > SHARP]
    if not any(_bend(corner, one, other) > SHARP for one in rims for other in rims[: rims.index(one)]):
        return
    while ways := list(_ways_aside(corner, reach_mm)):
        length, seam, face, rim = max(ways, key=lambda way: way[0])
        if length < 0.3 * reach_mm:  # a shorter edge would hold all roundings back
            return
        end, beyond = seam.other_vert(corner), next(each for each in seam.link_faces if each is not face)
        _, place = bmesh.utils.edge_split(rim, corner, length / rim.calc_length())
        halves = face, bmesh.utils.face_split(face, place, end)[0]
        joined: Any = [next(half for half in halves if corner in half.verts), beyond]  # told as one face
        bmesh.utils.face_join(joined)


def _ways_aside(corner: bmesh.types.BMVert, reach_mm: float) -> Iterator[tuple]:
    """How far a seam at a corner may go aside, the seam, a face beside it, and that face's other edge there, a rim."""
    for seam in corner.link_edges:
        if _is_seam(seam):
            for face in seam.link_faces:
                rim = next(each for each in face.edges if each is not seam and corner in each.verts)
                if _is_rim(rim):
                    end, beside = seam.other_vert(corner), rim.other_vert(corner)
                    yield _aside(face, corner, beside, end, reach_mm), seam, face, rim


def _aside(face: bmesh.types.BMFace, corner, beside, end, reach_mm: float) -> float:
    """How far along the rim, from a corner to the next point beside it, a seam may go without meeting another point."""
    along, across = beside.co - corner.co, end.co - corner.co
    length = min(0.4 * along.length, reach_mm)
    for point in face.verts:
        if point not in (corner, beside, end):
            u, v = _within(point.co - corner.co, along, across)
            if u > 0.0 and 0.0 < v < 1.0:
                length = min(length, 0.5 * u / (1.0 - v) * along.length)
    return length


def _within(place, along, across) -> tuple[float, float]:
    """Coordinates of a place in the frame of two vectors of its plane."""
    aa, ac, cc, pa, pc = along.dot(along), along.dot(across), across.dot(across), place.dot(along), place.dot(across)
    whole = aa * cc - ac * ac
    return (pa * cc - pc * ac) / whole, (pc * aa - pa * ac) / whole


def _is_seam(edge: bmesh.types.BMEdge) -> bool:
    """Whether an edge parts nothing but a flat face of one material."""
    one_material = len({face.material_index for face in edge.link_faces}) == 1
    return edge.is_manifold and one_material and edge.calc_face_angle() < FLAT


def _is_rim(edge: bmesh.types.BMEdge) -> bool:
    return not edge.is_manifold or edge.calc_face_angle() > SHARP


def _bend(corner: bmesh.types.BMVert, one: bmesh.types.BMEdge, other: bmesh.types.BMEdge) -> float:
    """By how much the way through a corner turns, from one edge to the other."""
    before, after = (edge.other_vert(corner).co - corner.co for edge in (one, other))
    return np.pi - before.angle(after)
