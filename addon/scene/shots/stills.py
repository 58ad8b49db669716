"""Frames of a scene rendered into multi-layer OpenEXR files, its own output left as an artist set it."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import bpy

from ... import atomic
from ...core.errors import FileProblem, ShotProblem
from . import task

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
        task.set_output(scene)
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
    with atomic.written(path) as unfinished:
        task.render(scene, camera, frame, unfinished)


def check_files() -> None:
    """FileProblem with the names of pictures and libraries that the open file needs and that are gone."""
    if gone := task.missing():
        raise FileProblem(f"{', '.join(gone)} cannot be found, which the file needs: bring it back or pack it")


def _told(owner: bpy.types.bpy_struct, names: tuple[str, ...]) -> list[tuple[bpy.types.bpy_struct, str, Any]]:
    return [(owner, name, getattr(owner, name)) for name in names if hasattr(owner, name)]
