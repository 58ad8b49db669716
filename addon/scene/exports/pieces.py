"""Bricks out of the objects of an export: joined ones taken apart, loose studs and tubes put to their bricks."""

from collections import defaultdict
from collections.abc import Callable, Generator, Iterator
from dataclasses import replace
from functools import cached_property, lru_cache, partial

import bpy
import numpy as np
from mathutils import Matrix

from ...blender import context, meshes_of
from ...core import rigid
from ...core.build import bearing, lattice
from ...core.build.boxes import Boxes
from ...core.counts import evenly
from ...core.parts import assembly
from ...core.slices import is_over, sliced, whole
from ..columns import matrices
from . import levels, naming, straight
from .forms import Chunk, made_of
from .gone import let_go
from .split import Split

_ALIGNED = 1e-6
_ROUNDING = 1e-4  # of the largest side of a box
_TRIANGLES_AT_ONCE = 500_000
_OBJECTS_SEEN, _TRIANGLES_SEEN = 300, 60_000  # in which the build's own axes show
_SAME, _ROUNDED = 1e-5, 1e-6  # in a file's units, and of how far copies lie apart: what makes no difference
_FIRST = 32  # bricks of the same pieces that one is compared with
_ENDS = ("low", "high", "body_low", "body_high")


def bricks(
    objects: list[bpy.types.Object], expected_mm: float, up: int
) -> tuple[list[bpy.types.Object], lattice.Lattice, tuple[str, ...]]:
    """One object a brick in place of the objects, the lattice that they stand on, and what to tell of it."""
    return whole(finding(objects, expected_mm, up))


def finding(
    objects: list[bpy.types.Object], expected_mm: float, up: int
) -> Generator[None, None, tuple[list[bpy.types.Object], lattice.Lattice, tuple[str, ...]]]:
    """The same in parts."""
    splits = {}
    for mesh in dict.fromkeys(meshes_of(objects)):
        splits[mesh] = yield from Split.splitting(mesh)
    pieces = _Pieces(objects, splits)
    if not pieces.count:
        return objects, lattice.find(Boxes.of(())), ()
    rough = yield from levels.coarser(pieces.split, pieces.matrix)
    if rough.any():
        objects, pieces = _finest(pieces, rough)
    found = yield from _assembled(pieces, expected_mm, up)
    if not found.lattice.share_on_lattice:
        pieces, found = yield from _turned(pieces, found, expected_mm, up)
    finer, likely = yield from _parted(pieces, found)
    if likely:
        pieces, found = finer, (yield from _assembled(finer, expected_mm, up))
    told = (*levels.told(rough), *_told(objects, pieces, found))
    if finer is not pieces and not likely:
        told += (_may_be_several(pieces, finer),)
    turn = tuple(pieces.turn[:3, :3].ravel().tolist())
    return (yield from _made(objects, pieces, found.home)), replace(found.lattice, turn=turn), told


def _finest(pieces: "_Pieces", rough: np.ndarray) -> tuple[list[bpy.types.Object], "_Pieces"]:
    """The objects and pieces without those that are a coarser level of detail, which are let go."""
    kept = [obj for obj, is_rough in zip(pieces.objects, rough, strict=True) if not is_rough]
    splits = {mesh: pieces.splits[mesh] for mesh in dict.fromkeys(meshes_of(kept))}
    let_go([obj for obj, is_rough in zip(pieces.objects, rough, strict=True) if is_rough])
    return kept, _Pieces(kept, splits)


def _assembled(pieces: "_Pieces", expected_mm: float, up: int) -> Generator[None, None, assembly.Assembly]:
    return (yield from sliced(partial(assembly.assembled, pieces.shells(), expected_mm, up)))


def _turned(
    pieces: "_Pieces", found: assembly.Assembly, expected_mm: float, up: int
) -> Generator[None, None, tuple["_Pieces", assembly.Assembly]]:
    """The pieces as they lie along their own axes, where bricks show there that do not along the file's."""
    turn = yield from sliced(partial(bearing.bearing, pieces.some_corners()))
    if (turn == np.eye(3)).all():
        return pieces, found
    lying = _Pieces(pieces.objects, pieces.splits, turn)
    better = yield from _assembled(lying, expected_mm, up)
    return (lying, better) if better.lattice.share_on_lattice else (pieces, found)


class _Pieces:
    """The shells of all objects as they stand, or as they would with the file turned (3, 3): `thing` (S,) and `shell`
    (S,) say which object's which."""

    def __init__(self, objects: list[bpy.types.Object], splits: dict[bpy.types.Mesh, Split], turn=None):
        self.objects, self.splits = objects, splits
        self.split = [splits[mesh] for mesh in meshes_of(objects)]
        self.turn = np.eye(4)
        if turn is not None:
            self.turn[:3, :3] = turn
        self.matrix = self.turn @ matrices(objects)
        count = np.array([len(split.faces) for split in splits.values()], dtype=np.intp)
        which = {mesh: n for n, mesh in enumerate(splits)}
        self.shown = shown = np.array([which[mesh] for mesh in meshes_of(objects)], dtype=np.intp)
        number = count[shown]
        self.thing = np.repeat(np.arange(len(objects)), number)
        self.shell = np.arange(number.sum()) - np.repeat(np.cumsum(number) - number, number)
        self.row = np.repeat((np.cumsum(count) - count)[shown], number) + self.shell
        self.count = len(self.thing)

    def shells(self) -> assembly.Shells:
        own = Boxes(*(self._all(lambda split, end=end: getattr(split.solids.boxes, end)) for end in _ENDS))
        stretched = np.linalg.norm(self.matrix[:, :3, :3], axis=1)[self.thing]  # each axis by itself
        grown = np.abs(np.linalg.det(self.matrix[:, :3, :3]))[self.thing] ** (1 / 3)
        return assembly.Shells(
            boxes=self._standing(own),
            own_size=self._all(lambda split: split.solids.size) * stretched,
            volume=self._all(lambda split: split.solids.volume) * grown**3,
            area=self._all(lambda split: split.solids.area) * grown**2,
            closed=self.closed,
            facing=rigid.turned(self.matrix[self.thing, :3, :3], self._all(lambda split: split.solids.facing))
            * grown[:, None],
            thing=self.thing,
            colour=self._colours(),
            family=_families(self.objects),
            frame=self.matrix,
            own=own,
            triangles=self.corners,
        )

    def _colours(self) -> np.ndarray:
        """(S,) a number for the material of each shell's first face."""
        number: dict[bpy.types.Material | None, int] = {}
        found = []
        for mesh, split in self.splits.items():
            own = np.array([number.setdefault(each, len(number)) for each in mesh.materials or (None,)])
            slots = split.form.slots()[[faces[0] for faces in split.faces]] if split.faces else own[:0]
            found.append(own[np.minimum(slots, len(own) - 1)])
        return np.concatenate(found)[self.row]

    @property
    def closed(self) -> np.ndarray:
        return self._all(lambda split: split.closed)

    @property
    def turned(self) -> np.ndarray:
        """(S,) which shells lie along other axes than their mesh's, or may do so in a file that is turned."""
        size, box = self._all(lambda split: split.solids.size), self._all(lambda split: split.solids.boxes.size)
        askew = _is_askew(self.matrix[:, :3, :3]) & (self.turn != np.eye(4)).any()
        return askew[self.thing] | (np.abs(size - box) > _ROUNDING * box.max(axis=1, keepdims=True)).any(axis=1)

    def _all(self, of_split: Callable[[Split], np.ndarray]) -> np.ndarray:
        return np.concatenate([of_split(split) for split in self.splits.values()])[self.row]

    def _standing(self, own: Boxes) -> Boxes:
        """The boxes of all shells in the world: turned with their object, or measured anew where it stands askew."""
        linear, origin = self.matrix[self.thing, :3, :3], self.matrix[self.thing, :3, 3]
        ends = [rigid.turned(linear, getattr(own, end)) + origin for end in _ENDS]
        low, body_low = np.minimum(ends[0], ends[1]), np.minimum(ends[2], ends[3])
        high, body_high = np.maximum(ends[0], ends[1]), np.maximum(ends[2], ends[3])
        first = np.searchsorted(self.thing, np.arange(len(self.objects) + 1))
        for split, things in self._by_split(np.flatnonzero(_is_askew(self.matrix[:, :3, :3]))):
            rows = (first[things][:, None] + np.arange(len(split.faces))).ravel()
            turned = split.standing(self.matrix[things])
            low[rows], high[rows] = turned.low, turned.high
            body_low[rows], body_high[rows] = turned.body_low, turned.body_high
        return Boxes(low, high, body_low, body_high)

    def _by_split(self, things: np.ndarray) -> Iterator[tuple[Split, np.ndarray]]:
        """Some objects by the split that they show, as many at once as memory takes."""
        order = things[np.argsort(self.shown[things], kind="stable")]
        for same in np.split(order, np.flatnonzero(np.diff(self.shown[order])) + 1) if len(order) else ():
            split = self.split[same[0]]
            for some in np.array_split(same, 1 + len(same) * len(split.form.triangles) // _TRIANGLES_AT_ONCE):
                yield split, some

    @cached_property
    def corners(self) -> Callable[[int], np.ndarray]:
        """The triangles (T, 3, 3) of a shell where it stands; the last are kept as long as the pieces themselves."""
        return lru_cache(maxsize=4096)(self._corners)

    def _corners(self, number: int) -> np.ndarray:
        n = self.thing[number]
        split, matrix = self.split[n], self.matrix[n]
        own = split.form.points[split.form.triangles[split.triangles[self.shell[number]]]]
        return own @ matrix[:3, :3].T + matrix[:3, 3]

    def some_corners(self) -> np.ndarray:
        """The triangles (T, 3, 3) of some objects where they stand, some of each."""
        seen = evenly(len(self.objects), _OBJECTS_SEEN)
        found = []
        for n in seen:
            points, triangles = self.split[n].form.points, self.split[n].form.triangles
            every = -(-len(triangles) * len(seen) // _TRIANGLES_SEEN) or 1
            found.append(points[triangles[::every]] @ self.matrix[n, :3, :3].T + self.matrix[n, :3, 3])
        return np.concatenate(found)

    def faces(self, number: int) -> np.ndarray:
        return self.split[self.thing[number]].faces[self.shell[number]]


def _is_askew(linear: np.ndarray) -> np.ndarray:
    """(n,) which of linear maps (n, 3, 3) bring some axis between the world's."""
    along = np.abs(linear) / np.maximum(np.linalg.norm(linear, axis=1, keepdims=True), 1e-30)
    return (along.max(axis=1) < 1 - _ALIGNED).any(axis=1)


def _families(objects: list[bpy.types.Object]) -> np.ndarray:
    """(n,) the node of the file that objects hang on, itself included where it is one of them; -1 where it holds
    other nodes too."""
    known = set(objects)
    holding = {obj.parent for obj in objects if obj.parent is not None}
    above = {node.parent for node in holding}
    nodes = [obj if obj in holding else obj.parent for obj in objects]
    lone = [node for node in dict.fromkeys(nodes) if node is not None and (node in known or node not in above)]
    number = {node: n for n, node in enumerate(lone)}
    return np.array([-1 if node is None else number.get(node, -1) for node in nodes], dtype=np.intp)


def _parted(pieces: _Pieces, found: assembly.Assembly) -> Generator[None, None, tuple[_Pieces, bool]]:
    """The pieces with solids taken apart that are several bricks, and whether that is likely: where most of the surface
    would be, it is drawn with rings and no face was left out."""
    bodies = np.unique(found.home)
    holding = np.flatnonzero(np.bincount(pieces.thing[bodies]) > 1) if not found.too_many else ()
    splits, looked_at, taken_apart = dict(pieces.splits), 0.0, 0.0
    for n in holding:
        split = pieces.split[n]
        if splits[split.form.mesh] is split:
            mm = np.linalg.norm(pieces.matrix[n, :3, :3], axis=0) * found.lattice.mm_per_unit
            finer = yield from sliced(partial(split.parted, mm))
            looked_at += split.solids.area.sum()
            if len(finer.faces) > len(split.faces):
                splits[split.form.mesh] = finer
                taken_apart += split.solids.area[split.several(finer)].sum()
    return (
        (_Pieces(pieces.objects, splits, pieces.turn[:3, :3]), 2 * taken_apart < looked_at)
        if taken_apart
        else (pieces, False)
    )


def _may_be_several(pieces: _Pieces, finer: _Pieces) -> str:
    """Where solids are that only the artist can tell from several bricks."""
    several = [whole.several(fine) for whole, fine in zip(pieces.split, finer.split, strict=True)]
    unsure = np.flatnonzero(np.concatenate(several))
    name = naming.of(pieces.objects[pieces.thing[unsure[0]]])
    return (
        f"{len(unsure)} solids, as one in {name}, may be several bricks each that cannot be told apart, as the faces "
        "between them were left out: if so, export with clearance."
    )


def _told(objects: list[bpy.types.Object], pieces: _Pieces, found: assembly.Assembly) -> tuple[str, ...]:
    closed = pieces.closed
    if found.too_many:
        many = "The file" if len(objects) > 1 else naming.of(objects[0])
        return (
            f"{many} is made of {len(closed)} loose pieces, more than can be told apart: "
            "objects are kept as they are; export one solid for each brick.",
        )
    bodies = np.unique(found.home)
    holes = int((~closed[bodies]).sum())
    if not found.lattice.share_on_lattice and 2 * closed.sum() < len(closed):
        open_ = len(closed) - int(closed.sum())
        many = (
            f"{naming.of(objects[0])} is made of {open_}"
            if len(objects) == 1
            else f"{open_} of {len(closed)} objects are"
        )
        return (f"{many} open surfaces and not solids: export one solid for each brick.",)
    if len(bodies) > len(objects) and holes:
        return (
            f"{holes} of {len(bodies)} bricks have holes where they touch others: "
            "export with clearance, or as .glb or .stl.",
        )
    return ()


def _made(
    objects: list[bpy.types.Object], pieces: _Pieces, home: np.ndarray
) -> Generator[None, None, list[bpy.types.Object]]:
    """The objects of the bricks: those of the export that are whole bricks as they are, new ones for the rest."""
    lone = _lone_bodies(pieces, home)
    bricks_of = _bricks_of(pieces, home, lone)
    maker, made, gone = _Maker(pieces), dict[int, list[tuple[bpy.types.Object, int]]](), []
    for n in np.flatnonzero(lone < 0).tolist():
        obj, own = objects[n], bricks_of.get(n, [])
        some = [obj] if len(own) == 1 else []
        if some:
            obj.data = maker.mesh(n, own[0], np.eye(4))
        else:
            some = (yield from maker.apart(n, own)) if own else []
            gone.append(obj)
        made[n] = [(brick, int(home[group[0]])) for brick, group in zip(some, own, strict=True)]
        if is_over():
            yield
    wholes = zip(objects, lone.tolist(), strict=True)
    kept_bodies = [each for n, whole in enumerate(wholes) for each in made.get(n, (whole,))]
    kept = [brick for brick, _ in kept_bodies]
    let_go(gone)
    yield
    if len(kept) > len(objects) - len(gone):
        context().view_layer.update()  # new ones have no place in the world before
    turned = pieces.turned[[body for _, body in kept_bodies]]
    yield from straight.laying([kept[n] for n in np.flatnonzero(turned)], pieces.turn[:3, :3])
    return kept


def _lone_bodies(pieces: _Pieces, home: np.ndarray) -> np.ndarray:
    """The body of each object that is a whole brick and nothing else; -1 for the others."""
    thing, of = pieces.thing, pieces.thing[home]
    lone = np.full(len(pieces.objects), -1)
    lone[thing] = home
    lone[np.bincount(thing[np.unique(home)], minlength=len(lone)) != 1] = -1
    lone[np.concatenate([thing[thing != of], of[thing != of]])] = -1
    return lone


def _bricks_of(pieces: _Pieces, home: np.ndarray, lone: np.ndarray) -> dict[int, list[np.ndarray]]:
    """The shells of each brick by the object that holds its body, for those that are no whole brick."""
    rest = np.flatnonzero(lone[pieces.thing[home]] < 0)
    order = rest[np.argsort(home[rest], kind="stable")]
    found: dict[int, list[np.ndarray]] = defaultdict(list)
    for group in np.split(order, np.flatnonzero(np.diff(home[order])) + 1) if len(order) else ():
        found[int(pieces.thing[home[group[0]]])].append(group)
    return {n: sorted(groups, key=min) for n, groups in found.items()}


class _Maker:
    """Makes meshes out of pieces; those of the same shells of the same meshes are made once."""

    def __init__(self, pieces: _Pieces):
        self.pieces = pieces
        self.made: dict[tuple, list[tuple[np.ndarray, bpy.types.Mesh]]] = defaultdict(list)

    def apart(self, n: int, groups: list[np.ndarray]) -> Generator[None, None, list[bpy.types.Object]]:
        """An object for each group of one that holds them all, origins at the bodies' middles."""
        whole, found = self.pieces.objects[n], []
        digits = len(str(len(groups)))
        collections = whole.users_collection  # each time it is asked it looks through all of them
        for number, group in enumerate(groups, 1):
            pose = np.eye(4)
            pose[:3, 3] = -self._middle(n, group)
            mesh = self.mesh(n, group, pose)
            brick = bpy.data.objects.new(f"{naming.of(whole)}.{number:0{digits}d}", mesh)
            brick.parent, brick.matrix_parent_inverse = whole.parent, whole.matrix_parent_inverse
            brick.matrix_basis = whole.matrix_basis @ Matrix.Translation((-pose[:3, 3]).tolist())
            for collection in collections:
                collection.objects.link(brick)
            found.append(brick)
            if is_over():
                yield
        return found

    @cached_property
    def inverse(self) -> Callable[[int], np.ndarray]:
        """(4, 4) from the world to an object's axes: a joined mesh asks again for each brick."""
        return lru_cache(maxsize=64)(lambda n: np.linalg.inv(self.pieces.matrix[n]))

    def mesh(self, n: int, group: np.ndarray, pose: np.ndarray) -> bpy.types.Mesh:
        """The pieces of a group in the axes of object `n`, moved by a pose (4, 4)."""
        pieces = self.pieces
        into = pose @ self.inverse(n)
        parts = [(pieces.split[pieces.thing[s]].parts, pieces.shell[s]) for s in group]
        stand = np.array([into @ pieces.matrix[pieces.thing[s]] for s in group])
        stand[:, :3, 3] += [pose[:3, :3] @ part.shift[k] for pose, (part, k) in zip(stand, parts, strict=True)]
        key = tuple(
            (pieces.split[pieces.thing[s]].form.mesh, part.same[k], tuple(np.round(pose[:3, :3], 5).ravel()))
            for s, (part, k), pose in zip(group, parts, stand, strict=True)
        )
        near = max(_SAME, _ROUNDED * max(np.abs(part.shift).max(initial=0.0) for part, _ in parts))
        for places, mesh in self.made[key][:_FIRST]:
            if np.abs(places - stand[:, :3, 3]).max() <= near:
                return mesh
        by_thing = defaultdict(list)
        for s in group:
            by_thing[pieces.thing[s]].append(s)
        chunks = [
            Chunk(
                pieces.split[thing].form,
                np.sort(np.concatenate([pieces.faces(s) for s in own])),
                pose if thing == n else into @ pieces.matrix[thing],
            )
            for thing, own in by_thing.items()
        ]
        mesh = made_of(naming.of(pieces.split[n].form.mesh), chunks)
        self.made[key].append((stand[:, :3, 3], mesh))
        return mesh

    def _middle(self, n: int, group: np.ndarray) -> np.ndarray:
        """The middle of the largest piece of a group, studs left out, in the object's axes."""
        boxes = self.pieces.split[n].solids.boxes[self.pieces.shell[group[self.pieces.thing[group] == n]]]
        largest = (boxes.high - boxes.low).prod(axis=1).argmax()
        return 0.5 * (boxes.body_low + boxes.body_high)[largest]
