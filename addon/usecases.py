"""The jobs of the tool, each a short poem: gather from the scene, compute in the core, write once.

Each does all of its work or none, and raises a PlaywornError whose sentence tells the user what to mend.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import bpy

from .core import contacts, fit, picture, report, summary, texture
from .core import quality as tiers
from .core.errors import BuildProblem, DialProblem
from .core.findings import Findings
from .core.preset import Preset
from .core.texture import WearImages
from .nodes import attach as wear
from .nodes.pictures import pictures as pictures_in
from .nodes.plain import plain
from .scene import builds as collections
from .scene import deltas, files, findings, images, importers, library, motion, pins, rolls, slots, stamps, state, whole
from .scene.attempt import attempt
from .scene.build import Build, read
from .scene.columns import Columns

MOST = 2.0  # of a dial
LARGEST_SEED = 2**31 - 1  # Blender's own whole numbers end there

Progress = Callable[[float, str], None]  # how far, 0 to 1, and what is being done; may raise errors.Cancelled

builds = collections.builds
recall = state.recall
list_presets = library.list_presets
find_preset = library.find_preset
save_preset = library.save_preset


@dataclass(frozen=True)
class Dials:
    """What an artist turns over a preset; 1 is the preset itself."""

    seed: int = 0
    looseness: float = 1.0
    wear: float = 1.0
    textures: Path | None = None  # None: stand-ins
    quality: str = tiers.STANDARD.name

    def __post_init__(self) -> None:
        for name in ("looseness", "wear"):
            value = getattr(self, name)
            if not 0.0 <= value <= MOST:
                raise DialProblem(f"the dial {name} is at {value:g}: give a number from 0 to {MOST:g}")
        if not 0 <= self.seed <= LARGEST_SEED:
            raise DialProblem(f"the seed is {self.seed}: give a whole number from 0 to {LARGEST_SEED}")
        tiers.named(self.quality)


def quiet(fraction: float, words: str) -> None:
    """Progress that tells nobody."""


def bring_in(path: Path) -> bpy.types.Collection:
    """Reads a CAD export into the open scene, at true scale, as one build collection."""
    collection, _ = importers.bring(path)
    return collection


def open_build(path: Path) -> bpy.types.Collection:
    """Opens a .blend, or reads an export into an empty file; returns the build in it."""
    if path.suffix.lower() == ".blend":
        files.open_blend(path)
        return collections.likeliest(bpy.context.scene)
    files.new()
    return bring_in(path)


def inspect(collection: bpy.types.Collection) -> report.Inspection:
    """What the build is; nothing is changed."""
    build = read(collection)
    touching = contacts.contacts(build.bricks)
    applied = state.recall(collection)
    return summary.inspection(
        build=collection.name,
        bricks=build.bricks,
        contacts=touching,
        lattice=build.lattice,
        materials=len(slots.materials(build.objects)),
        applied=applied.preset.name if applied else "",
        strangers=build.strangers,
    )


def save_picture(collection: bpy.types.Collection, path: Path) -> None:
    """Draws the build at rest and its joints as an SVG file; nothing is changed."""
    bricks = read(collection).bricks
    whole.write_text(path, picture.joints(collection.name, bricks, contacts.contacts(bricks)))


def apply(collection: bpy.types.Collection, preset: Preset, dials: Dials, progress: Progress = quiet) -> report.Applied:
    """Puts a preset on a build: bricks moved, materials worn. What was on it before is replaced, never added to."""
    used = texture_uses(dials.textures)
    progress(0.0, "reading the build")
    build = read(collection)
    sits = _fitted(build, preset, dials)
    progress(0.3, "reading the textures")
    with attempt():
        pictures = images.find(dials.textures)
        progress(0.6, "moving the bricks and wearing the materials")  # the last moment to stop: from here all is done
    worn, unworn = _wear(build, preset, pictures, tiers.named(dials.quality))
    left_alone = motion.write(build, sits.motions)
    stamps.write(build)
    _remember(collection, preset, dials, *_by_hand(build))
    progress(1.0, "done")
    return summary.applied(
        collection.name, preset, dials, build.bricks, sits, build.held, worn, left_alone + unworn, used
    )


def dial(collection: bpy.types.Collection, preset: Preset, dials: Dials) -> report.Applied:
    """Turns the dials of a build that a preset is already on: its bricks and the wear over all, no material."""
    build = read(collection)
    sits = _fitted(build, preset, dials)
    left_alone = motion.write(build, sits.motions)
    _remember(collection, preset, dials, *_by_hand(build))
    return summary.applied(collection.name, preset, dials, build.bricks, sits, build.held, 0, left_alone)


def dial_wear(collection: bpy.types.Collection, preset: Preset, dials: Dials) -> None:
    """Turns the wear over all, and nothing else."""
    before = state.recall(collection)
    _remember(collection, preset, dials, *((before.pinned, before.rolled) if before else ()))


def clear(collection: bpy.types.Collection) -> report.Cleared:
    """Takes everything out of a build that a preset put on it, bit for bit."""
    if not state.is_marked(collection):
        raise BuildProblem(f'there is nothing to clear: no preset is on the build "{collection.name}"')
    columns = Columns(collection)
    put_back = deltas.restore(columns)
    stamps.clear(columns.objects)
    state.forget(collection)
    given_back = _unwear(state.marked())
    slots.give_back(columns.objects)
    if not any(state.is_marked(other) for other in bpy.context.scene.collection.children_recursive):
        stamps.clear_wear(bpy.context.scene)
    return report.Cleared(collection.name, len(put_back), given_back)


def pin(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> int:
    """Pins those of the things that are bricks of the build: they stay where the export put them, others keep clear."""
    return pins.pin(_of_build(collection, things))


def unpin(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> int:
    """Takes the pins off those of the things that are bricks of the build."""
    return pins.unpin(_of_build(collection, things))


def roll_again(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> int:
    """Draws the motions of those of the things that are bricks of the build anew; how each wears does not change."""
    return rolls.again(_of_build(collection, things))


def undo_rolls(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> int:
    """Gives those of the things that are bricks of the build their first draw back."""
    return rolls.undo(_of_build(collection, things))


def check(collection: bpy.types.Collection) -> report.Check:
    """Measures the fit that the bricks have now, from where they stand and not from what was asked for."""
    build = read(collection)
    motions = motion.measured(build)
    touching = contacts.contacts(build.bricks, motions.shrink)
    gone = images.missing(pictures_in(slots.materials(build.objects)))
    return summary.check(collection.name, build.bricks, touching, motions, state.recall(collection), build.fixed, gone)


def survey_textures(folder: Path, preset: Preset) -> tuple[Findings, ...]:
    """What each picture of a folder is, in millimetres as the preset sizes it; nothing is changed."""
    sizes_mm = {kind: getattr(preset.wear, kind).size_mm for kind in texture.KINDS}
    return findings.survey(folder, sizes_mm)


def texture_uses(folder: Path | None) -> tuple[report.TextureUse, ...]:
    """What becomes of each picture of a folder, by the names; TextureProblem where there is no folder or no picture."""
    return texture.uses(images.names(folder)) if folder else ()


def save(path: Path) -> None:
    """Saves the open file, whole or not at all."""
    files.save(path)


def _of_build(collection: bpy.types.Collection, things: list[bpy.types.Object]) -> list[bpy.types.Object]:
    bricks = set(read(collection).objects)
    found = [thing for thing in things if thing in bricks]
    if not found:
        raise BuildProblem(f'no brick of the build "{collection.name}" is selected: select some first')
    return found


def _fitted(build: Build, preset: Preset, dials: Dials) -> fit.Fitted:
    return fit.fitted(build.bricks, preset.fit, dials.seed, dials.looseness, build.held)


def _by_hand(build: Build) -> tuple[int, int]:
    """How many bricks are pinned, and how often bricks were drawn anew."""
    rolled = 0 if build.bricks.roll is None else int(build.bricks.roll.sum())
    return sum(reason == pins.REASON for reason in build.fixed.values()), rolled


def _remember(collection: bpy.types.Collection, preset: Preset, dials: Dials, pinned: int = 0, rolled: int = 0) -> None:
    stamps.set_wear(bpy.context.scene, dials.wear)
    textures = str(dials.textures) if dials.textures else ""
    kept = state.State(preset, dials.seed, dials.looseness, dials.wear, textures, dials.quality, pinned, rolled)
    state.remember(collection, kept)


def _wear(
    build: Build, preset: Preset, pictures: WearImages, quality: tiers.Quality
) -> tuple[int, tuple[report.Skipped, ...]]:
    """Wears the materials of a build, where bricks have none gives them some; how many, and what is left alone."""
    bare = slots.fill(build.objects, plain)
    materials = slots.materials(build.objects)
    try:
        unworn = wear.attach(materials, preset.wear, pictures, 1.0 / build.mm_per_world_unit, quality)
    except BaseException:
        slots.give_back(build.objects)
        raise
    return sum(map(wear.is_attached, materials)), bare + unworn


def _unwear(others: list[bpy.types.Collection]) -> int:
    """Takes the wear out of every material of this file that no other build needs; how many there were."""
    needed = dict.fromkeys(slots.materials(thing for other in others for thing in Columns(other).objects))
    local = [one for one in bpy.data.materials if one not in needed and not one.library]
    worn = [one for one in local if wear.is_attached(one)]
    wear.detach(worn, keep=needed)
    return len(worn)
