"""Reads a collection of brick objects, at rest, into the core's brick table."""

from collections.abc import Generator
from dataclasses import dataclass, replace
from functools import cached_property, partial

import bpy
import numpy as np

from ...core import rigid
from ...core.build import belonging, identity, lattice
from ...core.build.boxes import Boxes
from ...core.build.bricks import Bricks
from ...core.errors import BuildProblem
from ...core.parts.likeness import SIZED, STUDDED, likeness
from ...core.parts.parts import Part, measured
from ...core.remembered import digest, remembered
from ...core.report import Skipped
from ...core.sizes import MET, TRADE
from ...core.slices import sliced, whole
from ..columns import Columns
from ..fit.deltas import Bare, Deltas
from ..turns import rotations
from ..wear import originals
from . import freedom, inherited
from .seen import Meshes, Seen, seen, size_of

_FLAT, _LARGE = "is flat, which no brick is", "is over half a metre long, which no brick is"
_OTHER = "has no studs and no size of a brick, and no brick holds it"
_BY_HAND = "is left out by hand"
MOST_PARTS = 4096  # kept measured: a few times as many as a large build has
_PLANE = 3  # so many vertices always lie in one
_FINE_MM = 1e-4  # finer differences between meshes of one part are rounding
_OF_THINGS = {"keep", "left_out", "odd", "kind"}  # of what is found, no part of a build
_ALIKE = 1e-3  # by which scales differ that are the same
_BY_OBJECT = 0  # how Blender numbers the usual kind of parent


@dataclass(frozen=True)
class Build:
    """A build at rest. Everything with n rows is in the order of the bricks."""

    collection: bpy.types.Collection
    columns: Columns
    rows: np.ndarray  # (n,) of `columns`
    root: bpy.types.Object | None  # the object whose space the build lives in; None: the world
    fixed: dict[int, str]  # brick -> why it cannot be moved
    bare: Bare  # all objects of `columns`, without ours
    strangers: np.ndarray  # (s,) rows of the mesh objects that are no bricks
    left_out: tuple[Skipped, ...]  # (s) these, and why
    bricks: Bricks
    lattice: lattice.Lattice
    parent_turn: np.ndarray  # (n, 3, 3) from each brick's parent space to build millimetres
    into_parent: np.ndarray  # (n, 3, 3) and back
    parent_shift: np.ndarray  # (n, 3)
    location: np.ndarray  # (n, 3) rest location without deltas, in the parent's space
    linear: np.ndarray  # (n, 3, 3) rest rotation and scale with the artist's deltas, in the parent's space
    scale: np.ndarray  # (n, 3) millimetres per unit of the mesh's axes
    middle: np.ndarray  # (n, 3) the part's origin in the mesh's own axes and units
    mode: np.ndarray  # (n,) rotation mode as Blender numbers it
    base: Deltas  # (n) the artist's deltas

    @cached_property
    def objects(self) -> list[bpy.types.Object]:
        return self.columns.some(self.rows)

    @property
    def held(self) -> np.ndarray:
        """(n,) which bricks cannot be moved."""
        held = np.zeros(len(self.bricks), dtype=bool)
        held[list(self.fixed)] = True
        return held

    @property
    def mm_per_world_unit(self) -> float:
        """Millimetres per unit of the scene, whatever its unit scale says."""
        return self.lattice.mm_per_unit / size_of(self.root)


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
    return whole(reading(collection))


def reading(collection: bpy.types.Collection) -> Generator[None, None, Build]:
    """The same in parts."""
    columns = Columns(collection)
    data, number = originals.originals(columns.objects)
    body = np.array([isinstance(mesh, bpy.types.Mesh) and len(mesh.vertices) > _PLANE for mesh in data], dtype=bool)
    rows = np.flatnonzero(body[number])
    if not len(rows):
        if flat := [thing.name for thing in columns.objects if _is_flat(thing.data)]:
            raise NoBricks(collection.name, tuple(Skipped(name, _FLAT) for name in flat))
        raise BuildProblem(
            f'the collection "{collection.name}" holds no mesh: choose the collection with the bricks in it'
        )
    meshes = Meshes([data[n] for n in np.flatnonzero(body)], (np.cumsum(body) - 1)[number[rows]])
    things = seen(collection, columns, rows, meshes)
    left_out, strangers = (), np.zeros(0, dtype=np.intp)
    if faults := things.faults:
        left_out, strangers = _named(things, faults), rows[list(faults)]
        rows, meshes = np.delete(rows, list(faults)), meshes.only(np.delete(np.arange(len(rows)), list(faults)))
        if not len(rows):
            raise NoBricks(collection.name, left_out)
        things = seen(collection, columns, rows, meshes)
    found: _Found = yield from sliced(partial(remembered, "build", things.told, partial(_found, things)))
    left_out += _named(things, found.left_out)
    if not len(found.keep):
        raise NoBricks(collection.name, left_out)
    rows, strangers = rows[found.keep], np.r_[strangers, rows[list(found.left_out)]]
    hung = columns.read("parent_type", dtype=np.int32)[rows] != _BY_OBJECT
    fixed = freedom.fixed(columns.some(rows), hung, found.odd, found.mode, things.raw)
    of_bricks = {name: values for name, values in vars(found).items() if name not in _OF_THINGS}
    return Build(collection, columns, rows, things.root, fixed, things.bare, strangers, left_out, **of_bricks)


def _named(things: Seen, left_out: dict[int, str]) -> tuple[Skipped, ...]:
    return tuple(Skipped(things.names[n], reason) for n, reason in left_out.items())


@dataclass(frozen=True)
class _Stand:
    """How n things stand."""

    chain_turn: np.ndarray  # (n, 3, 3) from the space under each one's parent to the root's
    chain_shift: np.ndarray  # (n, 3)
    location: np.ndarray  # (n, 3) at rest, in the parent's space
    linear: np.ndarray  # (n, 3, 3)
    to_root: np.ndarray  # (n, 3, 3) the same in the root's
    at_root: np.ndarray  # (n, 3)


@dataclass(frozen=True)
class _Found:
    """What things are, none of Blender's objects asked. Everything with n rows is in the order of the bricks."""

    keep: np.ndarray  # (n,) which of the things are bricks
    left_out: dict[int, str]  # the others, and why
    odd: np.ndarray  # (n,) which cannot be moved faithfully as they are turned
    kind: np.ndarray  # what those things are like that may be bricks
    bricks: Bricks
    lattice: lattice.Lattice
    parent_turn: np.ndarray  # as in a build, and so is what follows
    into_parent: np.ndarray
    parent_shift: np.ndarray
    location: np.ndarray
    linear: np.ndarray
    scale: np.ndarray
    middle: np.ndarray
    mode: np.ndarray
    base: Deltas

    def __len__(self) -> int:
        return len(self.keep)

    @property
    def studded(self) -> int:
        """How many things have studs."""
        return int((self.kind == STUDDED).sum())

    @property
    def sized(self) -> float:
        """The share of things that measure like a brick."""
        return float((self.kind >= SIZED).mean()) if len(self.kind) else 0.0


def _found(things: Seen) -> _Found:
    chain_turn, chain_shift = things.parents.chained(len(things.mode))
    location, linear = things.location.astype(np.float64), _rest_linear(things)
    stand = _Stand(
        chain_turn,
        chain_shift,
        location,
        linear,
        rigid.product(chain_turn, linear),
        rigid.turned(chain_turn, location + things.base.location) + chain_shift,
    )
    lies = np.eye(3) if things.known is None else things.known.turned
    boxes = things.meshes.boxes(lies @ stand.to_root, rigid.turned(lies, stand.at_root))
    found = _under(_lattice(boxes, things), things, stand)
    for mm in filter(None, (things.believed, things.mm_per_unit)):
        if abs(found.lattice.mm_per_unit / mm - 1.0) > _ALIKE and (mm == things.believed or not found.studded):
            other = _under(_lying(lattice.at(boxes, mm), things), things, stand)
            found = other if _is_likelier(other, found, mm == things.believed) else found
    return found


def _is_likelier(other: _Found, found: _Found, is_believed: bool) -> bool:
    """Whether the bricks themselves speak for another scale than that of the lattice on which they seem to stand.

    Of a few, or of some that an artist has changed, any may seem to stand on one; a stud is of one size. Where none
    shows, a scale that was believed before holds as long as most measure like bricks by it.
    """
    if other.studded != found.studded:
        return other.studded > found.studded
    return is_believed and other.sized >= belonging.MOST


def _under(found: lattice.Lattice, things: Seen, stand: _Stand) -> _Found:
    """What things are on a lattice."""
    meshes, mode = things.meshes, things.mode
    upright = axes(found)
    linear_mm = rigid.product(upright, stand.to_root)
    scale = np.sqrt(sum(linear_mm[:, k, :] * linear_mm[:, k, :] for k in range(3)))
    size = meshes.size * scale
    word = things.word
    flat, large = size.min(axis=1) < MET.thinnest, (size.max(axis=1) > TRADE.widest) & (word != belonging.IN)
    solid = np.flatnonzero(~flat & ~large)
    turn, middle = linear_mm / np.where(scale > 0, scale, 1.0)[:, None, :], meshes.middle
    origin = rigid.turned(upright, stand.at_root) + rigid.turned(turn, middle * scale)
    table, kind = _table(things, solid, turn[solid], origin[solid], scale[solid])
    is_brick = belonging.belonging(table, kind, word[solid], found, things.is_worn)
    keep, bricks = solid[is_brick], table if is_brick.all() else table.only(np.flatnonzero(is_brick))
    others = np.delete(np.arange(len(mode)), keep).tolist()
    parent_turn = rigid.product(upright, stand.chain_turn)[keep]
    return _Found(
        keep=keep,
        left_out={n: _why(flat[n], large[n], word[n]) for n in others},
        odd=freedom.odd(parent_turn, turn[keep], mode[keep]),
        kind=kind,
        bricks=bricks,
        lattice=found,
        parent_turn=parent_turn,
        into_parent=rigid.inverse(parent_turn),
        parent_shift=rigid.turned(upright, stand.chain_shift)[keep],
        location=stand.location[keep],
        linear=stand.linear[keep],
        scale=scale[keep],
        middle=middle[keep],
        mode=mode[keep],
        base=things.base.rows(keep),
    )


def _is_flat(data: bpy.types.ID | None) -> bool:
    """Whether it is a mesh of too few vertices to be read as a body."""
    return isinstance(data, bpy.types.Mesh) and 0 < len(data.vertices) <= _PLANE


def _table(things: Seen, solid: np.ndarray, turn: np.ndarray, origin: np.ndarray, scale: np.ndarray):
    """The table of those (s,) that may be bricks, and what each is like; meshes of one shape and size are one part."""
    number = things.meshes.number[solid]
    if not len(solid):
        return Bricks((), (), number, turn, origin, np.zeros(0, dtype=np.uint64)), number
    kinds = np.concatenate([number[:, None], np.rint(scale * 1e4 / scale.max()).astype(np.int64)], axis=1)
    _, first, kind = np.unique(identity.chained(kinds), return_index=True, return_inverse=True)
    found = [_part(*_shape(things.meshes, int(number[n]), scale[n])) for n in first]
    unique, example, part_of_kind = np.unique([told for told, _, _ in found], return_index=True, return_inverse=True)
    parts = tuple(found[n][1] for n in example)
    part = part_of_kind[kind]
    names = tuple(things.names[n] for n in solid)
    kept = {n: things.keys[row] for n, row in enumerate(solid.tolist()) if row in things.keys}
    key = inherited.keys(kept, identity.keys(unique[part], turn, origin))
    rolled = None if things.rolls is None else things.rolls[solid]
    bricks = Bricks(names, parts, part, turn, origin, key, rolled)
    return bricks, np.array([like for _, _, like in found])[kind]


def _shape(meshes: Meshes, number: int, scale: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Vertices in mm around their middle, to a tenth of a micrometre, and triangles."""
    vertices = meshes.vertices[number]
    middle = 0.5 * (vertices.min(axis=0) + vertices.max(axis=0))
    return np.rint((vertices - middle) * scale / _FINE_MM) * _FINE_MM, meshes.triangles[number]


def _part(vertices: np.ndarray, triangles: np.ndarray) -> tuple[np.uint64, Part, int]:
    """A part's fingerprint, the part, and what it is like."""

    def told() -> tuple[np.uint64, Part, int]:
        part = measured(vertices, triangles)
        return identity.fingerprint(vertices), part, likeness(vertices, triangles, part)

    return remembered("part", digest(vertices, triangles), told, MOST_PARTS)


def _why(flat: bool, large: bool, word: int) -> str:
    if word == belonging.OUT:
        return _BY_HAND
    return _FLAT if flat else _LARGE if large else _OTHER


def _rest_linear(things: Seen) -> np.ndarray:
    """Rotation and scale (n, 3, 3) of the objects' own channels with the artist's deltas on top."""
    mode, base = things.mode, things.base
    own = rotations(mode, things.euler, things.quaternion)
    own[mode < 0] = things.by_axis
    size = things.size.astype(np.float64) * base.scale
    return rigid.product(rotations(mode, base.euler, base.quaternion), own) * size[:, None, :]


def _lattice(boxes: Boxes, things: Seen) -> lattice.Lattice:
    """The lattice that bringing in found, where the bricks still stand on it, or the one they stand on now."""
    known = things.known
    if known is None:
        return lattice.find(boxes, things.mm_per_unit)
    return lattice.still(boxes, known) or _lying(lattice.find(boxes, things.mm_per_unit), things)


def _lying(found: lattice.Lattice, things: Seen) -> lattice.Lattice:
    """A lattice of the boxes of things, as they are laid along the axes that were found when they were brought in."""
    return found if things.known is None else replace(found, turn=things.known.turn)


def into_build(build: Build) -> np.ndarray:
    """From the world, as it is on the current frame, to the build's frame in mm (4, 4)."""
    matrix = np.eye(4)
    matrix[:3, :3] = axes(build.lattice)
    world = np.eye(4) if build.root is None else np.array(build.root.matrix_world, dtype=np.float64)
    return matrix @ np.linalg.inv(world)


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
    return np.array(turns[found.up], dtype=np.float64) @ found.turned * found.mm_per_unit
