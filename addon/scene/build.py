"""Reads a collection of brick objects, at rest, into the core's brick table."""

from dataclasses import dataclass
from functools import cached_property

import bpy
import numpy as np

from ..core import belonging, identity, lattice, rigid, units
from ..core.bricks import Bricks
from ..core.errors import BuildProblem
from ..core.likeness import likeness
from ..core.parts import Part, measured
from ..core.remembered import digest
from ..core.report import Skipped
from . import counted, deltas, frame, freedom, inherited, rolls, twins
from .columns import Columns
from .deltas import Deltas

_THINNEST_MM, _LARGEST_MM = 0.5, 512.0  # the largest baseplates in use are 48 studs wide
_FLAT, _LARGE = "is flat, which no brick is", "is over half a metre long, which no brick is"
_OTHER = "has no studs and no size of a brick, and no brick holds it"
_BY_HAND = "is left out by hand"
_PLANE = 3  # so many vertices always lie in one
_FINE_MM = 1e-4  # finer differences between meshes of one part are rounding
_ORDERS = {1: "XYZ", 2: "XZY", 3: "YXZ", 4: "YZX", 5: "ZXY", 6: "ZYX"}
QUATERNION = 0
_BY_OBJECT = 0  # how Blender numbers the usual kind of parent


@dataclass(frozen=True)
class Build:
    """A build at rest. Everything with n rows is in the order of the bricks."""

    collection: bpy.types.Collection
    columns: Columns
    rows: np.ndarray  # (n,) of `columns`
    bricks: Bricks
    lattice: lattice.Lattice
    root: bpy.types.Object | None  # the object whose space the build lives in; None: the world
    parent_turn: np.ndarray  # (n, 3, 3) from each brick's parent space to build millimetres
    parent_shift: np.ndarray  # (n, 3)
    location: np.ndarray  # (n, 3) rest location without deltas, in the parent's space
    linear: np.ndarray  # (n, 3, 3) rest rotation and scale with the artist's deltas, in the parent's space
    scale: np.ndarray  # (n, 3) millimetres per unit of the mesh's axes
    middle: np.ndarray  # (n, 3) the part's origin in the mesh's own axes and units
    mode: np.ndarray  # (n,) rotation mode as Blender numbers it
    base: Deltas  # (n) the artist's deltas
    fixed: dict[int, str]  # brick -> why it cannot be moved
    strangers: np.ndarray  # (s,) rows of the mesh objects that are no bricks
    left_out: tuple[Skipped, ...]  # (s) these, and why

    @cached_property
    def objects(self) -> list[bpy.types.Object]:
        return [self.columns.objects[row] for row in self.rows]

    @property
    def held(self) -> np.ndarray:
        """(n,) which bricks cannot be moved."""
        held = np.zeros(len(self.bricks), dtype=bool)
        held[list(self.fixed)] = True
        return held

    @property
    def mm_per_world_unit(self) -> float:
        """Millimetres per unit of the scene, whatever its unit scale says."""
        return self.lattice.mm_per_unit / _size_of(self.root)


class NoBricks(BuildProblem):
    """A collection of meshes none of which is a brick."""

    def __init__(self, collection: str, left_out: tuple[Skipped, ...]):
        super().__init__(
            f'"{collection}" is no brick build: no object in it has studs or the sizes of the brick lattice; bring in '
            "another, or say which objects are bricks with Count as Brick (--include on the command line)"
        )
        self.left_out = left_out


def read(collection: bpy.types.Collection) -> Build:
    """The build of a collection, whatever the fit has done to it; NoBricks where there is no brick in it."""
    columns = Columns(collection)
    data, number = twins.originals(columns.objects)
    body = np.array([isinstance(mesh, bpy.types.Mesh) and len(mesh.vertices) > _PLANE for mesh in data], dtype=bool)
    rows = np.flatnonzero(body[number])
    if not len(rows):
        if flat := [thing.name for thing in columns.objects if _is_flat(thing.data)]:
            raise NoBricks(collection.name, tuple(Skipped(name, _FLAT) for name in flat))
        raise BuildProblem(
            f'the collection "{collection.name}" holds no mesh: choose the collection with the bricks in it'
        )
    objects = [columns.objects[row] for row in rows]
    meshes = _Meshes([data[n] for n in np.flatnonzero(body)], (np.cumsum(body) - 1)[number[rows]])

    parents = [thing.parent for thing in objects]
    root = _common_root(objects, parents)
    mode = columns.read("rotation_mode", dtype=np.int32)[rows]
    hung = columns.read("parent_type", dtype=np.int32)[rows] != _BY_OBJECT
    base = deltas.artists(columns)[0].rows(rows)
    location = columns.read("location", 3)[rows].astype(np.float64)
    linear = _rest_linear(columns, rows, mode, base)
    chain_turn, chain_shift = _parent_spaces(parents, columns, rows, root)

    to_root = rigid.product(chain_turn, linear)
    at_root = rigid.turned(chain_turn, location + base.location) + chain_shift
    found = _lattice(meshes.boxes(to_root, at_root), root)
    upright = axes(found)

    linear_mm = rigid.product(upright, to_root)
    scale = np.sqrt(sum(linear_mm[:, k, :] * linear_mm[:, k, :] for k in range(3)))
    size = meshes.size * scale
    word = counted.read(objects)
    flat, large = size.min(axis=1) < _THINNEST_MM, (size.max(axis=1) > _LARGEST_MM) & (word != belonging.IN)
    solid = np.flatnonzero(~flat & ~large)
    turn, middle = linear_mm / scale[:, None, :], meshes.middle
    origin = rigid.turned(upright, at_root) + rigid.turned(turn, middle * scale)
    things, kind = _table(
        [objects[n] for n in solid], meshes, meshes.number[solid], turn[solid], origin[solid], scale[solid]
    )
    is_brick = belonging.belonging(things, kind, word[solid], found)
    keep, bricks = solid[is_brick], things if is_brick.all() else things.only(np.flatnonzero(is_brick))
    others = np.delete(np.arange(len(objects)), keep)
    left_out = tuple(Skipped(objects[n].name, _why(flat[n], large[n], word[n])) for n in others)
    if not len(keep):
        raise NoBricks(collection.name, left_out)
    kept = [objects[n] for n in keep]
    parent_turn = rigid.product(upright, chain_turn)[keep]
    return Build(
        collection=collection,
        columns=columns,
        rows=rows[keep],
        bricks=bricks,
        lattice=found,
        root=root,
        parent_turn=parent_turn,
        parent_shift=rigid.turned(upright, chain_shift)[keep],
        location=location[keep],
        linear=linear[keep],
        scale=scale[keep],
        middle=middle[keep],
        mode=mode[keep],
        base=base.rows(keep),
        fixed=freedom.fixed(kept, hung[keep], parent_turn, turn[keep], mode[keep]),
        strangers=rows[others],
        left_out=left_out,
    )


def _is_flat(data: bpy.types.ID | None) -> bool:
    """Whether it is a mesh of too few vertices to be read as a body."""
    return isinstance(data, bpy.types.Mesh) and 0 < len(data.vertices) <= _PLANE


class _Meshes:
    """The meshes that objects share, each read once; `number` (n,) is which of them every object's is.

    `size` and `middle` (n, 3) are those of every object's mesh in its own axes.
    """

    def __init__(self, meshes: list[bpy.types.Mesh], number: np.ndarray):
        self.number = number
        self.vertices = [_vertices(mesh) for mesh in meshes]
        self.triangles = [_triangles(mesh) for mesh in meshes]
        self._boxes = lattice.Boxes.of(self.vertices)
        self.middle = (0.5 * (self._boxes.low + self._boxes.high))[self.number]
        self.size = (self._boxes.high - self._boxes.low)[self.number]

    def boxes(self, linear: np.ndarray, origin: np.ndarray) -> lattice.Boxes:
        """Upright boxes of all objects, of their whole meshes and of their bodies."""
        own = self._boxes[self.number]

        def placed(low, high):
            middle = origin + rigid.turned(linear, 0.5 * (low + high))
            half = rigid.turned(np.abs(linear), 0.5 * (high - low))
            return middle - half, middle + half

        return lattice.Boxes(*placed(own.low, own.high), *placed(own.body_low, own.body_high))


def vertices_and_triangles(mesh: bpy.types.Mesh) -> tuple[np.ndarray, np.ndarray]:
    """Of a mesh in its own axes and units: (V, 3) and (T, 3)."""
    return _vertices(mesh), _triangles(mesh)


def _vertices(mesh: bpy.types.Mesh) -> np.ndarray:
    flat = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", flat)
    return flat.reshape(-1, 3).astype(np.float64)


def _triangles(mesh: bpy.types.Mesh) -> np.ndarray:
    mesh.calc_loop_triangles()
    flat = np.empty(3 * len(mesh.loop_triangles), dtype=np.int32)
    mesh.loop_triangles.foreach_get("vertices", flat)
    return flat.reshape(-1, 3)


def _table(objects: list[bpy.types.Object], meshes: _Meshes, number: np.ndarray, turn, origin, scale):
    """The table of what may be bricks, and what each (n,) is like; meshes of one shape and size are one part."""
    if not objects:
        return Bricks((), (), number, turn, origin, np.zeros(0, dtype=np.uint64)), number
    kinds = np.concatenate([number[:, None], np.rint(scale * 1e4 / scale.max()).astype(np.int64)], axis=1)
    _, first, kind = np.unique(identity.chained(kinds), return_index=True, return_inverse=True)
    found = [_part(*_shape(meshes, number[n], scale[n])) for n in first]
    unique, example, part_of_kind = np.unique([told for told, _, _ in found], return_index=True, return_inverse=True)
    parts = tuple(found[n][1] for n in example)
    part = part_of_kind[kind]
    names = tuple(thing.name for thing in objects)
    key = inherited.read(objects, identity.keys(unique[part], turn, origin))
    bricks = Bricks(names, parts, part, turn, origin, key, rolls.read(objects))
    return bricks, np.array([like for _, _, like in found])[kind]


def _shape(meshes: _Meshes, number: int, scale: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Vertices in mm around their middle, to a tenth of a micrometre, and triangles."""
    vertices = meshes.vertices[number]
    middle = 0.5 * (vertices.min(axis=0) + vertices.max(axis=0))
    return np.rint((vertices - middle) * scale / _FINE_MM) * _FINE_MM, meshes.triangles[number]


_parts: dict[bytes, tuple[np.uint64, Part, int]] = {}  # a part is measured once a session


def _part(vertices: np.ndarray, triangles: np.ndarray) -> tuple[np.uint64, Part, int]:
    """A part's fingerprint, the part, and what it is like."""
    told = digest(vertices, triangles)
    if told not in _parts:
        part = measured(vertices, triangles)
        _parts[told] = identity.fingerprint(vertices), part, likeness(vertices, triangles, part)
    return _parts[told]


def _why(flat: bool, large: bool, word: int) -> str:
    if word == belonging.OUT:
        return _BY_HAND
    return _FLAT if flat else _LARGE if large else _OTHER


def _rest_linear(columns: Columns, rows, mode, base: Deltas) -> np.ndarray:
    """Rotation and scale (n, 3, 3) of the objects' own channels with the artist's deltas on top."""
    own = rotations(mode, columns.read("rotation_euler", 3)[rows], columns.read("rotation_quaternion", 4)[rows])
    for n in np.flatnonzero(mode < 0):  # axis and angle
        own[n] = np.array(columns.objects[rows[n]].matrix_basis.to_3x3().normalized())
    size = columns.read("scale", 3)[rows].astype(np.float64) * base.scale
    return rigid.product(rotations(mode, base.euler, base.quaternion), own) * size[:, None, :]


def rotations(mode: np.ndarray, euler: np.ndarray, quaternion: np.ndarray) -> np.ndarray:
    """Rotation matrices (n, 3, 3) from Blender's channels, each by its object's rotation mode."""
    matrices = np.broadcast_to(np.eye(3), (len(mode), 3, 3)).copy()
    turned = euler.any(axis=1)  # most bricks are not, and sines take their time
    for number, order in _ORDERS.items():
        of_order = (mode == number) & turned
        if of_order.any():
            matrices[of_order] = rigid.from_euler(euler[of_order].astype(np.float64), order)
    by_quaternion = (mode == QUATERNION) & (np.abs(quaternion).max(axis=1) > 0)
    if by_quaternion.any():
        matrices[by_quaternion] = rigid.from_quaternion(quaternion[by_quaternion].astype(np.float64))
    return matrices


def channels(mode: np.ndarray, matrices: np.ndarray, euler: np.ndarray, quaternion: np.ndarray):
    """Blender's channels of rotation matrices; what an object's mode does not read keeps the given value."""
    euler, quaternion = euler.astype(np.float64), quaternion.astype(np.float64)
    for number, order in _ORDERS.items():
        of_order = mode == number
        if of_order.any():
            euler[of_order] = rigid.to_euler(matrices[of_order], order)
    by_quaternion = mode == QUATERNION
    if by_quaternion.any():
        quaternion[by_quaternion] = rigid.to_quaternion(matrices[by_quaternion])
    return euler, quaternion


def _lattice(boxes: lattice.Boxes, root: bpy.types.Object | None) -> lattice.Lattice:
    """The lattice that bringing in found, where the bricks still stand on it, or the one they stand on now."""
    known = frame.kept(root)
    still = lattice.still(boxes, known) if known else None
    return still or lattice.find(boxes, _expected_mm(root))


def _expected_mm(root: bpy.types.Object | None) -> float:
    """Millimetres per unit of the space the build lives in, if the scene's own units are true."""
    return units.MM_PER_METRE * bpy.context.scene.unit_settings.scale_length * _size_of(root)


def into_build(build: Build) -> np.ndarray:
    """From the world, as it is on the current frame, to the build's frame in mm (4, 4)."""
    matrix = np.eye(4)
    matrix[:3, :3] = axes(build.lattice)
    world = np.eye(4) if build.root is None else np.array(build.root.matrix_world, dtype=np.float64)
    return matrix @ np.linalg.inv(world)


def _size_of(root: bpy.types.Object | None) -> float:
    """World units per unit of the space the build lives in."""
    return 1.0 if root is None else abs(root.matrix_world.to_3x3().determinant()) ** (1 / 3)


def axes(found: lattice.Lattice) -> np.ndarray:
    """From the space the build lives in to the build's frame: millimetres, the upright axis turned to +z the short way.

    The same turn as bringing in makes, so that sizes are told along the axes that the scene shows.
    """
    s = found.sign
    turns = (
        ((0, 0, -s), (0, 1, 0), (s, 0, 0)),
        ((1, 0, 0), (0, 0, -s), (0, s, 0)),
        ((1, 0, 0), (0, s, 0), (0, 0, s)),
    )
    return np.array(turns[found.up], dtype=np.float64) * found.mm_per_unit


def _common_root(objects: list[bpy.types.Object], parents: list) -> bpy.types.Object | None:
    """The topmost parent that all bricks share, itself no brick; None where they share none."""
    roots = {_top(parent) for parent in set(parents)}
    root = roots.pop()
    return None if roots or root is None or root in set(objects) else root


def _top(thing: bpy.types.Object | None) -> bpy.types.Object | None:
    while thing is not None and thing.parent is not None:
        thing = thing.parent
    return thing


def _parent_spaces(parents: list, columns: Columns, rows: np.ndarray, root) -> tuple[np.ndarray, np.ndarray]:
    """From the space under each object's parent to the root's own: linear parts (n, 3, 3) and shifts (n, 3).

    Chained from the objects' own channels, not from world matrices: these move with the root and carry its rounding.
    """
    if not any(parents):
        return np.broadcast_to(np.eye(3), (len(rows), 3, 3)), np.zeros((len(rows), 3))
    parent_inverse = columns.read_matrix("matrix_parent_inverse")[rows]
    known: dict[bpy.types.Object | None, np.ndarray] = {None: np.eye(4), root: np.eye(4)}

    def space(thing) -> np.ndarray:
        if thing not in known:
            known[thing] = space(thing.parent) @ _local(thing)
        return known[thing]

    number = {parent: n for n, parent in enumerate(dict.fromkeys(parents))}
    of = np.fromiter((number[parent] for parent in parents), dtype=np.intp, count=len(parents))
    chain = np.stack([space(parent) for parent in number])[of]
    inside = np.array([parent is not None for parent in number])[of]
    inverse = np.where(inside[:, None, None], parent_inverse.astype(np.float64), np.eye(4))
    linear = rigid.product(chain[:, :3, :3], inverse[:, :3, :3])
    return linear, rigid.turned(chain[:, :3, :3], inverse[:, :3, 3]) + chain[:, :3, 3]


def _local(thing: bpy.types.Object) -> np.ndarray:
    basis = np.array(thing.matrix_basis, dtype=np.float64)
    return np.array(thing.matrix_parent_inverse, dtype=np.float64) @ basis if thing.parent is not None else basis
