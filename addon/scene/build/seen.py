"""What Blender says of the mesh objects of a build: all that the build is read from."""

from dataclasses import dataclass
from functools import cached_property
from operator import attrgetter

import bpy
import numpy as np

from ...blender import context
from ...core import rigid, units
from ...core.build import lattice
from ...core.build.belonging import UNSAID
from ...core.build.boxes import Boxes
from ...core.remembered import digest
from ..columns import Columns, raw_names
from ..exports import frame
from ..exports.bounds import MOST_UNITS, are_near
from ..exports.forms import column, points_of
from ..fit import deltas
from ..fit.deltas import Deltas
from . import counted, inherited, pins, rolls, state

_NAME, _PARENT = attrgetter("name"), attrgetter("parent")
_MARKS = counted.COUNTED, inherited.KEY, rolls.ROLL, pins.PINNED
_AXIS_ANGLE = -1  # how Blender numbers this mode of rotation
_NO_CORNER = "has faces with corners that it does not have"
_NO_NUMBER = "has a corner that is no number or lies beyond all bounds"
_NO_PLACE = "stands at a place that is no number or lies beyond all bounds"


class Meshes:
    """The meshes that objects share, each read once; `number` (n,) is which of them every object's is."""

    def __init__(self, meshes: list[bpy.types.Mesh], number: np.ndarray):
        self.number = number
        self._meshes = meshes
        self._points = [points_of(mesh) for mesh in meshes]
        self.triangles = [_triangles(mesh) for mesh in meshes]

    @property
    def told(self) -> bytes:
        """Tells them from others."""
        return digest(self.number, *self._points, *self.triangles)

    def only(self, rows: np.ndarray) -> "Meshes":
        """Those of some objects."""
        used, number = np.unique(self.number[rows], return_inverse=True)
        return Meshes([self._meshes[n] for n in used], number)

    @property
    def faults(self) -> dict[int, str]:
        """What is wrong with which mesh."""
        found = {n: _NO_NUMBER for n, points in enumerate(self._points) if not are_near(points)}
        unread = [n for n, triangles in enumerate(self.triangles) if not len(triangles)]
        return found | {n: _NO_CORNER for n in unread if not _corners_are_there(self._meshes[n])}

    @cached_property
    def vertices(self) -> list[np.ndarray]:
        """Of each mesh (V, 3)."""
        return [points.astype(np.float64) for points in self._points]

    @cached_property
    def _boxes(self) -> Boxes:
        return Boxes.of(self.vertices)

    @property
    def middle(self) -> np.ndarray:
        """(n, 3) of every object's mesh in its own axes."""
        return (0.5 * (self._boxes.low + self._boxes.high))[self.number]

    @property
    def size(self) -> np.ndarray:
        """(n, 3)"""
        return (self._boxes.high - self._boxes.low)[self.number]

    def boxes(self, linear: np.ndarray, origin: np.ndarray) -> Boxes:
        """Upright boxes of all objects, of their whole meshes and of their bodies."""
        own = self._boxes[self.number]

        def placed(low, high):
            middle = origin + rigid.turned(linear, 0.5 * (low + high))
            half = rigid.turned(np.abs(linear), 0.5 * (high - low))
            return middle - half, middle + half

        return Boxes(*placed(own.low, own.high), *placed(own.body_low, own.body_high))


@dataclass(frozen=True)
class Parents:
    """What n objects hang on, each of p parents once; nothing where none hangs on anything."""

    spaces: np.ndarray  # (p, 4, 4) from the space of each parent to the root's
    number: np.ndarray  # (n,) which of them every object hangs on
    inverse: np.ndarray  # (n, 4, 4) float32, what Blender puts between a parent and its child

    def chained(self, count: int) -> tuple[np.ndarray, np.ndarray]:
        """From the space under each object's parent to the root's own: linear parts (n, 3, 3) and shifts (n, 3)."""
        if not len(self.spaces):
            return np.broadcast_to(np.eye(3), (count, 3, 3)), np.zeros((count, 3))
        chain, inverse = self.spaces[self.number], self.inverse.astype(np.float64)
        linear = rigid.product(chain[:, :3, :3], inverse[:, :3, :3])
        return linear, rigid.turned(chain[:, :3, :3], inverse[:, :3, 3]) + chain[:, :3, 3]


@dataclass(frozen=True)
class Seen:
    """n objects, as they are in Blender."""

    root: bpy.types.Object | None  # the topmost parent that all share, itself none of them; None where there is none
    names: tuple[str, ...]
    raw: set[str]  # names of the marks that any of them carries
    meshes: Meshes
    parents: Parents
    mode: np.ndarray  # (n,) of rotation, as Blender numbers it
    location: np.ndarray  # (n, 3) float32, as the channels below
    euler: np.ndarray  # (n, 3)
    quaternion: np.ndarray  # (n, 4)
    size: np.ndarray  # (n, 3)
    by_axis: np.ndarray  # (a, 3, 3) rotations of those that turn by axis and angle
    bare: deltas.Bare  # all objects of the columns, without ours
    base: Deltas  # (n) the artist's deltas
    word: np.ndarray  # (n,) of the artist, whether they are bricks
    keys: dict[int, str]  # of those that keep theirs
    rolls: np.ndarray | None  # (n,) re-rolls
    known: lattice.Lattice | None  # found when they were brought in
    is_worn: bool  # whether they were found to be a build when a look was put on it
    believed: float | None  # mm per unit of their space as it was found then, or when they were brought in
    mm_per_unit: float  # of the space they stand in, if the scene's own units are true

    @property
    def faults(self) -> dict[int, str]:
        """Which of them cannot be read, and why."""
        channels = [self.location, self.euler, self.quaternion, self.size, *vars(self.base).values()]
        if len(self.parents.spaces):
            channels += [self.parents.spaces[self.parents.number], self.parents.inverse]
        near = np.ones(len(self.names), dtype=bool)
        for channel in channels:
            if not np.abs(channel).max(initial=0.0) < MOST_UNITS:  # a comparison with what is no number is false
                near &= (np.abs(channel) < MOST_UNITS).reshape(len(near), -1).all(axis=1)
        found, spoiled = dict.fromkeys(np.flatnonzero(~near).tolist(), _NO_PLACE), self.meshes.faults
        if spoiled:
            found |= {n: spoiled[mesh] for n, mesh in enumerate(self.meshes.number.tolist()) if mesh in spoiled}
        return found

    @property
    def told(self) -> bytes:
        """Tells them from others, and from themselves as they were."""
        beside = self.keys, self.known, self.is_worn, self.believed, self.mm_per_unit
        words = "\0".join((*self.names, repr(beside))).encode()
        rolls = np.zeros(0) if self.rolls is None else self.rolls
        channels = (
            self.mode,
            self.location,
            self.euler,
            self.quaternion,
            self.size,
            self.by_axis,
            *vars(self.base).values(),
        )
        return self.meshes.told + digest(
            np.frombuffer(words, np.uint8), *vars(self.parents).values(), *channels, self.word, rolls
        )


def seen(collection: bpy.types.Collection, columns: Columns, rows: np.ndarray, meshes: Meshes) -> Seen:
    """What there is to see of some rows of a collection's columns, whose meshes these are."""
    objects = columns.some(rows)
    parents = list(map(_PARENT, objects))
    root, raw = _common_root(objects, parents), raw_names(objects, _MARKS)
    mode = columns.read("rotation_mode", dtype=np.int32)[rows]
    bare = deltas.bare(columns)
    own = bare.own.rows(rows)
    known = frame.kept(root)
    by_axis = [objects[n].matrix_basis.to_3x3().normalized() for n in np.flatnonzero(mode == _AXIS_ANGLE)]
    return Seen(
        root=root,
        names=tuple(map(_NAME, objects)),
        raw=raw,
        meshes=meshes,
        parents=_hung(parents, columns, rows, root),
        mode=mode,
        location=own.location,
        euler=own.euler,
        quaternion=own.quaternion,
        size=own.scale,
        by_axis=np.array(by_axis, dtype=np.float64).reshape(-1, 3, 3),
        bare=bare,
        base=bare.deltas.rows(rows),
        word=counted.read(objects) if counted.COUNTED in raw else np.full(len(objects), UNSAID, dtype=np.int8),
        keys=inherited.kept(objects) if inherited.KEY in raw else {},
        rolls=rolls.read(objects) if rolls.ROLL in raw else None,
        known=known,
        is_worn=state.is_marked(collection),
        believed=state.mm_per_unit(collection) or (known.mm_per_unit if known else None),
        mm_per_unit=units.MM_PER_METRE * context().scene.unit_settings.scale_length * size_of(root),
    )


def vertices_and_triangles(mesh: bpy.types.Mesh) -> tuple[np.ndarray, np.ndarray]:
    """Of a mesh in its own axes and units: (V, 3) and (T, 3)."""
    return points_of(mesh).astype(np.float64), _triangles(mesh)


def _triangles(mesh: bpy.types.Mesh) -> np.ndarray:
    if not _corners_are_there(mesh):  # Blender would read what is not there
        return np.zeros((0, 3), dtype=np.int32)
    mesh.calc_loop_triangles()
    flat = np.empty(3 * len(mesh.loop_triangles), dtype=np.int32)
    mesh.loop_triangles.foreach_get("vertices", flat)
    return flat.reshape(-1, 3)


def _corners_are_there(mesh: bpy.types.Mesh) -> bool:
    corners = column(mesh, ".corner_vert")
    return not len(corners) or bool(corners.min() >= 0 and corners.max() < len(mesh.vertices))


def size_of(root: bpy.types.Object | None) -> float:
    """World units per unit of the space the build lives in."""
    return 1.0 if root is None else abs(root.matrix_world.to_3x3().determinant()) ** (1 / 3)


def _common_root(objects: list[bpy.types.Object], parents: list) -> bpy.types.Object | None:
    """The topmost parent that all bricks share, itself no brick; None where they share none."""
    roots = {_top(parent) for parent in set(parents)}
    root = roots.pop()
    return None if roots or root is None or root in set(objects) else root


def _top(thing: bpy.types.Object | None) -> bpy.types.Object | None:
    while thing is not None and thing.parent is not None:
        thing = thing.parent
    return thing


def _hung(parents: list, columns: Columns, rows: np.ndarray, root) -> Parents:
    """Chained from the objects' own channels, not from world matrices: these move with the root and carry its
    rounding."""
    if not any(parents):
        return Parents(np.zeros((0, 4, 4)), np.zeros(0, dtype=np.intp), np.zeros((0, 4, 4), np.float32))
    known: dict[bpy.types.Object | None, np.ndarray] = {None: np.eye(4), root: np.eye(4)}

    def space(thing) -> np.ndarray:
        if thing not in known:
            known[thing] = space(thing.parent) @ _local(thing)
        return known[thing]

    number = {parent: n for n, parent in enumerate(dict.fromkeys(parents))}
    of = np.fromiter((number[parent] for parent in parents), dtype=np.intp, count=len(parents))
    inside = np.array([parent is not None for parent in number])[of]
    inverse = columns.read_matrix("matrix_parent_inverse")[rows]
    inverse = np.where(inside[:, None, None], inverse, np.eye(4, dtype=np.float32))
    return Parents(np.stack([space(parent) for parent in number]), of, inverse)


def _local(thing: bpy.types.Object) -> np.ndarray:
    basis = np.array(thing.matrix_basis, dtype=np.float64)
    return np.array(thing.matrix_parent_inverse, dtype=np.float64) @ basis if thing.parent is not None else basis
