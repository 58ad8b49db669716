"""Round walls that CAD wrote with few sides, given so many that no corner of them shows.

A ring is a closed row of sharp edges whose points lie on a circle, a wall the belt of four-cornered faces between two
of them: a stud's, a tube's, a wheel's. What sides leave out of the true round, r · (1 - cos(angle / 2)), is put back.
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import bmesh
import numpy as np
from mathutils import Vector

from ...core import units

FINE_MM = 0.012  # sides may leave out so much: a pixel of a picture 23 mm wide, at 1920x1080
COARSE_MM = 0.1  # what leaves out more is meant to have corners, or reaches into its neighbours' room
_RIM, _SIDE = units.radians(31.0), units.radians(31.0)  # the least crease of a rim, the most that a side may span
_OFF_MM = 1e-3  # that points may lie off their circle
_SQUARE = 1.0 - 1e-6  # a cosine: what is beside a wall lies in the plane of its ring
_RING = "playworn_ring"


@dataclass(frozen=True, eq=False)
class Ring:
    edges: list[bmesh.types.BMEdge]
    points: list[bmesh.types.BMVert]  # as the edges follow each other

    @cached_property
    def middle(self) -> Vector:
        return sum((point.co for point in self.points), start=Vector()) / len(self.points)

    @cached_property
    def spokes(self) -> list[Vector]:
        """From the middle to each point, and to the first once more."""
        spokes = [point.co - self.middle for point in self.points]
        return [*spokes, spokes[0]]

    @cached_property
    def axis(self) -> Vector:
        spokes = np.array([spoke[:] for spoke in self.spokes])
        return Vector(np.cross(spokes[:-1], spokes[1:]).sum(axis=0)).normalized()

    @cached_property
    def radius(self) -> float:
        return self.spokes[0].length

    @cached_property
    def angle(self) -> float:
        """The most that a side spans."""
        return max(one.angle(other) for one, other in pairwise(self.spokes))

    @property
    def is_round(self) -> bool:
        off = max(max(abs(spoke.length - self.radius), abs(spoke.dot(self.axis))) for spoke in self.spokes)
        return off < _OFF_MM < self.radius and self.angle < _SIDE

    @cached_property
    def left_out(self) -> float:
        """How far, in mm, the middle of its longest side lies within the circle."""
        return self.radius * (1.0 - np.cos(0.5 * self.angle))

    @property
    def cuts(self) -> int:
        """How many points more each side needs."""
        return int(np.ceil(self.angle / (2.0 * np.arccos(1.0 - FINE_MM / self.radius)) - 1e-6)) - 1

    def on_circle(self, place: Vector) -> Vector:
        return self.middle + self.radius * (place - self.middle).normalized()

    def stays_within(self, low: np.ndarray, high: np.ndarray) -> bool:
        """Whether the circle keeps to a box between its points, too."""
        arcs = np.array([self.on_circle(self.middle + one + other) for one, other in pairwise(self.spokes)])
        return bool(((arcs > low - _OFF_MM) & (arcs < high + _OFF_MM)).all())


def make(shape: bmesh.types.BMesh) -> None:
    """Gives each round wall of a mesh, in mm, the sides that its roundness needs; its box stays as it is."""
    number = shape.verts.layers.float.new(_RING)  # before anything is looked up: it moves all points
    rings = [ring for ring in _rings(shape) if ring.is_round]
    points = np.array([point.co for point in shape.verts])
    low, high = points.min(axis=0), points.max(axis=0)
    cut: dict[int, list[Ring]] = defaultdict(list)
    for walls in _walls(rings):
        coarsest = max(walls, key=lambda ring: ring.left_out)
        if FINE_MM < coarsest.left_out < COARSE_MM and all(ring.stays_within(low, high) for ring in walls):
            cut[coarsest.cuts] += walls
    of_number = dict(enumerate((ring for walls in cut.values() for ring in walls), start=1))
    for n, ring in of_number.items():
        for point in ring.points:
            point[number] = n
    for cuts, walls in cut.items():
        edges: Any = [edge for ring in walls for edge in ring.edges]
        made: Any = bmesh.ops.subdivide_edges(shape, edges=edges, cuts=cuts, use_only_quads=True)
        for point in made["geom_inner"]:
            if isinstance(point, bmesh.types.BMVert):
                point.co = of_number[round(point[number])].on_circle(point.co)
    shape.verts.layers.float.remove(number)
    shape.normal_update()


def _rings(shape: bmesh.types.BMesh) -> Iterator[Ring]:
    """Closed rows of sharp edges that meet no other."""
    of_point: dict[bmesh.types.BMVert, list[bmesh.types.BMEdge]] = defaultdict(list)
    for edge in shape.edges:
        if edge.is_manifold and edge.calc_face_angle() > _RIM:
            for point in edge.verts:
                of_point[point].append(edge)
    seen = set[bmesh.types.BMVert]()
    for first, ways in of_point.items():
        if first in seen or len(ways) != 2:
            continue
        points, edges = [first], [ways[0]]
        seen.add(first)
        point: Any = ways[0].other_vert(first)
        while point not in seen and len(ways := of_point[point]) == 2:
            seen.add(point)
            points.append(point)
            edges.append(next(edge for edge in ways if edge is not edges[-1]))
            point = edges[-1].other_vert(point)
        if point is first:
            yield Ring(edges, points)


def _walls(rings: list[Ring]) -> Iterator[list[Ring]]:
    """Rings that walls join, all that hang together; none of them where a ring has anything else beside it but what
    lies in its plane."""
    of_edge = {edge: ring for ring in rings for edge in ring.edges}
    joined: dict[Ring, set[Ring]] = {ring: set() for ring in rings}
    bound = set[Ring]()
    for ring in rings:
        for edge, face in ((each, face) for each in ring.edges for face in each.link_faces):
            opposite = _across(face, edge)
            if opposite and (other := of_edge.get(opposite)):
                joined[ring].add(other)
                joined[other].add(ring)
            elif abs(face.normal.dot(ring.axis)) < _SQUARE:
                bound.add(ring)
    seen = set[Ring]()
    for ring in rings:
        if ring not in seen:
            walls = _reached(ring, joined)
            seen.update(walls)
            if not bound.intersection(walls):
                yield walls


def _across(face: bmesh.types.BMFace, edge: bmesh.types.BMEdge) -> bmesh.types.BMEdge | None:
    """The edge that lies opposite in a face of four corners; none in others."""
    if len(face.verts) != 4:  # a lid has many edges, and is asked about from each
        return None
    return next(each for each in face.edges if not set(each.verts) & set(edge.verts))


def _reached(first: Ring, joined: dict[Ring, set[Ring]]) -> list[Ring]:
    reached, waiting = {first: None}, [first]
    while waiting:
        fresh = joined[waiting.pop()] - reached.keys()
        reached |= dict.fromkeys(fresh)
        waiting += fresh
    return list(reached)
