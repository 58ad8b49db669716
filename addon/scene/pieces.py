"""Bricks out of the objects of an export: joined ones taken apart, loose studs and tubes put to their bricks."""

from collections import defaultdict
from dataclasses import dataclass
from functools import lru_cache

import bpy
import numpy as np
from mathutils import Matrix

from ..core import assembly, lattice, shells, solids
from ..core.lattice import Boxes
from .forms import Chunk, Form, made_of

_ALIGNED = 1e-6
_NOTHING = (np.zeros(0), np.zeros(0), np.zeros((0, 3)))
_ENDS = ("low", "high", "body_low", "body_high")


def bricks(
    objects: list[bpy.types.Object], expected_mm: float, up: int
) -> tuple[list[bpy.types.Object], lattice.Lattice, tuple[str, ...]]:
    """One object a brick in place of the objects, the lattice that they stand on, and what to tell of it."""
    pieces = _Pieces(objects)
    if not pieces.count:
        return objects, lattice.find(Boxes.of(())), ()
    found = assembly.assembled(pieces.shells(), expected_mm, up)
    told = _told(objects, pieces, found)
    return _made(objects, pieces, found.home), found.lattice, told


@dataclass(frozen=True)
class _Split:
    """A mesh with its shells: the faces of each, and what each measures in the mesh's own axes."""

    form: Form
    faces: list[np.ndarray]
    closed: np.ndarray
    boxes: Boxes
    volume: np.ndarray
    area: np.ndarray
    size: np.ndarray  # along each shell's own axes
    triangles: list[np.ndarray]  # of each shell, numbers of the form's

    @classmethod
    def of(cls, mesh: bpy.types.Mesh) -> "_Split":
        form = Form.of(mesh)
        parts = shells.split(form.points, form.triangles)
        order = np.argsort(parts.label, kind="stable")
        triangles = np.split(order, np.searchsorted(parts.label[order], np.arange(len(parts))))[1:]
        label = np.full(len(form.starts), -1)
        label[form.face_of_triangle] = parts.label
        by_face = np.argsort(label, kind="stable")
        faces = np.split(by_face, np.searchsorted(label[by_face], np.arange(len(parts))))[1:]
        corners = form.points[form.triangles]
        measured = [solids.measured(corners[each]) for each in triangles]
        volume, area, size = (np.array(each) for each in zip(*measured, strict=True)) if measured else _NOTHING
        boxes = Boxes.of(form.points[np.unique(form.triangles[each])] for each in triangles)
        return cls(form, faces, parts.closed, boxes, volume, area, size.reshape(-1, 3), triangles)


class _Pieces:
    """The shells of all objects as they stand: `thing` (S,) and `shell` (S,) say which object's which."""

    def __init__(self, objects: list[bpy.types.Object]):
        self.objects = objects
        meshes = list(dict.fromkeys(obj.data for obj in objects))
        splits = {mesh: _Split.of(mesh) for mesh in meshes}
        self.split = [splits[obj.data] for obj in objects]
        self.matrix = np.array([np.array(obj.matrix_world, dtype=float) for obj in objects]).reshape(-1, 4, 4)
        number = [len(split.faces) for split in self.split]
        self.thing = np.repeat(np.arange(len(objects)), number)
        self.shell = np.concatenate([np.arange(count) for count in number]) if number else np.zeros(0, int)
        self.count = len(self.thing)

    def shells(self) -> assembly.Shells:
        rows = [self._placed(n) for n in range(len(self.objects))]
        low, high, body_low, body_high, size = (np.concatenate(each) for each in zip(*rows, strict=True))
        volume, area, closed = (
            np.concatenate([getattr(split, name) for split in self.split]) for name in ("volume", "area", "closed")
        )
        own = [np.concatenate([getattr(split.boxes, end) for split in self.split]) for end in _ENDS]
        grown = np.abs(np.linalg.det(self.matrix[:, :3, :3]))[self.thing]
        return assembly.Shells(
            boxes=Boxes(low, high, body_low, body_high),
            own_size=size,
            volume=volume * grown,
            area=area * grown ** (2 / 3),
            closed=closed,
            thing=self.thing,
            family=_families(self.objects),
            frame=self.matrix,
            own=Boxes(*own),
            triangles=self.corners,
        )

    def _placed(self, n: int) -> tuple[np.ndarray, ...]:
        """World boxes of one object's shells, and their sizes along its own axes in world units."""
        split, linear, origin = self.split[n], self.matrix[n, :3, :3], self.matrix[n, :3, 3]
        scale = np.linalg.norm(linear, axis=0)
        boxes = split.boxes
        own = split.size * scale.mean()
        if (np.abs(linear / np.maximum(scale, 1e-30)).max(axis=0) > 1 - _ALIGNED).all():
            ends = [each @ linear.T + origin for each in (boxes.low, boxes.high, boxes.body_low, boxes.body_high)]
            low, high = np.minimum(ends[0], ends[1]), np.maximum(ends[0], ends[1])
            return low, high, np.minimum(ends[2], ends[3]), np.maximum(ends[2], ends[3]), own
        points = split.form.points @ linear.T + origin
        turned = Boxes.of(points[np.unique(split.form.triangles[each])] for each in split.triangles)
        return turned.low, turned.high, turned.body_low, turned.body_high, own

    @lru_cache(maxsize=4096)  # noqa: B019  as long as the pieces themselves
    def corners(self, number: int) -> np.ndarray:
        """The triangles (T, 3, 3) of a shell where it stands."""
        n = self.thing[number]
        split, matrix = self.split[n], self.matrix[n]
        own = split.form.points[split.form.triangles[split.triangles[self.shell[number]]]]
        return own @ matrix[:3, :3].T + matrix[:3, 3]

    def faces(self, number: int) -> np.ndarray:
        return self.split[self.thing[number]].faces[self.shell[number]]


def _families(objects: list[bpy.types.Object]) -> np.ndarray:
    """(n,) the node of the file that objects hang on, itself included where it is one of them; -1 where it holds
    other nodes too."""
    known = set(objects)
    holding = {obj.parent for obj in objects if obj.parent is not None}
    holding |= {node.parent for node in holding}
    nodes = [obj if obj in holding else obj.parent for obj in objects]
    number: dict = {}
    for node in dict.fromkeys(nodes):
        if node is not None and (node in known or not any(child in holding for child in node.children)):
            number[node] = len(number)
    return np.array([number.get(node, -1) for node in nodes], dtype=np.intp)


def _told(objects: list[bpy.types.Object], pieces: _Pieces, found: assembly.Assembly) -> tuple[str, ...]:
    closed = np.concatenate([split.closed for split in pieces.split])
    bodies = np.unique(found.home)
    holes = int((~closed[bodies]).sum())
    if not found.lattice.share_on_lattice and 2 * closed.sum() < len(closed):
        open_ = len(closed) - int(closed.sum())
        many = f"{objects[0].name} is made of {open_}" if len(objects) == 1 else f"{open_} of {len(closed)} objects are"
        return (f"{many} open surfaces and not solids: export one solid for each brick.",)
    if len(bodies) > len(objects) and holes:
        return (
            f"{holes} of {len(bodies)} bricks have holes where they touch others: "
            "export with clearance, or as .glb or .stl.",
        )
    return ()


def _made(objects: list[bpy.types.Object], pieces: _Pieces, home: np.ndarray) -> list[bpy.types.Object]:
    """The objects of the bricks: those of the export that are whole bricks as they are, new ones for the rest."""
    order = np.argsort(home, kind="stable")
    groups = np.split(order, np.flatnonzero(np.diff(home[order])) + 1)
    whole = np.bincount(pieces.thing, minlength=len(objects))
    bricks_of: dict[int, list[np.ndarray]] = defaultdict(list)
    for group in groups:
        bricks_of[pieces.thing[home[group[0]]]].append(group)
    kept, used = [], set()
    maker = _Maker(pieces)
    for n, own in sorted(bricks_of.items()):
        obj = objects[n]
        if len(own) == 1 and len(own[0]) == whole[n] and (pieces.thing[own[0]] == n).all():
            kept.append(obj)
            used.add(obj)
        elif len(own) == 1:
            obj.data = maker.mesh(n, own[0], np.eye(4))
            kept.append(obj)
            used.add(obj)
        else:
            kept += maker.apart(n, own)
    bpy.context.view_layer.update()
    _let_go([obj for obj in objects if obj not in used])
    return kept


class _Maker:
    """Makes meshes out of pieces; those of the same shells of the same meshes are made once."""

    def __init__(self, pieces: _Pieces):
        self.pieces = pieces
        self.made: dict[tuple, bpy.types.Mesh] = {}

    def apart(self, n: int, groups: list[np.ndarray]) -> list[bpy.types.Object]:
        """An object for each group of one that holds them all, origins at the bodies' middles."""
        whole, found = self.pieces.objects[n], []
        digits = len(str(len(groups)))
        for number, group in enumerate(sorted(groups, key=lambda each: each.min()), 1):
            pose = np.eye(4)
            pose[:3, 3] = -self._middle(n, group)
            mesh = self.mesh(n, group, pose)
            brick = bpy.data.objects.new(f"{whole.name}.{number:0{digits}d}", mesh)
            brick.parent, brick.matrix_parent_inverse = whole.parent, whole.matrix_parent_inverse
            brick.matrix_basis = whole.matrix_basis @ Matrix.Translation(-pose[:3, 3])
            for collection in whole.users_collection:
                collection.objects.link(brick)
            found.append(brick)
        return found

    def mesh(self, n: int, group: np.ndarray, pose: np.ndarray) -> bpy.types.Mesh:
        """The pieces of a group in the axes of object `n`, moved by a pose (4, 4)."""
        pieces = self.pieces
        into = pose @ np.linalg.inv(pieces.matrix[n])
        told = [(pieces.split[pieces.thing[s]].form.mesh, pieces.shell[s],
                 tuple(np.round(into @ pieces.matrix[pieces.thing[s]], 5).ravel())) for s in group]  # fmt: skip
        key = tuple(sorted(told, key=lambda each: (each[0].name, *each[1:])))
        if key not in self.made:
            by_thing: dict[int, list[int]] = defaultdict(list)
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
            self.made[key] = made_of(pieces.split[n].form.mesh.name, chunks)
        return self.made[key]

    def _middle(self, n: int, group: np.ndarray) -> np.ndarray:
        """The middle of the largest piece of a group, studs left out, in the object's axes."""
        boxes = self.pieces.split[n].boxes[self.pieces.shell[group[self.pieces.thing[group] == n]]]
        largest = (boxes.high - boxes.low).prod(axis=1).argmax()
        return 0.5 * (boxes.body_low + boxes.body_high)[largest]


def _let_go(objects: list[bpy.types.Object]) -> None:
    """Removes objects whose pieces went elsewhere; an empty takes the place of one that others hang on."""
    gone = set(objects)
    for obj in objects:
        left = [child for child in obj.children if child not in gone]
        if not left:
            continue
        stand = bpy.data.objects.new(obj.name, None)
        for collection in obj.users_collection:
            collection.objects.link(stand)
        stand.parent, stand.matrix_parent_inverse = obj.parent, obj.matrix_parent_inverse
        stand.matrix_basis = obj.matrix_basis
        for child in left:
            inverse = child.matrix_parent_inverse.copy()
            child.parent, child.matrix_parent_inverse = stand, inverse
    meshes = {obj.data for obj in objects}
    bpy.data.batch_remove(objects)
    bpy.data.batch_remove([mesh for mesh in meshes if not mesh.users])
