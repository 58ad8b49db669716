"""Getting at a build: bringing it in, opening it, telling what it is, measuring it, saving it."""

from collections import Counter
from collections.abc import Generator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import bpy

from ... import atomic
from ...blender import context
from ...core import report
from ...core.build import contacts
from ...core.errors import FileProblem, PlaywornError
from ...core.exports import stated
from ...core.fit import leeway, summary
from ...core.pictures import difference, picture
from ...core.slices import sliced, whole
from ...nodes import amounts as of_materials
from ...nodes.pictures import pictures as pictures_in
from ...nodes.surfaces import surfaces
from ...scene import files
from ...scene.build import amounts as of_bricks
from ...scene.build import builds as collections
from ...scene.build import colours, state, told
from ...scene.build.build import NoBricks, read, reading
from ...scene.columns import Columns
from ...scene.exports import importers
from ...scene.exports.formats import FORMATS
from ...scene.fit import motion
from ...scene.wear import images, places, slots
from ...transaction import transaction
from ..progress import Steps, part, share

SUFFIXES = tuple(FORMATS)  # of the files that can be brought in

builds = collections.builds
named_build = collections.named
scenes_showing = collections.scenes_showing
check_shown = collections.check_shown
is_applied = state.is_marked
recall = state.recall
State = state.State
state_text = state.text


@dataclass(frozen=True)
class Brought:
    """What became of a file that was to be brought in."""

    path: Path
    build: bpy.types.Collection | None = None
    inspection: report.Inspection | None = None
    problem: PlaywornError | None = None  # why it was not brought in, or cannot be looked at


def bring_in(path: Path, keep_objects: bool = False, keep_alpha: bool = False) -> bpy.types.Collection:
    """Reads a CAD export into the open scene, at true scale, as one build collection.

    With `keep_objects` no mesh is taken apart into bricks and none joined: each object is what it was in the file.
    With `keep_alpha` no clear plastic is made of what the export has see-through.
    """
    collection, _ = importers.bring(path, keep_objects, keep_alpha=keep_alpha)
    return collection


def bringing_in(paths: Sequence[Path], keep_objects: bool = False, keep_alpha: bool = False) -> Steps[list[Brought]]:
    """Brings files in step by step and looks at each build; of several one that cannot be read tells why. Closed at
    any step, nothing was brought in."""
    found = list[Brought]()
    with transaction():
        for number, path in enumerate(paths):
            one = _brought(path, keep_objects, keep_alpha, is_only=len(paths) == 1)
            found.append((yield from share(number / len(paths), (number + 1) / len(paths), path.name, one)))
    return found


def _brought(path: Path, keep_objects: bool, keep_alpha: bool, is_only: bool) -> Steps[Brought]:
    try:
        build, _ = yield from importers.bringing(path, keep_objects, keep_alpha=keep_alpha)
    except PlaywornError as problem:
        if is_only:
            raise
        return Brought(path, problem=problem)
    try:
        return Brought(path, build, (yield from part(0.9, "looking at the build", inspecting(build))))
    except PlaywornError as problem:
        return Brought(path, build, problem=problem)


def open_file(path: Path, keep_objects: bool = False, keep_alpha: bool = False) -> None:
    """Opens a .blend, or reads an export into an empty file."""
    if path.suffix.lower() == ".blend":
        files.open_blend(path)
    else:
        files.new()
        bring_in(path, keep_objects, keep_alpha)


def open_build(
    path: Path, name: str = "", keep_objects: bool = False, keep_alpha: bool = False
) -> bpy.types.Collection:
    """Opens a file; returns the build of that name in it, or else the likeliest one."""
    open_file(path, keep_objects, keep_alpha)
    return collections.named(name) if name else collections.likeliest(context().scene)


def inspect(collection: bpy.types.Collection) -> report.Inspection:
    """What the build is; nothing is changed."""
    return whole(inspecting(collection))


def inspecting(collection: bpy.types.Collection) -> Generator[None, None, report.Inspection]:
    """The same in parts."""
    try:
        build = yield from reading(collection)
    except NoBricks as problem:
        return summary.no_build(collection.name, problem.left_out, str(problem))
    touching = yield from sliced(partial(contacts.contacts, build.bricks))
    applied = state.recall(collection)
    materials = slots.materials(build.objects)
    unlike = stated.unlike_plastic(surfaces(materials), "the scene")
    yield
    found = partial(
        summary.inspection,
        build=collection.name,
        bricks=build.bricks,
        contacts=touching,
        lattice=build.lattice,
        materials=len(materials),
        applied=applied.preset.name if applied else "",
        left_out=build.left_out,
        colours=colours.count(build.objects),
        told=told.of(collection) or unlike,
        by_hand=_by_hand(build.objects, materials).sentence,
    )
    return (yield from sliced(found))


def by_hand(collection: bpy.types.Collection) -> report.ByHand:
    """What an artist gave single bricks and materials of the build."""
    things = Columns(collection).objects
    return _by_hand(things, slots.materials(things))


def _by_hand(things: list[bpy.types.Object], materials: list[bpy.types.Material]) -> report.ByHand:
    masks = Counter(layer for one in materials for layer in of_materials.masked(one))
    named = tuple(one.name for one in materials if of_materials.given(one))
    near = tuple((thing.name, place.amount) for thing, place in places.in_file())
    return report.ByHand(tuple(of_bricks.given(things)), named, tuple(masks.items()), near)


def save_picture(collection: bpy.types.Collection, path: Path) -> None:
    """Draws the build at rest and its joints as an SVG file; nothing is changed."""
    bricks = read(collection).bricks
    atomic.write_text(path, picture.joints(collection.name, bricks, contacts.contacts(bricks)))


def check(collection: bpy.types.Collection) -> report.Check:
    """Measures the fit that the bricks have now, from where they stand and not from what was asked for."""
    build = read(collection)
    motions = motion.measured(build)
    touching = contacts.contacts(build.bricks, motions.shrink)
    gone = images.missing(pictures_in(slots.materials(build.objects)))
    applied = state.recall(collection)
    told = summary.check(collection.name, build.bricks, touching, motions, applied, build.fixed, gone)
    return replace(told, takes=leeway.takes(build.bricks, applied.preset.fit, build.held)) if applied else told


def save(path: Path) -> None:
    """Saves the open file, whole or not at all."""
    files.save(path)


def save_difference(title: str, seen: difference.Difference, path: Path) -> None:
    """Draws what an update has changed as an SVG file."""
    atomic.write_text(path, difference.drawn(title, seen))


def old_file(path: Path) -> Path:
    """The file that is to be updated; FileProblem where it is none that could hold a build with its look."""
    if path.suffix.lower() != ".blend":
        raise FileProblem(f'"{path}" is no .blend file: give the file that holds the build first, then the new export')
    return path
