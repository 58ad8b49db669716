"""What an artist does with Playworn, on the build that is asked for by name."""

import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import bpy
import numpy as np

from addon import usecases
from addon.core.errors import BuildProblem
from addon.core.pictures import png
from addon.core.wear.layers import PICTURES
from addon.core.wear.quality import ROUNDINGS
from bench.ways.workshop import workshop
from tests.blender import scenes
from tests.blender.build import versions

from .choices import a_room, some_bricks, thing
from .hand import Action, Actions, Hand, Nothing

OURS = Actions()
COMMON = Actions()  # what a build is given whether it wears a look or not
PRESETS = {
    "test": scenes.PRESET,
    "loose": replace(
        scenes.PRESET,
        name="loose",
        fit=replace(scenes.PRESET.fit, shift_mm=0.12, clearance_mm=0.03),
        wear=replace(scenes.PRESET.wear, rounding_mm=0.35),
    ),
    "sharp": replace(scenes.PRESET, name="sharp", wear=replace(scenes.PRESET.wear, rounding_mm=0.0)),
}


@cache
def _folder() -> Path:
    return Path(tempfile.mkdtemp(prefix="playworn-sequences-"))


@cache
def _textures() -> Path:
    """A small picture for each kind."""
    folder = _folder() / "textures"
    folder.mkdir()
    grey = np.random.default_rng(3).random((16, 16))
    for kind in PICTURES:
        (folder / f"{kind}.png").write_bytes(png.encode(grey))
    return folder


@cache
def _next() -> Path:
    """The next version of the export: a few bricks are gone, and some have another colour."""
    bricks = workshop(24)
    return versions.export(_folder(), "next", versions.recoloured(bricks[:9] + bricks[12:]))


# What is chosen.


def a_build(hand: Hand) -> str:
    rooms = usecases.builds(bpy.context.scene)
    return hand.pick([room.name for room in rooms[:2]])


def a_worn_build(hand: Hand) -> str:
    rooms = usecases.builds(bpy.context.scene)
    return hand.pick([room.name for room in rooms if usecases.is_applied(room)])


def a_preset(hand: Hand) -> str:
    return hand.pick(sorted(PRESETS))


def a_rounding(hand: Hand) -> str:
    return hand.pick(sorted(ROUNDINGS))


def textures_or_none(hand: Hand) -> bool:
    return hand.pick((True, True, True, True, True, True, True, False))


def a_dial(hand: Hand) -> float:
    return hand.pick((1.0, 0.0, 0.4, 1.7))


def a_seed(hand: Hand) -> int:
    return hand.pick((0, 7))


def a_shot_dial(hand: Hand) -> str:
    return hand.pick(("wear", "looseness", "dust", "rounding"))


# What is done.


@OURS(a_build, a_preset, a_rounding, textures_or_none, a_dial, a_seed)
def put_on(build, preset, rounding, textures, looseness, seed):
    dials = usecases.Dials(
        seed=seed, looseness=looseness, rounding=rounding, textures=_textures() if textures else None, quality="draft"
    )
    usecases.apply(_build(build), PRESETS[preset], dials)


@OURS(a_worn_build, a_dial, a_seed)
def dial_fit(build, looseness, seed):
    usecases.dial(_build(build), *_turned(build, looseness=looseness, seed=seed))


@OURS(a_worn_build, a_dial)
def dial_wear(build, wear):
    usecases.dial_wear(_build(build), *_turned(build, wear=wear))


def _of_bricks(job, among: Actions) -> None:
    """Takes a use case in that goes by some bricks of a build."""
    among[job.__name__] = Action(
        job.__name__, (a_build, some_bricks), lambda build, names: job(_build(build), _things(names))
    )


for _job in (usecases.roll_again, usecases.pin, usecases.unpin):
    _of_bricks(_job, OURS)
for _job in (usecases.leave_out, usecases.count_in):  # an update, too, asks what is a brick
    _of_bricks(_job, COMMON)


@OURS(a_shot_dial, a_dial)
def dial_shot(dial, to):
    scene = bpy.context.scene
    shots = usecases.list_shots(scene)
    if not shots:
        raise Nothing
    usecases.dial_shots(scene, {(shots[-1].name, dial): to})


@OURS(a_worn_build)
def shots_on_timeline(build):
    usecases.shots_on_timeline(_build(build), bpy.context.scene)


@OURS(a_worn_build)
def off_timeline(build):
    usecases.off_timeline(_build(build))


@OURS(a_worn_build)
def clear(build):
    usecases.clear(_build(build))


@COMMON(a_room)
def update(build):
    usecases.update(_build(build), _next())


def clear_builds() -> None:
    """Clears every build that a look is on, one by one; Nothing where there is none."""
    worn = [room for scene in bpy.data.scenes for room in usecases.builds(scene) if usecases.is_applied(room)]
    if not worn:
        raise Nothing
    for build in dict.fromkeys(worn):
        usecases.clear(build)


def clear_all() -> None:
    """Takes everything of Playworn off the file, what was said by hand too."""
    if hasattr(usecases, "clear_everything"):
        usecases.clear_everything()
        return
    for scene in bpy.data.scenes:
        for build in usecases.builds(scene):
            if usecases.is_applied(build):
                usecases.clear(build)
        usecases.forget_shots(scene)
    for each in [*bpy.data.objects, *bpy.data.collections]:
        for name in (
            "playworn_pinned",
            "playworn_roll",
            "playworn_brick",
            "playworn_placed",
            "playworn_removed",
            "playworn_aside",
            "playworn_added",
            "playworn_stood",
            "playworn_key",
            "playworn_home",
        ):
            if name in each:
                del each[name]


def _build(name: str) -> bpy.types.Collection:
    try:
        return usecases.named_build(name)
    except BuildProblem:
        raise Nothing from None


def _things(names: list[str]) -> list[bpy.types.Object]:
    return [thing(name) for name in names]


def _turned(build: str, **turned):
    """What is on the build, with dials turned."""
    now = usecases.recall(_build(build))
    if now is None:
        raise Nothing
    dials = usecases.Dials(
        now.seed, now.looseness, now.wear, Path(now.textures) if now.textures else None, now.quality, now.rounding
    )
    return now.preset, replace(dials, **turned)
