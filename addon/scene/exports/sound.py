"""Whether what an importer made can be worked with: lists that fit each other, and coordinates that are numbers."""

from collections.abc import Generator, Iterable

import bpy
import numpy as np

from ...blender import meshes_of
from ...core.slices import is_over, whole
from ..columns import matrices
from . import naming
from .bounds import are_near
from .forms import column, got


def fault(objects: Iterable[bpy.types.Object]) -> str:
    """What is wrong with the first object that is not sound, "" where all are."""
    return whole(looking(objects))


def looking(objects: Iterable[bpy.types.Object]) -> Generator[None, None, str]:
    """The same in parts."""
    objects = list(objects)
    for mesh in set(meshes_of(objects)):
        if not _lists_fit(mesh):
            return f"{naming.of(mesh)} has faces of fewer than three corners, or of corners that it does not have"
        if not are_near(column(mesh, "position", 3, np.float32)):
            return f"{naming.of(mesh)} has a coordinate that is not a number or is beyond all bounds"
        if is_over():
            yield
    places = matrices(objects)
    if not are_near(places):
        lost = next(obj for obj, place in zip(objects, places, strict=True) if not are_near(place))
        return f"{naming.of(lost)} stands at a place that is not a number or is beyond all bounds"
    return ""


def _lists_fit(mesh):
    starts, counts = (got(mesh.polygons, name, 1, np.int32).astype(np.int64) for name in ("loop_start", "loop_total"))
    return (
        _within(starts, len(mesh.loops) + 1)
        and _within(counts, len(mesh.loops) + 1)
        and (counts >= 3).all()  # Blender makes two triangles fewer than a face has corners
        and _within(starts + counts, len(mesh.loops) + 1)
        and _within(column(mesh, ".corner_vert"), len(mesh.vertices))
        and _within(column(mesh, ".corner_edge"), len(mesh.edges))
        and _within(column(mesh, ".edge_verts", 2), len(mesh.vertices))
    )


def _within(numbers, count):
    return not len(numbers) or bool((numbers >= 0).all() and (numbers < count).all())
