"""glTF 2.0, as text or in one binary file."""

import logging
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import bpy

from ...core.exports import gltf
from ...core.exports.stated import Stated
from .naming import END, FRONT, Passing

_IMPORTER, _ASKED = "io_scene_gltf2", "glTF2ImportUserExtension"  # what the importer asks its add-ons for


def load(path: Path) -> None:
    """Reads the file into the scene."""
    passing = Passing(FRONT)
    _read(path, _Names(passing, passing.settle))


def load_unnamed(path: Path) -> None:
    """The same where most of it will not be kept: objects and meshes go by passing names."""
    passing = Passing(END)
    _read(path, _Names(passing, passing.put_off))


def _read(path: Path, names: "_Names") -> None:
    with _loggers_as_they_were(), _asked(names):
        bpy.ops.import_scene.gltf(
            filepath=str(path),
            import_scene_as_collection=False,
            import_scene_extras=False,
            import_select_created_objects=False,
        )


class _Names:
    """Passing names for objects and meshes, by what the importer asks its add-ons before and after it makes them."""

    def __init__(self, passing: Passing, end: Callable[[], None]):
        self._passing, self._end = passing, end
        self._node = self._mesh = ""
        self._of_meshes: dict[bpy.types.Mesh, str] = {}

    def gather_import_node_before_hook(self, node, _told, _importer) -> None:
        self._node, node.name = node.name, self._passing.next()

    def gather_import_node_after_hook(self, node, _told, made, _importer) -> None:
        data = made.data
        default = node.default_name if data is None else self._of_meshes.get(data) or data.name
        self._passing.keep(made, self._node or default)

    def gather_import_mesh_before_hook(self, mesh, _importer) -> None:
        self._mesh = mesh.name
        mesh.name = mesh.name and self._passing.next()

    def gather_import_mesh_after_hook(self, mesh, made, _importer) -> None:
        mesh.name = self._mesh  # it may be asked for again
        if mesh.name:
            self._of_meshes[made] = mesh.name
            self._passing.keep(made, mesh.name)

    def gather_import_scene_after_nodes_hook(self, *_) -> None:
        self._end()


@contextmanager
def _asked(names: _Names) -> Iterator[None]:
    """Lets the importer ask for names, as if one of its add-ons did."""
    importer = sys.modules.get(_IMPORTER)
    if importer is None:  # switched off: the operator says so
        yield
        return
    setattr(importer, _ASKED, lambda: names)
    try:
        yield
    finally:
        delattr(importer, _ASKED)


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
