"""Bring in an export: read it with Blender's importers, find its true scale and upright axis, stand it in the scene."""

import re
from collections.abc import Generator
from contextlib import contextmanager, nullcontext
from dataclasses import replace
from functools import partial
from pathlib import Path

import bpy
import numpy as np
from mathutils import Vector

from ...blender import context, meshes_of
from ...core import threads
from ...core.build import lattice
from ...core.build.boxes import Boxes
from ...core.build.lattice import Lattice
from ...core.errors import FileProblem
from ...core.slices import is_over, is_slicing, rest, sliced, telling, whole
from ...core.units import MM_PER_METRE
from ...stdout import errors_dropped, kept_clean
from ..attempt import attempt
from ..build import arrival, looks, told
from ..columns import matrices
from . import doubles, formats, forms, instances, moulded, offstage, pieces, sharing, sound, trial
from . import frame as frames
from .said import Said

_AT_ONCE = 200  # objects or meshes
_FLAT, _NOTHING = 1e-7, 1e-20  # of the largest scale, and of all: what single precision turns into numbers no more
_PLAINLY = 1e-6  # of its norm's cube: a map whose determinant is more has no axis that small


def trying(path: Path) -> Generator[None, None, Said | None]:
    """Yields some times a second while another Blender tries a file that this one may not survive; FileProblem where
    it is refused. Closed before its end, it gives up. Returns what came to light of the file, if anything did."""
    form = formats.of(path)
    if not form.deadly or (form.is_whole and form.is_whole(path)):
        return None
    said = (yield from trial.asked(path, form.stand)) if form.stand else None
    if said is None:
        yield from trial.survive(path, form.name)
    return said


def bring(
    path: Path, keep_objects: bool = False, tried: bool = False, to_stay: bool = True, keep_alpha: bool = False
) -> tuple[bpy.types.Collection, Lattice]:
    """Import a build at true scale and upright, under one frame in one new collection named after the file.

    Its objects become one a brick, and bricks of one part share a mesh unless all is to be kept as it is. What is not
    `to_stay` need share none, and may go by passing names. What the export makes see-through is clear plastic, or
    blended with what lies behind it where alpha is to be kept.
    Another Blender tries the file before, unless it has been `tried`.
    """
    return whole(bringing(path, keep_objects, tried, to_stay, keep_alpha))


def bringing(
    path: Path, keep_objects: bool = False, tried: bool = False, to_stay: bool = True, keep_alpha: bool = False
) -> Generator[tuple[float, str], None, tuple[bpy.types.Collection, Lattice]]:
    """The same in parts, each of which says how far it is and what comes next; closed at any, nothing came in."""
    path = Path(path)
    form = formats.of(path)
    said = None if tried else (yield from telling((0.0, "trying the file"), trying(path)))
    if said and said.is_plain:
        form = form.plain or form
    yield 0.1, "reading the file"
    with attempt() as made:
        room = bpy.data.collections.new(path.stem)
        context().scene.collection.children.link(room)
        objects, nothing = yield from _reading(path, form, room, keep_objects, to_stay)
        yield 0.5, "finding the bricks"
        if keep_objects:
            found, lines = lattice.find(Boxes.of(_world_points(objects)), form.unit_mm, form.up), ()
        else:
            untold = _untold(form, objects)
            bricks = pieces.finding(objects, form.unit_mm, form.up)
            objects, found, lines = yield from telling((0.5, "finding the bricks"), bricks)
        yield 0.7, "looking at the materials"
        lines += nothing + moulded.finish(path, form, objects, said.stated if said else None, keep_alpha)
        yield 0.7, "looking at the materials"
        if not keep_objects:
            doubles.drop(objects, made.materials())
            if to_stay:
                parts = sharing.sharing(objects, found.mm_per_unit, untold)
                yield from telling((0.75, "comparing the parts"), parts)
        yield from telling((0.85, "standing the bricks up"), _standing(objects, found, room))
        told.keep(room, lines)
        return room, replace(found, warnings=found.warnings + lines)


def _standing(
    objects: list[bpy.types.Object], found: Lattice, room: bpy.types.Collection
) -> Generator[None, None, None]:
    """Objects as they are to stay: shaded, standing in the scene, with what is remembered of how they came."""
    yield
    meshes = list(dict.fromkeys(meshes_of(objects)))
    for some in threads.slices(len(meshes), _AT_ONCE):
        forms.shade_unsaid(meshes[some])
        yield
    known: dict[bpy.types.Mesh, str] = {}
    for some in threads.slices(len(objects), _AT_ONCE):
        looks.keep(objects[some], known)
        yield
    yield from _placing(objects, found, room)
    mark, stands = arrival.begin(room), arrival.standing(room)
    for some in threads.slices(len(objects), _AT_ONCE):
        arrival.keep(objects[some], mark, stands)
        yield


def _placing(
    objects: list[bpy.types.Object], found: Lattice, room: bpy.types.Collection
) -> Generator[None, None, None]:
    """Put objects and their parents under one frame that turns up to +Z and scales to the scene's unit; no mesh is
    touched. All of it stands in one collection."""
    scene = context().scene
    frame = bpy.data.objects.new(f"{room.name} frame", None)
    up = Vector(found.sign * found.turned[found.up])
    frame.rotation_euler = up.rotation_difference(Vector((0, 0, 1))).to_euler()
    frame.scale = [found.mm_per_unit / MM_PER_METRE / scene.unit_settings.scale_length] * 3
    room.objects.link(frame)
    things, inside = _with_parents(objects), set(room.objects)
    for other in (scene.collection, *bpy.data.collections):  # asked one by one, each thing would look at all others
        for obj in set(things).intersection(other.objects) if other != room else ():
            other.objects.unlink(obj)
            if is_over():
                yield
    for obj in things:
        if obj not in inside:
            room.objects.link(obj)
        if obj.parent is None:
            obj.parent = frame  # what hung on nothing has no inverse of a parent
        if is_over():
            yield
    offstage.back(room)
    yield from rest()
    context().view_layer.update()
    frames.draw(frame, room)
    frames.keep(frame, found)


def _reading(path, form, room, keep_objects, to_stay):
    load = form.load if to_stay else form.load_unnamed or form.load
    with attempt() as made:
        try:
            with (
                kept_clean(),
                errors_dropped(),
                _plain_scene(room),
                offstage.keeping(room) if form.native else nullcontext(),
            ):
                load(path)
        except FileProblem:
            raise
        except Exception as error:  # importers written in Python fail in every way
            raise FileProblem(_unreadable(path, form, _reason(error))) from error
        yield 0.4, "looking at what was read"
        came = made.objects()
        offstage.settle(room, came)
        yield 0.4, "looking at what was read"
        meshes = [obj for obj in came if obj.type == "MESH"]
        if not keep_objects:
            copies = sharing.copying(meshes, _untold(form, meshes), may_move=not offstage.is_shown(room))
            yield from telling((0.4, "looking for copies"), copies)
        yield 0.45, "looking whether it is sound"
        parts = sound.looking(meshes)
        if fault := (yield from telling((0.45, "looking whether it is sound"), parts)):
            raise FileProblem(_unreadable(path, form, fault))
        yield 0.45, "making instances real"
        bodies = instances.made_real(came) if offstage.is_shown(room) else instances.bodies(came)  # off it are none
        yield 0.45, "making instances real"
        objects = [obj for obj, solid in zip(bodies, _has_volume(bodies), strict=True) if solid]
        if not objects:
            raise FileProblem(f'"{path}" has no mesh in it: export the bricks as meshes')
        kept = set(_with_parents(objects))
        if idle := [obj for obj in made.objects() if obj not in kept]:
            bpy.data.batch_remove(idle)  # removing none too makes Blender link up all objects anew
    flat = len(bodies) - len(objects)
    lines = [f"{flat} of {len(bodies)} objects are scaled to nothing and left out."] if flat else []
    if form.doubt:
        lines.append((yield from telling((0.45, "making instances real"), sliced(partial(form.doubt, path)))))
    return objects, tuple(filter(None, lines))


def _untold(form, objects):
    """Session ids of the objects' meshes that windows were told nothing of: those that Python has not made, as long as
    windows have no turn."""
    are_told = is_slicing() and not bpy.app.background
    return {obj.data.session_uid for obj in objects} if form.native and not are_told else set()


def _has_volume(objects):
    """(n,) of which objects no axis is scaled to nothing."""
    linear = matrices(objects)[:, :3, :3]
    whole = np.linalg.norm(linear, axis=(1, 2))
    solid = (np.abs(np.linalg.det(linear)) > _PLAINLY * whole**3) & (whole > 2 * _NOTHING)
    size = np.linalg.svd(linear[~solid], compute_uv=False)
    solid[~solid] = (size[:, 2] > _FLAT * size[:, 0]) & (size[:, 0] > _NOTHING)
    return solid


@contextmanager
def _plain_scene(room):
    """While importers run the unit is the metre (some scale by it and some do not), and what they make lands in a
    collection of its own."""
    units, layer = context().scene.unit_settings, context().view_layer
    kept = units.scale_length, layer.active_layer_collection
    own = next(child for child in layer.layer_collection.children if child.collection == room)
    units.scale_length, layer.active_layer_collection = 1.0, own
    try:
        yield
    finally:
        units.scale_length, layer.active_layer_collection = kept


def _unreadable(path, form, reason):
    return f'"{path}" cannot be read as {form.name} ({reason[:200]}): export it again, or in another format'


def _reason(error):
    """What an importer says in one line; of a traceback the line that tells what went wrong."""
    said = str(error).partition("\nLocation: ")[0].strip()
    if "Traceback (most recent call last)" in said:
        said = said.splitlines()[-1]
    return re.sub(r"\s+", " ", said).removeprefix("Error: ").strip(" .") or type(error).__name__


def _with_parents(objects):
    """The objects and whatever they hang on, each once."""
    found = dict.fromkeys(objects)
    for obj in objects:
        while (obj := obj.parent) is not None and obj not in found:
            found[obj] = None
    return list(found)


def _world_points(objects):
    clouds = {}
    for obj in objects:
        if obj.data not in clouds:
            clouds[obj.data] = forms.points_of(obj.data).astype(float)
        matrix = np.array(obj.matrix_world)
        yield clouds[obj.data] @ matrix[:3, :3].T + matrix[:3, 3]
