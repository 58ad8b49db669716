"""All that is measured of a build with a preset on it, for a page that tells of it."""

from dataclasses import dataclass

import bpy

from ...core import report
from ...core.build import contacts
from ...core.errors import BuildProblem
from ...core.pictures import spread
from ...scene.build import builds, state
from ...scene.build.build import read
from ...scene.fit import motion
from ..shots.shots import ReadsAs, list_shots, reads_as
from .build import check


@dataclass(frozen=True)
class Account:
    """What is measured, from where the bricks stand and not from what was asked for."""

    check: report.Check
    spreads: tuple[spread.Spread, ...]
    joints: tuple[spread.Joints, ...]
    shots: tuple[ReadsAs, ...]  # of the scene that shows it, none without a camera


def account(collection: bpy.types.Collection, scene: bpy.types.Scene) -> Account:
    """Measures a build; nothing is changed. BuildProblem where no preset is on it."""
    applied = state.recall(collection)
    if applied is None:
        raise BuildProblem(f'no preset is on the build "{collection.name}": apply one first')
    build = read(collection)
    motions, limits = motion.measured(build), applied.preset.fit
    touching = contacts.contacts(build.bricks, motions.shrink)
    shots = list_shots(scene) if scene in builds.scenes_showing(collection) else ()
    return Account(
        check(collection),
        spread.spreads(build.bricks, touching, motions, limits, applied.looseness, build.held),
        spread.joints(build.bricks, touching, motions, limits.play_mm),
        reads_as(collection, scene, shots),
    )
