"""A build photographed twice through one camera: as it was exported, and as it is worn."""

import tempfile
from pathlib import Path
from typing import NamedTuple

import bpy

from ...core.errors import ShotProblem
from ...core.pictures import jpeg
from ...core.shots.shot import Shot
from ...scene.build import builds
from ...scene.shots import shots as kept
from ...scene.shots import stills
from ..progress import Progress, quiet
from ..wear.look import cleared


class Pair(NamedTuple):
    """Two pictures of one size, JPEG; they tell of no time and no folder."""

    clean: bytes
    worn: bytes
    wide: int  # px
    tall: int


def photograph_pair(
    collection: bpy.types.Collection,
    scene: bpy.types.Scene,
    shot: Shot | None,
    wide: int,
    samples: int,
    progress: Progress = quiet,
) -> Pair:
    """A build with a preset on it through the camera of a shot in its middle, or through the scene's own camera now,
    and once more without; the scene is as before afterwards. FileProblem where files are gone that it needs,
    ShotProblem where there is no camera or the scene does not show the build."""
    builds.check_shown(collection, scene)
    stills.check_files()
    camera = kept.camera(scene, shot) if shot else scene.camera
    if camera is None:
        raise ShotProblem(f'the scene "{scene.name}" has no camera: add one')
    frame = shot.middle if shot else scene.frame_current
    with tempfile.TemporaryDirectory() as folder, stills.as_pictures(scene, wide, samples, "JPEG"):
        worn, clean = (Path(folder) / f"{name}.jpg" for name in ("worn", "clean"))
        progress(0.0, "rendering, worn")
        stills.render(scene, camera, frame, worn)
        with cleared(collection):
            progress(0.5, "rendering, as exported")
            stills.render(scene, camera, frame, clean)
        size = scene.render.resolution_x, scene.render.resolution_y
        progress(1.0, "done")
        return Pair(jpeg.bare(clean.read_bytes()), jpeg.bare(worn.read_bytes()), *size)
