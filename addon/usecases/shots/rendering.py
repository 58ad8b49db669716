"""Rendering shots into multi-layer OpenEXR files, one a frame."""

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path

import bpy

from ... import atomic
from ...core import report
from ...core.errors import FileProblem
from ...core.shots.shot import INHERITED, Shot
from ...scene.shots import keys, stills, task
from ...scene.shots import shots as kept
from ..progress import Progress, quiet
from .passes import passes_on, put_passes_on, take_passes_off
from .timeline import off_timeline, shots_on_timeline


def render_shots(
    collection: bpy.types.Collection,
    scene: bpy.types.Scene,
    chosen: Sequence[Shot],
    folder: Path,
    anew: bool = False,
    progress: Progress = quiet,
) -> tuple[report.RenderedShot, ...]:
    """Renders all frames of some shots with their passes and dials, into a folder that is made where it is missing.

    A frame whose file is there stays as it is, unless all are to be rendered `anew`. The scene is as before afterwards.
    """
    places = {(shot, frame): folder / task.file_name(shot.name, frame) for shot in chosen for frame in _all(shot)}
    wanted = {each: path for each, path in places.items() if anew or not path.exists()}
    cameras = {shot.name: kept.camera(scene, shot) for shot in chosen}
    stills.check_files()
    _make(folder)
    for path in wanted.values():
        atomic.check_writable(path)
    with as_dialled(collection, scene, chosen), _with_passes(collection, scene), stills.as_layers(scene):
        for number, ((shot, frame), path) in enumerate(wanted.items()):
            progress(number / len(wanted), f"rendering {shot.name}, frame {frame}")
            stills.render(scene, cameras[shot.name], frame, path)
    progress(1.0, "done")
    return tuple(_told(shot, [frame for each, frame in wanted if each == shot]) for shot in chosen)


def _all(shot: Shot) -> range:
    return range(shot.first, shot.last + 1)


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileProblem(f'the folder "{folder}" cannot be made: choose another') from error


@contextmanager
def as_dialled(collection: bpy.types.Collection, scene: bpy.types.Scene, chosen: Sequence[Shot]) -> Iterator[None]:
    """Shots with dials of their own show them: those on the timeline do, others are put there for as long."""
    turned = any(shot.dials != INHERITED for shot in chosen)
    with ExitStack() as after:
        if turned and not keys.shots_of(collection):
            shots_on_timeline(collection, scene)
            after.callback(off_timeline, collection)
        yield


@contextmanager
def _with_passes(collection: bpy.types.Collection, scene: bpy.types.Scene) -> Iterator[None]:
    there = passes_on(scene)
    put_passes_on(collection, scene)
    try:
        yield
    finally:
        if not there:
            take_passes_off(scene)


def _told(shot: Shot, rendered: list[int]) -> report.RenderedShot:
    count = len(rendered)
    return report.RenderedShot(shot.name, shot.camera, shot.first, shot.last, count, len(_all(shot)) - count)
