"""A contact sheet: every shot rendered small beside its plate, with what it is and reads as below."""

import tempfile
from collections.abc import Sequence
from pathlib import Path

import bpy
import numpy as np

from ... import atomic
from ...core import report
from ...core.pictures import contact, png
from ...core.shots.shot import Shot
from ...core.wear import cielab
from ...scene import pictures
from ...scene.shots import letters, plates, stills
from ...scene.shots import shots as kept
from ..progress import Progress, quiet
from .rendering import as_dialled
from .shots import ReadsAs, reads_as


def save_contact(
    collection: bpy.types.Collection,
    scene: bpy.types.Scene,
    chosen: Sequence[Shot],
    path: Path,
    wide: int,
    samples: int,
    progress: Progress = quiet,
) -> report.ContactSheet:
    """Writes a PNG of some shots, each at its middle frame with its dials; the scene is as before afterwards."""
    stills.check_files()
    atomic.check_writable(path)
    told = reads_as(collection, scene, chosen)
    behind = {each.shot: _plate(scene, each.shot) for each in told}
    rendered = {}
    with (
        tempfile.TemporaryDirectory() as folder,
        as_dialled(collection, scene, chosen),
        stills.as_pictures(scene, wide, samples),
    ):
        for number, shot in enumerate(chosen):
            progress(number / len(chosen), f"rendering {shot.name}, frame {shot.middle}")
            still = Path(folder) / f"{number}.png"
            stills.render(scene, kept.camera(scene, shot), shot.middle, still)
            rendered[shot] = pictures.shown(still)[::-1, :, :3]
    cells = [_cell(each, rendered[each.shot], behind[each.shot]) for each in told]
    atomic.write_bytes(path, png.encode(contact.page(cells), 8))
    progress(1.0, "done")
    return report.ContactSheet(collection.name, len(told), sum(each is not None for each in behind.values()))


def _plate(scene: bpy.types.Scene, shot: Shot) -> np.ndarray | None:
    path = plates.of_camera(kept.camera(scene, shot), shot.middle)
    return None if path is None else plates.colours(path)[::-1]


def _cell(told: ReadsAs, still: np.ndarray, plate: np.ndarray | None) -> contact.Cell:
    pictures = [still]
    if plate is not None:
        small = contact.within(np.clip(plate, 0.0, 1.0), *still.shape[:2])
        pictures.append(cielab.encoded(small))
    return contact.Cell(tuple(pictures), letters.lines(_words(told), still.shape[1]))


def _words(told: ReadsAs) -> list[str]:
    """What stands below a shot: its name and frames, its dials, what it reads as where most is seen to move."""
    shot = told.shot
    reads = max(told.frames, key=lambda each: (each.median_px, each.frame == shot.middle))
    dials = ", ".join(shot.dials.words())
    scratch = reads.marks_px.get("scratches")
    marks = [f"scratches {scratch:.2f} px"] if scratch is not None else []
    return [
        f"{shot.name}: {shot.first} to {shot.last}, {shot.camera}{', locked' if shot.locked else ''}",
        f"setting {shot.setting}: {dials or 'as the build'}" if shot.aside else dials or "as the build",
        f"motion {reads.median_px:.2f} px, 90 % {reads.p90_px:.2f}, largest {reads.largest_px:.2f}",
        ", ".join([*marks, f"rounding {reads.rounding_px:.2f} px"]),
        *([shot.note] if shot.note else []),
    ]
