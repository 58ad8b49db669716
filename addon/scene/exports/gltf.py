"""glTF 2.0, as text or in one binary file."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import bpy

from ...core.exports import gltf
from ...core.exports.stated import Stated


def load(path: Path) -> None:
    """Reads the file into the scene."""
    with _loggers_as_they_were():
        bpy.ops.import_scene.gltf(
            filepath=str(path),
            import_scene_as_collection=False,
            import_scene_extras=False,
            import_select_created_objects=False,
        )


@contextmanager
def _loggers_as_they_were() -> Iterator[None]:
    """An importer that fails leaves its handlers behind, and with them streams that are closed by the next time."""
    loggers = [logging.getLogger(name) for name in ("glTFImporter", "glTFImporter_errors")]
    kept = [list(logger.handlers) for logger in loggers]
    try:
        yield
    finally:
        for logger, handlers in zip(loggers, kept, strict=True):
            logger.handlers[:] = handlers


def stated(path: Path) -> Stated:
    """What each material states; of a .glb the pictures and shapes are not read."""
    with path.open("rb") as file:
        data = file.read(gltf.HEADER + gltf.CHUNK)
        is_binary = data[: len(gltf.MAGIC)] == gltf.MAGIC
        data += file.read(gltf.length(data) if is_binary else -1)
    return gltf.stated(gltf.document(data))
