"""The scene's shots as fields: rows and dials read what the scene keeps and write there, they hold nothing."""

from collections.abc import Callable

import bpy

from ... import usecases
from ...core.errors import PlaywornError
from ...core.shots.shot import INHERITED, LARGEST_SEED, MOST, NAMES, Shot
from ...core.wear import layers
from .. import gather, told
from ..context import ShotSettings, scene_of, settings_of

SEED, GROWN = "seed", "wear_last"


class PlaywornShotRow(bpy.types.PropertyGroup):
    """A row of the list; its place tells which shot it shows."""


def listed(scene: bpy.types.Scene) -> tuple[Shot, ...]:
    """The scene's shots, none where they cannot be read."""
    try:
        return usecases.list_shots(scene)
    except PlaywornError:
        return ()


def problem(scene: bpy.types.Scene) -> str:
    """Why the shots cannot be read or the chosen one could not be changed, "" where all is well."""
    try:
        usecases.list_shots(scene)
    except PlaywornError as unread:
        return str(unread)
    return told.shot_problem


def chosen(scene: bpy.types.Scene) -> Shot | None:
    """The shot whose row is chosen."""
    shots, number = listed(scene), settings_of(scene).shots.number
    return shots[number] if 0 <= number < len(shots) else None


def match(scene: bpy.types.Scene, name: str = "") -> None:
    """Gives the list a row for each shot, and chooses the shot of that name where there is one."""
    group, shots = settings_of(scene).shots, listed(scene)
    while len(group.rows) < len(shots):
        group.rows.add()
    while len(group.rows) > len(shots):
        group.rows.remove(len(group.rows) - 1)
    names = [shot.name for shot in shots]
    group.number = names.index(name) if name in names else min(group.number, max(len(shots) - 1, 0))


def match_soon(scene: bpy.types.Scene) -> None:
    """Matches the rows once drawing is over, where a file, a script or a marker has changed the shots."""
    matched = len(settings_of(scene).shots.rows) == len(listed(scene))
    if scene.is_editable and not matched and not bpy.app.timers.is_registered(match_all):
        bpy.app.timers.register(match_all)


def match_all() -> None:
    """Matches the rows of every scene and draws them anew."""
    for scene in bpy.data.scenes:
        if scene.is_editable:
            match(scene)
    told.redraw()


def forget() -> None:
    """Matches nothing any more."""
    if bpy.app.timers.is_registered(match_all):
        bpy.app.timers.unregister(match_all)


def turns(shot: Shot) -> list[str]:
    """The dials that differ from the build."""
    return list(shot.dials.words(".3g"))


def inherited(scene: bpy.types.Scene, shot: Shot) -> dict[str, str]:
    """What each dial makes of the panel's preset and dials, in its unit; nothing where there is no such preset."""
    preset = gather.known(settings_of(scene))
    if preset is None:
        return {}
    own, dials = usecases.for_shot(shot, preset, gather.dials(settings_of(scene)))
    worth = {
        "looseness": f"{own.fit.shift_mm * dials.looseness:.3f} mm",
        "wear": f"{dials.wear:.2f}",
        GROWN: f"{shot.growth(gather.dials(settings_of(scene)).wear).end:.2f}",
        "rounding": f"{own.wear.rounding_mm:.2f} mm",
        SEED: f"{dials.seed}",
    }
    for layer, about in layers.LAYERS.items():
        worth[layer] = f"{about.unit} {layers.strength(own.wear, layer):.2f}".strip()
    return worth


def _get(name: str):
    def get(group: ShotSettings):
        shot = chosen(scene_of(group))
        return getattr(shot.dials if shot else INHERITED, name)

    return get


def _turn(group: ShotSettings, name: str, value: float) -> None:
    _change(group, lambda scene, shot: usecases.dial_shots(scene, {(shot.name, name): value}))


def _grow(group: ShotSettings, to: float | None) -> None:
    _change(group, lambda scene, shot: usecases.grow_shot(scene, shot.name, to))


def _grown(group: ShotSettings) -> float:
    """The chosen shot's wear at its last frame."""
    shot = chosen(scene_of(group))
    return (shot.dials if shot else INHERITED).ends_worn


def _grows(group: ShotSettings) -> bool:
    shot = chosen(scene_of(group))
    return shot is not None and shot.dials.wear_last is not None


def _note(group: ShotSettings, words: str) -> None:
    _change(group, lambda scene, shot: usecases.note_shot(scene, shot.name, words))


def _change(group: ShotSettings, change: Callable[[bpy.types.Scene, Shot], object]) -> None:
    """A property cannot report: what went wrong stands in the panel until one is changed again."""
    scene = scene_of(group)
    shot = chosen(scene)
    if shot is None:
        return
    try:
        change(scene, shot)
        told.shot_problem = ""
    except PlaywornError as problem:
        told.shot_problem = str(problem)


def _dial(name: str):
    what = {"looseness": "sits as loosely", "wear": "is as worn", "rounding": "has edges as round"}
    meaning = f"In this shot the build {what[name]}" if name in what else f"In this shot the build has as much {name}"
    return bpy.props.FloatProperty(
        name=name.capitalize(),
        description=f"{meaning} times this; 1 is the build as it is",
        min=0.0,
        max=MOST,
        precision=2,
        subtype="FACTOR",
        get=_get(name),
        # Blender leaves a typed number as it is.
        set=lambda group, value: _turn(group, name, min(max(gather.typed(value), 0.0), MOST)),
    )


def _seed():
    return bpy.props.IntProperty(
        name="Seed +",
        description="Added to the build's seed; at 0 every brick sits and wears the same as in the other shots",
        min=0,
        max=LARGEST_SEED,
        get=_get(SEED),
        set=lambda group, value: _turn(group, SEED, min(max(value, 0), LARGEST_SEED)),
    )


class PlaywornShots(bpy.types.PropertyGroup):
    __annotations__ = {
        "rows": bpy.props.CollectionProperty(type=PlaywornShotRow, name="Shots", description="One for each shot"),
        "number": bpy.props.IntProperty(name="Shot", description="The chosen shot", min=0),
        "note": bpy.props.StringProperty(
            name="Note",
            description="Your words on the chosen shot: they stay with it in the file, and change nothing else",
            get=lambda group: shot.note if (shot := chosen(scene_of(group))) else "",
            set=_note,
        ),
        "target_px": bpy.props.FloatProperty(
            name="Target",
            description="What half of the bricks seen shall at most move by in the picture, in pixels",
            default=1.0,
            min=0.01,
            soft_max=10.0,
            max=999.0,
            precision=2,
        ),
        "grows": bpy.props.BoolProperty(
            name="Grows",
            description="The wear grows within the shot, from its dial at the first frame to this one at the last",
            get=_grows,
            set=lambda group, on: _grow(group, _grown(group) if on else None),
        ),
        GROWN: bpy.props.FloatProperty(
            name="Grows to",
            description="At the shot's last frame the build is as worn times this; a curve on the timeline goes there",
            min=0.0,
            max=MOST,
            precision=2,
            subtype="FACTOR",
            get=_grown,
            set=lambda group, value: _grow(group, min(max(gather.typed(value), 0.0), MOST)),
        ),
        **{name: _seed() if name == SEED else _dial(name) for name in NAMES},
    }


CLASSES = (PlaywornShotRow, PlaywornShots)
