"""Frames of a scene rendered into files, its own output left as an artist set it."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import bpy

from ... import atomic, compat
from ...core.errors import FileProblem, ShotProblem
from . import task

_OUTPUT = (
    *("filepath", "use_compositing", "use_sequencer", "use_file_extension", "use_multiview"),
    *("resolution_x", "resolution_y", "resolution_percentage", "pixel_aspect_x", "pixel_aspect_y"),
)
# In this order: each decides which values the next may have.
_FORMAT = ("media_type", "file_format", "color_mode", "color_depth", "quality", "exr_codec", "use_exr_interleave")
_FINE = 90  # of a JPEG: what it loses is less than the noise of a few samples
_HAS_NO_PASSES = ("BLENDER_WORKBENCH",)


@contextmanager
def as_layers(scene: bpy.types.Scene) -> Iterator[None]:
    """Within, the scene is rendered to files of all its passes at 32 bits, past compositor and sequencer; then its
    output, camera, markers and frame come back."""
    if scene.render.engine in _HAS_NO_PASSES:
        raise ShotProblem(f'the scene "{scene.name}" is rendered by Workbench, without passes: choose Cycles or EEVEE')
    with _as_before(scene):
        task.set_output(scene)
        yield


@contextmanager
def as_pictures(scene: bpy.types.Scene, wide: int, samples: int, kind: str = "PNG") -> Iterator[None]:
    """The same for small pictures as displayed, so many pixels wide, PNG or JPEG, with no more samples than given where
    it is Cycles."""
    output = scene.render
    tall = output.resolution_y * output.pixel_aspect_y / (output.resolution_x * output.pixel_aspect_x)
    cycles = getattr(scene, "cycles", None)
    own = cycles.samples if cycles else samples
    with _as_before(scene):
        try:
            task.set_output(scene)
            compat.set_file_format(output.image_settings, kind)
            output.image_settings.color_mode, output.image_settings.color_depth = "RGB", "8"
            output.image_settings.quality = _FINE
            output.resolution_x, output.resolution_y = wide, max(1, round(wide * tall))
            output.resolution_percentage, output.pixel_aspect_x, output.pixel_aspect_y = 100, 1.0, 1.0
            if cycles:
                cycles.samples = min(own, samples)
            yield
        finally:
            if cycles:
                cycles.samples = own


@contextmanager
def _as_before(scene: bpy.types.Scene) -> Iterator[None]:
    """What is set within comes back: output, camera, markers and frame."""
    output, form = scene.render, scene.render.image_settings
    before = [*_told(output, _OUTPUT), *_told(form, _FORMAT)]
    camera, frame, subframe = scene.camera, scene.frame_current, scene.frame_subframe
    cameras = [(marker, marker.camera) for marker in scene.timeline_markers if marker.camera]
    try:
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
