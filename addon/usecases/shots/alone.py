"""A file made for one of its shots alone."""

from dataclasses import replace

import bpy

from ...core import report
from ...core.presets.preset import Preset
from ...core.shots import shot as rules
from ...core.shots.shot import INHERITED, SETTINGS
from ...scene.shots import shots as kept
from ...transaction import transaction
from ..progress import Progress, quiet
from ..wear.dials import Dials
from ..wear.look import apply
from .shots import for_shot, list_shots
from .timeline import shots_on_timeline


def apply_for_shot(
    collection: bpy.types.Collection,
    scene: bpy.types.Scene,
    name: str,
    preset: Preset,
    dials: Dials,
    progress: Progress = quiet,
) -> report.Applied:
    """Applies a preset in a file made for one shot: the build wears its dials, the other shots leave the file. A wear
    that grows is on the timeline there, and the build has the most of it."""
    shot = rules.named(list_shots(scene), name)
    kept.camera(scene, shot)  # a mistake is told before anything is done
    own, now = for_shot(shot, preset, dials)
    growth = shot.growth(dials.wear)
    most = max(growth.start, growth.end)
    grows = not growth.is_still
    with transaction():
        told = apply(collection, own, replace(now, wear=most) if grows else now, progress)
        # The build has its dials now: they must not count twice, and its other setting counts from them.
        left = replace(INHERITED, wear=growth.start / most, wear_last=growth.end / most) if grows else INHERITED
        kept.keep(scene, [replace(shot, dials=left, setting=SETTINGS[0], aside=None)])
        if grows:
            shots_on_timeline(collection, scene, progress)
    return told
