"""The surfaces that bricks show in a 3D view, each once however many share it, and where bricks stand there."""

from dataclasses import dataclass
from functools import cached_property

import bpy
import numpy as np

from ...core.remembered import digest
from ..columns import Columns
from ..exports.forms import column, got, points_of


@dataclass(frozen=True)
class Surface:
    """Triangles in a mesh's own axes and units, corner by corner."""

    points: np.ndarray  # (C, 3) float32
    normals: np.ndarray  # (C, 3) float32, as they are shaded
    bricks: np.ndarray  # (K,) which bricks show it

    @cached_property
    def told(self) -> bytes:
        """Tells the triangles from others."""
        return digest(self.points, self.normals)


@dataclass(frozen=True)
class Standing:
    """Where N bricks stand in a view."""

    place: np.ndarray  # (N, 4, 4) from their own axes to the world
    is_shown: np.ndarray  # (N,)


def surfaces(things: list[bpy.types.Object], depsgraph: bpy.types.Depsgraph) -> tuple[Surface, ...]:
    """What some bricks show, with all that modifiers do to it."""
    meshes: dict[int, bpy.types.Mesh] = {}
    bricks: dict[int, list[int]] = {}
    for n, thing in enumerate(things):
        mesh = thing.evaluated_get(depsgraph).data
        if isinstance(mesh, bpy.types.Mesh):
            meshes[mesh.as_pointer()] = mesh
            bricks.setdefault(mesh.as_pointer(), []).append(n)
    return tuple(_surface(mesh, np.array(bricks[number])) for number, mesh in meshes.items())


def numbers(things: list[bpy.types.Object]) -> np.ndarray:
    """By which objects (N,) are known for as long as Blender runs, also after an undo."""
    return np.array([thing.session_uid for thing in things], dtype=np.int64)


def standing(collection: bpy.types.Collection, known: np.ndarray, view: bpy.types.SpaceView3D | None) -> Standing:
    """Where those bricks (N,) of a collection stand now; what is gone from it is not shown."""
    columns = Columns(collection)
    place = np.broadcast_to(np.eye(4, dtype=np.float32), (len(known), 4, 4)).copy()
    is_shown = np.zeros(len(known), dtype=bool)
    row = {number: n for n, number in enumerate(known.tolist())}
    there = columns.read("session_uid", dtype=np.int32).tolist()
    pairs = np.array([(n, row[number]) for n, number in enumerate(there) if number in row], dtype=np.intp).reshape(
        -1, 2
    )
    of_file, of_known = pairs.T
    place[of_known] = columns.read_matrix("matrix_world")[of_file]
    is_shown[of_known] = [thing.visible_get(viewport=view) for thing in columns.some(of_file)]
    return Standing(place, is_shown)


def _surface(mesh: bpy.types.Mesh, bricks: np.ndarray) -> Surface:
    mesh.calc_loop_triangles()
    corners = got(mesh.loop_triangles, "loops", 3, np.int32).reshape(-1)
    normals = got(mesh.corner_normals, "vector", 3, np.float32)
    return Surface(points_of(mesh)[column(mesh, ".corner_vert")[corners]], normals[corners], bricks)
