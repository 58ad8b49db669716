"""Rounded twins of the meshes that bricks share: who shows which, and how the originals come back.

A twin knows its original, so that whatever measures a build reads the original through it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import bpy
import numpy as np

from ... import raw
from ...blender import mesh_of
from ...core.remembered import digest
from ...core.report import Skipped
from ...core.wear.easing import eased
from ...transaction import Back, at_end, keep
from ..build.build import Build
from .originals import ORIGINAL, SHRINK, original
from .rounded import Raw, rounded

SHAPE = "playworn_shape"  # on a twin: what it was made from and how, so that it is not made again
ROUNDED = "playworn_rounded"  # on a brick: 1 where its mesh is a twin


@dataclass(frozen=True)
class Twins:
    """The twins of a build's bricks before anything shows them."""

    of_brick: list[bpy.types.Mesh | None]
    skipped: tuple[Skipped, ...]  # parts that keep sharp edges, each with the reason

    @property
    def rounded(self) -> np.ndarray:
        """(n,) which bricks have one."""
        return np.array([twin is not None for twin in self.of_brick], dtype=bool)

    @property
    def are_all(self) -> bool:
        return all(self.of_brick)


def make(build: Build, shrinkage: np.ndarray, play_mm: float, radius_mm: float) -> Twins:
    """Twins with edges of a radius, smaller by clearance, `shrinkage` (n, 3), and by play; one for all bricks alike."""
    kinds: dict[tuple, list[int]] = {}
    reasons: dict[int, str] = {}
    for n, thing in enumerate(build.objects):
        if reason := _reason_to_leave(thing):
            reasons[n] = reason
        else:
            alike = build.scale[n].round(6).tolist(), shrinkage[n].round(9).tolist()
            kinds.setdefault((original(thing.data), *map(tuple, alike)), []).append(n)
    made = _Maker(build, play_mm, radius_mm).twins([(members[0], kind) for kind, members in kinds.items()], shrinkage)
    of_brick: list[bpy.types.Mesh | None] = [None] * len(build.objects)
    for members, twin in zip(kinds.values(), made, strict=True):
        for n in members:
            if isinstance(twin, str):
                reasons[n] = twin
            else:
                of_brick[n] = twin
    told = tuple(Skipped(build.bricks.names[n], f"keeps sharp edges: it {reasons[n]}") for n in sorted(reasons))
    return Twins(of_brick, told)


def put_on(build: Build, twins: Twins) -> None:
    """Lets every brick show its twin."""
    _keep(build.objects)
    ready = set()
    for thing, twin in zip(build.objects, twins.of_brick, strict=True):
        if twin is None:
            continue
        if ORIGINAL not in twin:
            twin[ORIGINAL] = thing.data
        if twin not in ready:
            _show(twin, twin[ORIGINAL].materials)
            ready.add(twin)
        thing.data = twin
        thing[ROUNDED] = 1.0
    sweep()


def take_off(objects: Iterable[bpy.types.Object]) -> None:
    """Every object shows the original again; the twins wait for `put_on` or `sweep`, unbound."""
    objects = list(objects)
    _keep(objects)
    shown = set()
    for thing in objects:
        if ROUNDED in thing:
            del thing[ROUNDED]
        mesh = thing.data
        if mesh is not None and (own := original(mesh)) is not mesh:
            shown.add(mesh)
            thing.data = own
    for twin in shown:
        if not twin.users:
            del twin[ORIGINAL]  # it would count as a user of the original


def sweep() -> None:
    """Removes the twins that nothing shows."""
    at_end(_sweep)


def _sweep() -> None:
    if unused := [mesh for mesh in bpy.data.meshes if SHAPE in mesh and not mesh.users]:
        bpy.data.batch_remove(unused)  # removing none too makes Blender link up all objects anew


def _keep(objects: Sequence[bpy.types.Object]) -> None:
    made = [mesh for mesh in bpy.data.meshes if SHAPE in mesh]
    raw.keep_all(objects, (ROUNDED,))
    raw.keep_all(made, (ORIGINAL,))
    keep(lambda: _before(objects, made))


def _before(objects: Sequence[bpy.types.Object], made: Sequence[bpy.types.Mesh]) -> Back:
    """Which meshes objects show now, and which materials the twins of the file."""
    shown = [(thing, thing.data) for thing in objects]
    dressed = [(mesh, list(mesh.materials)) for mesh in made]

    def back() -> None:
        for mesh, materials in dressed:
            if list(mesh.materials) != materials:
                _show(mesh, materials)
        for thing, mesh in shown:
            if thing.data != mesh:
                thing.data = mesh

    return back


def _reason_to_leave(thing: bpy.types.Object) -> str:
    if not thing.is_editable or thing.override_library:
        return "is linked from another file"
    if thing.modifiers:
        return "has modifiers, which another mesh could upset"
    if thing.mode != "OBJECT":
        return "is being edited"
    mesh = original(mesh_of(thing))
    if mesh.shape_keys or mesh.animation_data:
        return "has shape keys or an animated mesh, which another mesh would lose"
    return ""


def _show(twin: bpy.types.Mesh, materials: Sequence[bpy.types.Material | None]) -> None:
    """Gives a twin these materials."""
    while len(twin.materials) > len(materials):
        twin.materials.pop()
    for number, material in enumerate(materials):
        if number < len(twin.materials):
            twin.materials[number] = material
        else:
            twin.materials.append(material)


class _Maker:
    """Makes what is not there yet; meshes that differ in their materials alone are rounded once."""

    def __init__(self, build: Build, play_mm: float, radius_mm: float):
        self.build, self.play_mm, self.radius_mm = build, play_mm, radius_mm
        twins = [mesh for mesh in bpy.data.meshes if SHAPE in mesh and not mesh.library]
        self.there = {(twin[SHAPE], twin.get(ORIGINAL)): twin for twin in twins}

    def twins(self, kinds: list[tuple[int, tuple]], shrinkage: np.ndarray) -> list[bpy.types.Mesh | str]:
        """A twin, or the reason why there is none, for each kind: its first brick, and what tells it from others."""
        raws, shapes = {}, []
        for n, (mesh, *_) in kinds:
            raw = self._raw(n, mesh, shrinkage[n])
            shape = digest(raw.points, *_form(mesh), raw.scale, shrinkage[n], np.array(self.radius_mm)).hex()
            shapes.append(shape)
            if self._found(shape, mesh) is None:
                raws.setdefault(shape, raw)
        fresh = dict(zip(raws, rounded(list(raws.values()), self.radius_mm), strict=True))
        twins = [self._twin(shape, fresh.get(shape), mesh, shrinkage[n])
                 for shape, (n, (mesh, *_)) in zip(shapes, kinds, strict=True)]  # fmt: skip
        bpy.data.batch_remove([mesh for mesh in fresh.values() if not isinstance(mesh, str)])
        return twins

    def _raw(self, n: int, mesh: bpy.types.Mesh, shrink: np.ndarray) -> Raw:
        build = self.build
        flat = np.empty(3 * len(mesh.vertices), np.float32)
        mesh.vertices.foreach_get("co", flat)
        points = (flat.reshape(-1, 3) - build.middle[n]) * build.scale[n]
        part = build.bricks.parts[build.bricks.part[n]]
        return Raw(mesh, eased(points, part, shrink, self.play_mm), build.scale[n], build.middle[n])

    def _found(self, shape: str, mesh: bpy.types.Mesh) -> bpy.types.Mesh | None:
        """The twin that stands for a mesh, or has stood for it and now for none."""
        name = _name(shape, mesh)
        return self.there.get((name, mesh)) or self.there.get((name, None))

    def _twin(self, shape: str, fresh: bpy.types.Mesh | str | None, mesh: bpy.types.Mesh, shrink: np.ndarray):
        if isinstance(fresh, str):
            return fresh
        twin = self._found(shape, mesh)
        if twin is None:
            assert fresh is not None
            twin = fresh.copy()
            twin.name = f"{mesh.name} rounded"
            twin[SHAPE], twin[SHRINK] = _name(shape, mesh), shrink.tolist()
            self.there[twin[SHAPE], mesh] = twin
        return twin


def _name(shape: str, mesh: bpy.types.Mesh) -> str:
    return f"{shape} {mesh.name_full}"


def _form(mesh: bpy.types.Mesh) -> tuple[np.ndarray, ...]:
    """What else of a mesh a twin takes over."""
    corners, sizes = np.empty(len(mesh.loops), np.int32), np.empty(len(mesh.polygons), np.int32)
    slots = np.empty(len(mesh.polygons), np.int32)
    mesh.loops.foreach_get("vertex_index", corners)
    mesh.polygons.foreach_get("loop_total", sizes)
    mesh.polygons.foreach_get("material_index", slots)
    layers = [np.empty(2 * len(mesh.loops), np.float32) for _ in mesh.uv_layers]
    for layer, values in zip(mesh.uv_layers, layers, strict=True):
        layer.uv.foreach_get("vector", values)
    return corners, sizes, slots, *layers
