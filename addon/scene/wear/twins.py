"""Rounded twins of the meshes that bricks share: who shows which, and how the originals come back.

A twin knows its original, so that whatever measures a build reads the original through it.
"""

from collections.abc import Generator, Iterable, Sequence
from dataclasses import dataclass

import bpy
import numpy as np

from ... import raw
from ...blender import mesh_of, values_of
from ...core.remembered import digest
from ...core.report import Skipped
from ...core.slices import is_over, whole
from ...core.wear.easing import eased
from ...transaction import Back, at_end, keep
from .. import removal
from ..build.build import Build
from ..exports.forms import got, points_of
from . import imprint, paint
from .handwork import KEPT, Left, adopting, dress, dressed
from .imprint import IMPRINT
from .originals import BODY, ORIGINAL, SHAPE, SHRINK, is_changed, original
from .rounded import EDGE, Raw, Rounded, rounding

ROUNDED = "playworn_rounded"  # on a brick: 1 where its mesh is a twin
_SHARP = "keeps sharp edges: it "


@dataclass(frozen=True)
class Twins:
    """The twins of a build's bricks before anything shows them."""

    of_brick: list[bpy.types.Mesh | None]
    skipped: tuple[Skipped, ...]  # parts that keep their meshes, each with the reason
    changed: frozenset[int] = frozenset()  # bricks whose own mesh was a twin, and is round

    @property
    def rounded(self) -> np.ndarray:
        """(n,) which bricks show roundings."""
        return np.array([twin is not None or n in self.changed for n, twin in enumerate(self.of_brick)], dtype=bool)

    @property
    def are_all(self) -> bool:
        return bool(self.rounded.all())


def make(build: Build, shrinkage: np.ndarray, play_mm: float, radius_mm: float) -> Twins:
    """Twins with edges of a radius, smaller by clearance, `shrinkage` (n, 3), and by play; one for all bricks alike."""
    return whole(making(build, shrinkage, play_mm, radius_mm))


def making(build: Build, shrinkage: np.ndarray, play_mm: float, radius_mm: float) -> Generator[None, None, Twins]:
    """The same in parts."""
    kinds: dict[tuple, list[int]] = {}
    reasons: dict[int, str] = {}
    changed = set[int]()
    for n, thing in enumerate(build.objects):
        if is_changed(mesh_of(thing)):
            changed.add(n)
            reasons[n] = KEPT
        elif reason := _reason_to_leave(thing):
            reasons[n] = _SHARP + reason
        else:
            alike = build.scale[n].round(6).tolist(), shrinkage[n].round(9).tolist()
            kinds.setdefault((original(thing.data), *map(tuple, alike)), []).append(n)
        if is_over():
            yield
    maker = _Maker(build, play_mm, radius_mm)
    made = yield from maker.making([(members[0], kind) for kind, members in kinds.items()], shrinkage)
    of_brick: list[bpy.types.Mesh | None] = [None] * len(build.objects)
    for members, twin in zip(kinds.values(), made, strict=True):
        for n in members:
            if isinstance(twin, str):
                reasons[n] = _SHARP + twin
            else:
                of_brick[n] = twin
    told = tuple(Skipped(build.bricks.names[n], reasons[n]) for n in sorted(reasons))
    return Twins(of_brick, told, frozenset(changed))


def put_on(build: Build, twins: Twins) -> None:
    """Lets every brick show its twin."""
    whole(putting_on(build, twins))


def putting_on(build: Build, twins: Twins) -> Generator[None, None, None]:
    """The same in parts."""
    _keep(build.objects)
    ready = set()
    for n, (thing, twin) in enumerate(zip(build.objects, twins.of_brick, strict=True)):
        if n in twins.changed:
            thing[ROUNDED] = 1.0
        if twin is None:
            continue
        if ORIGINAL not in twin:
            twin[ORIGINAL] = thing.data
        if twin not in ready:
            dress(twin, twin[ORIGINAL])
            ready.add(twin)
        thing.data = twin
        thing[ROUNDED] = 1.0
        if IMPRINT not in twin:
            imprint.put(twin, [thing])
        if is_over():
            yield
    sweep()


def take_off(objects: Iterable[bpy.types.Object]) -> None:
    """Every object shows the original again; the twins wait for `put_on` or `sweep`, unbound. What an artist did to
    them stays."""
    whole(taking_off(objects))


def taking_off(objects: Iterable[bpy.types.Object]) -> Generator[None, None, None]:
    """The same in parts."""
    objects = list(objects)
    yield from adopting(objects)
    _keep(objects)
    shown = set()
    for thing in objects:
        if ROUNDED in thing:
            del thing[ROUNDED]
        mesh = thing.data
        if mesh is not None and (own := original(mesh)) is not mesh:
            shown.add(mesh)
            thing.data = own
        if is_over():
            yield
    for twin in shown:
        if not twin.users:
            del twin[ORIGINAL]  # it would count as a user of the original


def let_go(objects: Iterable[bpy.types.Object]) -> int:
    """Takes twins off for good, and all of ours off the meshes that an artist changed; how many objects keep one."""
    return whole(letting_go(objects))


def letting_go(objects: Iterable[bpy.types.Object]) -> Generator[None, None, int]:
    """The same in parts."""
    objects = list(objects)
    yield from taking_off(objects)
    sweep()
    shown = dict[bpy.types.Mesh, int]()
    for thing in objects:
        if thing.type == "MESH":
            shown[mesh_of(thing)] = shown.get(mesh_of(thing), 0) + 1
    ours = {mesh: count for mesh, count in shown.items() if mesh.is_editable and _is_marked(mesh)}
    changed = sum(count for mesh, count in ours.items() if is_changed(mesh))
    worn = {thing.data for thing in bpy.data.objects if ROUNDED in thing and thing.data in ours} if ours else set()
    left = Left()
    for mesh in ours.keys() - worn:
        keep(lambda mesh=mesh: _marks(mesh))
        if body := mesh.get(BODY):
            left.may_go(body)
        for mark in (SHRINK, BODY):
            if mark in mesh:
                del mesh[mark]
        if EDGE in mesh.attributes:
            mesh.attributes.remove(mesh.attributes[EDGE])
        if is_over():
            yield
    at_end(left.sweep)
    return changed


def _is_marked(mesh: bpy.types.Mesh) -> bool:
    return is_changed(mesh) or (EDGE in mesh.attributes and SHAPE not in mesh)


def _marks(mesh: bpy.types.Mesh) -> Back:
    """What is ours on a mesh that was a twin."""
    written = {mark: raw.plain(mesh[mark]) for mark in (SHRINK, BODY) if mark in mesh}
    layer = mesh.attributes.get(EDGE)
    values = np.zeros(len(values_of(layer)) if layer else 0, np.float32)
    if layer:
        values_of(layer).foreach_get("value", values)
    kind = (layer.data_type, layer.domain) if layer else None

    def back() -> None:
        for mark, value in written.items():
            mesh[mark] = value
        if kind and EDGE not in mesh.attributes:
            values_of(mesh.attributes.new(EDGE, *kind)).foreach_set("value", values)

    return back


def sweep() -> None:
    """Removes the twins that nothing shows."""
    at_end(_sweep)


def ours() -> list[bpy.types.Mesh]:
    """The twins of the file."""
    return [mesh for mesh in bpy.data.meshes if SHAPE in mesh]


def _sweep() -> None:
    removal.remove(mesh for mesh in ours() if not mesh.users)


def _keep(objects: Sequence[bpy.types.Object]) -> None:
    made = [mesh for mesh in bpy.data.meshes if SHAPE in mesh]
    raw.keep_all(objects, (ROUNDED,))
    raw.keep_all(made, (ORIGINAL, IMPRINT))
    keep(lambda: _before(objects, made))


def _before(objects: Sequence[bpy.types.Object], made: Sequence[bpy.types.Mesh]) -> Back:
    """Which meshes objects show now, and how the twins of the file are dressed."""
    shown = [(thing, thing.data) for thing in objects]
    undress = dressed(made)

    def back() -> None:
        undress()
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


class _Maker:
    """Makes what is not there yet; meshes that differ in their materials alone are rounded once."""

    def __init__(self, build: Build, play_mm: float, radius_mm: float):
        self.build, self.play_mm, self.radius_mm = build, play_mm, radius_mm
        twins = [mesh for mesh in bpy.data.meshes if SHAPE in mesh and not mesh.library]
        self.there = {(twin[SHAPE], twin.get(ORIGINAL)): twin for twin in twins}

    def making(self, kinds: list[tuple[int, tuple]], shrinkage: np.ndarray) -> Generator[None, None, list[Rounded]]:
        """A twin, or the reason why there is none, for each kind: its first brick, and what tells it from others."""
        raws, shapes = {}, []
        for n, (mesh, *_) in kinds:
            raw = self._raw(n, mesh, shrinkage[n])
            painted = paint.told(mesh, self.build.objects[n].vertex_groups.keys())
            radius = np.array(self.radius_mm)
            shape = digest(raw.points, *_form(mesh), *painted, raw.scale, shrinkage[n], radius).hex()
            shapes.append(shape)
            if self._found(shape, mesh) is None:
                raws.setdefault(shape, raw)
            yield
        made, twins = (yield from rounding(list(raws.values()), self.radius_mm)), list[Rounded]()
        fresh = dict(zip(raws, made, strict=True))
        for shape, (n, (mesh, *_)) in zip(shapes, kinds, strict=True):
            twins.append(self._twin(shape, fresh.get(shape), mesh, shrinkage[n]))
            yield
        yield from removal.removing(mesh for mesh in fresh.values() if not isinstance(mesh, str))
        return twins

    def _raw(self, n: int, mesh: bpy.types.Mesh, shrink: np.ndarray) -> Raw:
        build = self.build
        scaled = (points_of(mesh) - build.middle[n]) * build.scale[n]
        part = build.bricks.parts[build.bricks.part[n]]
        return Raw(mesh, eased(scaled, part, shrink, self.play_mm), build.scale[n], build.middle[n])

    def _found(self, shape: str, mesh: bpy.types.Mesh) -> bpy.types.Mesh | None:
        """The twin that stands for a mesh, or has stood for it and now for none."""
        name = _name(shape, mesh)
        return self.there.get((name, mesh)) or self.there.get((name, None))

    def _twin(self, shape: str, fresh: Rounded | None, mesh: bpy.types.Mesh, shrink: np.ndarray):
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
    corners = got(mesh.loops, "vertex_index", 1, np.int32)
    sizes, slots = (got(mesh.polygons, name, 1, np.int32) for name in ("loop_total", "material_index"))
    return corners, sizes, slots, *(got(layer.uv, "vector", 2, np.float32) for layer in mesh.uv_layers)
