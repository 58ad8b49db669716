"""The shots of a file as a job for a farm."""

from collections.abc import Sequence
from pathlib import Path

import bpy

from ... import atomic
from ...core import report
from ...core.errors import ShotProblem
from ...core.shots import job
from ...core.shots.shot import INHERITED, Shot
from ...scene.shots import keys, task
from ...scene.shots import shots as kept
from .passes import passes_on


def save_job(
    collection: bpy.types.Collection, scene: bpy.types.Scene, chosen: Sequence[Shot], file: Path, size: int, path: Path
) -> report.Job:
    """Writes an Open Job Description template that renders shots of a saved file, in tasks of so many frames, by
    machines without the extension. ShotProblem where the file would show them otherwise than `render` does."""
    if not passes_on(scene):
        raise ShotProblem(f'the scene "{scene.name}" has no passes, which a farm cannot add: put them on and save')
    for shot in chosen:
        kept.camera(scene, shot)
        if shot.dials != INHERITED and not keys.shots_of(collection):
            raise ShotProblem(f'the shot "{shot.name}" has dials that no key holds: put it on the timeline first')
    script = Path(task.__file__).read_text("utf-8")
    file, room = file.resolve(), path.resolve().parent
    beside = file.relative_to(room).as_posix() if file.is_relative_to(room) else ""
    made = job.template(file.stem, beside, chosen, size, script)
    atomic.write_text(path, job.text(made))
    return report.Job(collection.name, len(chosen), len(job.chunks(chosen, size)), sum(map(_count, chosen)))


def _count(shot: Shot) -> int:
    return shot.last - shot.first + 1
