"""Which mesh an object shows, and which one is its own: a twin knows the mesh whose place it takes.

A twin that an artist changed is its bricks' own mesh from then on. As long as the build is worn it tells what clearance
made of it, and, where its body is still the part's, which mesh it is measured by.
"""

from collections.abc import Iterable, Sequence
from operator import attrgetter
from typing import TypeVar, cast

import bpy
import numpy as np

from ... import raw

SHAPE = "playworn_shape"  # on a twin: what it was made from and how, so that it is not made again
ORIGINAL = "playworn_original"  # on it, while it is shown: the mesh whose place it takes
SHRINK = "playworn_shrink"  # on it, and on one that was one: what clearance makes of the body along the mesh's axes
BODY = "playworn_body"  # on one that was one: the mesh that its bricks are measured by
_DATA = attrgetter("data")

Data = TypeVar("Data", bound=bpy.types.ID | None)  # a mesh, or what else an object shows


def original(mesh: Data) -> Data:
    """The mesh itself, or the one whose place a twin takes."""
    own = mesh.get(ORIGINAL) if mesh is not None else None
    return cast(Data, own) if isinstance(own, bpy.types.Mesh) else mesh  # anything may stand under the name


def is_changed(mesh: bpy.types.Mesh) -> bool:
    """Whether it was a twin and is its bricks' own mesh since an artist changed it."""
    return SHRINK in mesh and SHAPE not in mesh


def are_there(name: str) -> bool:
    """Whether any mesh of the file carries a property of that name; where none does, no object need be asked."""
    return any(raw.carried(bpy.data.meshes, name))


def originals(objects: Sequence[bpy.types.Object]) -> tuple[list[bpy.types.ID | None], np.ndarray]:
    """The distinct meshes that objects are measured by, and which (n,) is each object's: its own, or the one whose
    place a twin takes."""
    shown, number_of_shown = _distinct(map(_DATA, objects))
    found, number = _distinct(map(_body, shown))
    return found, number[number_of_shown]


def _body(mesh: bpy.types.ID | None) -> bpy.types.ID | None:
    body = mesh.get(BODY) if mesh is not None else None
    return body if isinstance(body, bpy.types.Mesh) else original(mesh)


def _distinct(meshes: Iterable[bpy.types.ID | None]) -> tuple[list[bpy.types.ID | None], np.ndarray]:
    """Each once, in the order they come in, and which (n,) of those comes when."""
    meshes = list(meshes)
    number = {mesh: n for n, mesh in enumerate(dict.fromkeys(meshes))}
    return list(number), np.fromiter(map(number.__getitem__, meshes), dtype=np.intp, count=len(meshes))


def shrink(objects: Sequence[bpy.types.Object]) -> np.ndarray:
    """Factors (n, 3) along the mesh's axes by which the bodies that objects show are smaller than the originals'."""
    if not are_there(SHRINK):
        return np.ones((len(objects), 3))
    shown, number = _distinct(map(_DATA, objects))
    factors = [raw.numbers(mesh, SHRINK, 3) if mesh else None for mesh in shown]
    return np.array([each or (1.0, 1.0, 1.0) for each in factors], dtype=np.float64).reshape(-1, 3)[number]
