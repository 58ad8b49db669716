"""Frames of a scene rendered into multi-layer OpenEXR files, its own output left as an artist set it."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import bpy

from ... import atomic, compat
from ...core.errors import FileProblem, ShotProblem

_OUTPUT = ("filepath", "use_compositing", "use_sequencer", "use_file_extension", "use_multiview")
# In this order: each decides which values the next may have.
_FORMAT = ("media_type", "file_format", "color_mode", "color_depth", "exr_codec", "use_exr_interleave")
_HAS_NO_PASSES = ("BLENDER_WORKBENCH",)


@contextmanager
def as_layers(scene: bpy.types.Scene) -> Iterator[None]:
    """Within, the scene is rendered to files of all its passes at 32 bits, past compositor and sequencer; then its
    output, camera, markers and frame come back."""
    if scene.render.engine in _HAS_NO_PASSES:
        raise ShotProblem(f'the scene "{scene.name}" is rendered by Workbench, without passes: choose Cycles or EEVEE')
    output, form = scene.render, scene.render.image_settings
    before = [*_told(output, _OUTPUT), *_told(form, _FORMAT)]
    camera, frame, subframe = scene.camera, scene.frame_current, scene.frame_subframe
    cameras = [(marker, marker.camera) for marker in scene.timeline_markers if marker.camera]
    try:
        output.use_compositing = output.use_sequencer = output.use_multiview = False
        output.use_file_extension = True
        compat.set_layered_exr(form)
        for marker, _ in cameras:
            marker.camera = None  # or the marker's takes the place of the shot's
        yield
    finally:
        for owner, name, value in before:
            setattr(owner, name, value)
        for marker, bound in cameras:
            marker.camera = bound
        scene.frame_set(frame, subframe=subframe)
        scene.camera = camera


def render(scene: bpy.types.Scene, camera: bpy.types.Object, frame: int, path: Path) -> None:
    """Renders a frame through a camera, within `as_layers`; the file is there whole or not at all."""
    scene.frame_set(frame)
    scene.camera = camera
    with atomic.written(path) as unfinished:
        scene.render.filepath = str(unfinished)
        bpy.ops.render.render(write_still=True, scene=scene.name)


def check_files() -> None:
    """FileProblem with the names of pictures and libraries that the open file needs and that are gone."""
    pictures = (image for image in bpy.data.images if image.users and image.source == "FILE" and not image.packed_file)
    needed: list[Any] = [*pictures, *(library for library in bpy.data.libraries if not library.packed_file)]
    paths = [Path(bpy.path.abspath(each.filepath, library=each.library)) for each in needed]
    gone = sorted({path.name for path in paths if not path.is_file()})
    if gone:
        raise FileProblem(f"{', '.join(gone)} cannot be found, which the file needs: bring it back or pack it")


def _told(owner: bpy.types.bpy_struct, names: tuple[str, ...]) -> list[tuple[bpy.types.bpy_struct, str, Any]]:
    return [(owner, name, getattr(owner, name)) for name in names if hasattr(owner, name)]
