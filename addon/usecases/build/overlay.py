"""What of a build can be seen as colours on its bricks, gathered for the 3D view or a picture; nothing is changed."""

from dataclasses import dataclass
from pathlib import Path

import bpy
import numpy as np

from ... import atomic
from ...core.build import contacts
from ...core.errors import BuildProblem
from ...core.fit.motions import farthest
from ...core.fit.overlap import interferences
from ...core.pictures import coloured
from ...core.pictures.overlay import INTERFERENCE, KINDS, MOTION, REACH, SKY, SUN, Overlay
from ...core.report import Seen
from ...core.wear.amounts import Carried, amounts
from ...core.wear.layers import LAYERS, LIGHT
from ...nodes import amounts as of_materials
from ...scene.build import state, surfaces
from ...scene.build.build import Build, read
from ...scene.build.builds import scenes_showing
from ...scene.columns import Columns
from ...scene.fit import motion
from ...scene.wear import carried, places, slots

OVERLAYS = tuple(KINDS)
Standing, Surface, standing = surfaces.Standing, surfaces.Surface, surfaces.standing
_NO_WINDOW = "No window: light came from everywhere"
_UNMASKED = "Masks within a material are not in it"


@dataclass(frozen=True)
class Gathered:
    """What a view needs to draw, none of Blender's objects in it."""

    overlay: Overlay
    bricks: np.ndarray  # (N,) by which Blender knows them while it runs
    surfaces: tuple[surfaces.Surface, ...]


def gather(collection: bpy.types.Collection, name: str, depsgraph: bpy.types.Depsgraph) -> Gathered:
    """What there is to see of one thing, and the surfaces that show it; BuildProblem where there is none of it."""
    seen, things = _seen(collection, name)
    return Gathered(seen, surfaces.numbers(things), surfaces.surfaces(things, depsgraph))


def look_at(collection: bpy.types.Collection, name: str) -> Seen:
    """The same in a few numbers."""
    seen, _ = _seen(collection, name)
    return seen.seen


def save_overlay(collection: bpy.types.Collection, name: str, path: Path) -> None:
    """Draws it as an SVG file, each side of each brick in its colour, as the build stands at rest."""
    seen, things = _seen(collection, name)
    build = read(collection)
    row = {thing: n for n, thing in enumerate(things)}
    rows = [n for n, thing in enumerate(build.objects) if thing in row]
    of_bricks = Overlay(seen.kind, seen.values[[row[build.objects[n]] for n in rows]], seen.notes)
    atomic.write_text(path, coloured.drawn(collection.name, build.bricks.only(np.array(rows)), of_bricks))


def _seen(collection: bpy.types.Collection, name: str) -> tuple[Overlay, list[bpy.types.Object]]:
    if name in (MOTION, INTERFERENCE):
        build = read(collection)
        found = _farthest(build) if name == MOTION else _interferences(build)
        return Overlay(KINDS[name], np.repeat(found[:, None], 6, axis=1)), build.objects
    things = carried.worn(Columns(collection).objects)
    look = state.recall(collection)
    if look is None or not things:
        raise BuildProblem(
            f'there is no {KINDS[name].label.lower()} to see: no preset is on the build "{collection.name}", apply one'
        )
    values, notes = _of_wear(collection, name, look, things)
    return Overlay(KINDS[name], values, notes), things


def _farthest(build: Build) -> np.ndarray:
    return farthest(build.bricks, motion.measured(build))


def _interferences(build: Build) -> np.ndarray:
    motions = motion.measured(build)
    return interferences(build.bricks, contacts.contacts(build.bricks, motions.shrink), motions)


def _of_wear(
    collection: bpy.types.Collection, name: str, look: state.State, things: list[bpy.types.Object]
) -> tuple[np.ndarray, tuple[str, ...]]:
    """The values of worn bricks on their sides, and what is to be told of them."""
    found = carried.carried(things, _of_materials(things), places.in_file())
    notes = () if carried.is_lit(things) else (_NO_WINDOW,)
    if name in LAYERS:
        dialled = carried.dialled(scenes_showing(collection)[0], name)
        masked = any(name in of_materials.masked(one) for one in slots.materials(things))
        notes = (notes if LAYERS[name].where == LIGHT else ()) + ((_UNMASKED,) if masked else ())
        return amounts(name, look.preset.wear, dialled, found), notes
    return _placed(name, found), notes if name == SUN else ()


def _placed(name: str, found: Carried) -> np.ndarray:
    return {REACH: found.reach, SKY: found.sky, SUN: found.light}[name]


def _of_materials(things: list[bpy.types.Object]) -> list[float]:
    """The amount of what each brick is made of; of several materials that of the first one that is worn."""
    known = {one: amount for one in slots.materials(things) if (amount := of_materials.of(one)) is not None}
    own = ([slot.material for slot in thing.material_slots] for thing in things)
    return [next((known[each] for each in of_brick if each in known), 1.0) for of_brick in own]
