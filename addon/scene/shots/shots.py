"""The shots of a scene: found on its timeline, kept in the file as raw data that needs no extension."""

import json
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import asdict, replace
from typing import Any

import bpy

from ... import raw
from ...core.errors import ShotProblem
from ...core.remembered import keeping
from ...core.shots import shot as rules
from ...core.shots.shot import Shot, ShotDials
from ...transaction import transaction

SHOTS = "playworn_shots"  # raw property on the scene
CAMERAS = "playworn_shot_cameras"  # raw group on the scene: shot -> camera, which a new name does not break
FORMAT = 3
# Written where a shot has them: without any an earlier version reads the shots too.
_SINCE_2 = ("locked", "note", "setting", "aside")
_SINCE_3 = "wear_last"  # of a shot's dials
_WHOLE = "scene"  # the shot of a scene without markers


class Unread(ShotProblem):
    """Kept shots that another hand wrote."""


def found(scene: bpy.types.Scene) -> tuple[Shot, ...]:
    """What the timeline says: a shot from each marker with a camera, else one of the scene's camera and range."""
    markers = [(marker.frame, marker.name, marker.camera.name) for marker in scene.timeline_markers if marker.camera]
    if markers:
        return _of_markers(tuple(markers), scene.frame_end)
    if scene.camera is None:
        return ()
    return (Shot(_WHOLE, scene.camera.name, scene.frame_start, scene.frame_end),)


def recall(scene: bpy.types.Scene) -> tuple[Shot, ...]:
    """The shots kept in the file, none where none are; ShotProblem where a newer version or another hand wrote them."""
    if SHOTS not in scene:
        return ()
    cameras = raw.plain(scene.get(CAMERAS))
    group = cameras.items() if isinstance(cameras, dict) else ()
    renamed = tuple((name, thing.name) for name, thing in group if isinstance(thing, bpy.types.Object))
    return _kept(raw.text(scene, SHOTS), renamed, scene.name)


# Read once for as long as the file says the same: a panel asks for them dozens of times at every redraw.
_of_markers = keeping(16)(rules.from_markers)


@keeping(64)
def _kept(text: str, cameras: tuple[tuple[str, str], ...], scene: str) -> tuple[Shot, ...]:
    """The shots of a text, each with the camera that it has by now."""
    try:
        kept = raw.said(text)
        format_number = kept["format"]
        shots = [_shot(row) for row in kept["shots"]] if format_number <= FORMAT else []
    except (ValueError, TypeError, KeyError):
        raise Unread(f'the shots kept in the scene "{scene}" cannot be read: find them anew from the markers') from None
    if format_number > FORMAT:
        raise ShotProblem(
            f'the shots of the scene "{scene}" were made by a newer Playworn (format {format_number}, '
            f"this one reads {FORMAT}): update the extension"
        )
    by_now = dict(cameras)
    return rules.checked(replace(shot, camera=by_now.get(shot.name, shot.camera)) for shot in shots)


def keep(scene: bpy.types.Scene, shots: Iterable[Shot]) -> None:
    """Writes the shots into the file, in place of those that were there."""
    shots = rules.checked(shots)
    cameras = {shot.name: camera(scene, shot) for shot in shots}
    rows = [_row(shot) for shot in shots]
    format_number = max(map(_format, rows), default=1)
    with transaction():
        raw.put(scene, SHOTS, json.dumps({"format": format_number, "shots": rows}))
        raw.put(scene, CAMERAS, cameras)


def _row(shot: Shot) -> dict[str, Any]:
    without = Shot(shot.name, shot.camera, shot.first, shot.last)
    left = {name for name in _SINCE_2 if getattr(shot, name) == getattr(without, name)}
    row = {name: value for name, value in asdict(shot).items() if name not in left}
    for dials in _dials_of(row):
        if dials[_SINCE_3] is None:
            del dials[_SINCE_3]
    return row


def _format(row: dict[str, Any]) -> int:
    """The first format that can say what a row does."""
    if any(_SINCE_3 in dials for dials in _dials_of(row)):
        return 3
    return 2 if row.keys() & set(_SINCE_2) else 1


def _dials_of(row: dict[str, Any]) -> list[dict[str, Any]]:
    return [row[name] for name in ("dials", "aside") if row.get(name) is not None]


def _shot(row: dict[str, Any]) -> Shot:
    aside = row.get("aside")
    dials = {"dials": ShotDials(**row["dials"]), "aside": None if aside is None else ShotDials(**aside)}
    return Shot(**{**row, **dials})


def forget(scene: bpy.types.Scene) -> int:
    """Takes everything about shots out of the scene; returns how many there were, as far as they can be read."""
    count = 0
    with suppress(ShotProblem):
        count = len(recall(scene))
    with transaction():
        raw.drop(scene, SHOTS, CAMERAS)
    return count


def camera(scene: bpy.types.Scene, shot: Shot) -> bpy.types.Object:
    """The shot's camera; ShotProblem where it is gone, or is none."""
    thing = scene.objects.get(shot.camera)
    if thing is None or thing.type != "CAMERA":
        state = "is no camera" if thing else "is not in the scene"
        raise ShotProblem(f'"{shot.camera}" of the shot "{shot.name}" {state}: give the shot another camera')
    return thing
