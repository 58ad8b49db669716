"""Which mesh an object shows, and which one is its own: a twin knows the mesh whose place it takes."""

from collections.abc import Iterable, Sequence
from typing import TypeVar, cast

import bpy
import numpy as np

from ... import raw

ORIGINAL = "playworn_original"  # on it, while it is shown: the mesh whose place it takes
SHRINK = "playworn_shrink"  # on it: what clearance makes of the body along the mesh's axes


Data = TypeVar("Data", bound=bpy.types.ID | None)  # a mesh, or what else an object shows


def original(mesh: Data) -> Data:
    """The mesh itself, or the one whose place a twin takes."""
    own = mesh.get(ORIGINAL) if mesh is not None else None
    return cast(Data, own) if isinstance(own, bpy.types.Mesh) else mesh  # anything may stand under the name


def originals(objects: Sequence[bpy.types.Object]) -> tuple[list[bpy.types.ID | None], np.ndarray]:
    """The distinct meshes of objects, and which (n,) is each object's: its own, or the one whose place a twin takes."""
    shown, number_of_shown = _distinct(thing.data for thing in objects)
    found, number = _distinct(map(original, shown))
    return found, number[number_of_shown]


def _distinct(meshes: Iterable[bpy.types.ID | None]) -> tuple[list[bpy.types.ID | None], np.ndarray]:
    """Each once, in the order they come in, and which (n,) of those comes when."""
    found: dict[bpy.types.ID | None, int] = {}
    number = np.array([found.setdefault(mesh, len(found)) for mesh in meshes], dtype=np.intp)
    return list(found), number


def shrink(objects: Sequence[bpy.types.Object]) -> np.ndarray:
    """Factors (n, 3) along the mesh's axes by which the bodies that objects show are smaller than the originals'."""
    shown, number = _distinct(thing.data for thing in objects)
    factors = [raw.numbers(mesh, SHRINK, 3) if mesh else None for mesh in shown]
    return np.array([each or (1.0, 1.0, 1.0) for each in factors], dtype=np.float64).reshape(-1, 3)[number]


def are_shown(objects: Sequence[bpy.types.Object]) -> np.ndarray:
    """(n,) which objects show a twin."""
    if not any(ORIGINAL in mesh for mesh in bpy.data.meshes):
        return np.zeros(len(objects), dtype=bool)
    shown, number = _distinct(thing.data for thing in objects)
    return np.array([bool(mesh and ORIGINAL in mesh) for mesh in shown], dtype=bool)[number]
