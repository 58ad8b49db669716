"""Which bricks can be moved faithfully by their deltas, and why the others cannot."""

from collections.abc import Callable, Iterator
from functools import partial
from operator import attrgetter
from typing import Any

import bpy
import numpy as np

from ...blender import context
from ...core import rigid
from ...raw import carried
from .. import curves
from .pins import PINNED, REASON, is_pinned

_AXIS_ANGLE = -1
_MOVED = attrgetter("animation_data"), attrgetter("constraints")  # by what an object may be moved
_OVERRIDING = {
    "COPY_LOCATION", "COPY_ROTATION", "COPY_TRANSFORMS", "TRANSFORM", "TRANSFORM_CACHE", "LIMIT_LOCATION",
    "LIMIT_ROTATION", "CLAMP_TO", "DAMPED_TRACK", "LOCKED_TRACK", "TRACK_TO", "STRETCH_TO", "ARMATURE", "FOLLOW_TRACK",
    "OBJECT_SOLVER", "CAMERA_SOLVER", "FOLLOW_PATH", "PIVOT", "SHRINKWRAP", "GEOMETRY_ATTRIBUTE",
}  # fmt: skip


def odd(parent_turn: np.ndarray, turn: np.ndarray, mode: np.ndarray) -> np.ndarray:
    """Which bricks (n,) no delta moves faithfully, as they and what they hang on are turned."""
    return ~_orthogonal(turn) | ~_orthogonal(parent_turn) | (mode == _AXIS_ANGLE)


def fixed(
    objects: list[bpy.types.Object], hung: np.ndarray, odd: np.ndarray, mode: np.ndarray, raw: set[str]
) -> dict[int, str]:
    """Bricks (by index) that must be left where they are, each with the reason as the end of a sentence.

    `hung` (n,) are those that hang on a part of their parent, `raw` the marks that any brick may carry.
    """
    parents = set(map(attrgetter("parent"), objects)) - {None}
    if parents:
        parents = parents.intersection(objects)
    linked, physics = len(bpy.data.libraries) > 0, context().scene.rigidbody_world is not None
    suspect = odd | hung | linked | physics
    hints: list[Callable[[], Iterator[Any]]] = [partial(map, by, objects) for by in _MOVED]
    if PINNED in raw:
        hints.append(partial(carried, objects, PINNED))
    for hint in hints:
        if any(hint()):
            suspect |= np.fromiter(map(bool, hint()), dtype=bool, count=len(objects))
    if parents:
        suspect |= np.array([thing in parents for thing in objects])
    reasons = {n: _reason(objects[n], mode[n], odd[n], parents) for n in np.flatnonzero(suspect).tolist()}
    return {n: reason for n, reason in reasons.items() if reason}


def _reason(thing: bpy.types.Object, mode: int, odd: bool, parents: set) -> str:
    if not thing.is_editable:
        return "is linked from another file: make it local or a library override"
    if is_pinned(thing):
        return REASON
    if thing in parents:
        return "has other bricks parented to it"
    if mode == _AXIS_ANGLE:
        return "turns by axis and angle, which has no delta rotation: choose Euler or quaternion"
    if odd:
        return "is sheared, or its parent is scaled unevenly: apply the parent's scale"
    if thing.parent is not None and thing.parent_type != "OBJECT":
        return "hangs on a bone or vertices of its parent"
    for constraint in thing.constraints:
        if constraint.type in _OVERRIDING and not constraint.mute and constraint.influence > 0:
            return f'is placed by its constraint "{constraint.name}"'
    if thing.rigid_body is not None and thing.rigid_body.enabled and thing.rigid_body.type == "ACTIVE":
        return "is moved by rigid body physics"
    if any(path.startswith("delta_") for path in curves.artists_paths(thing)):
        return "has its deltas animated or driven"
    return ""


def _orthogonal(matrices: np.ndarray) -> np.ndarray:
    """Which matrices (n, 3, 3) keep right angles and stretch all directions alike."""
    x, y, z = (matrices[:, :, column] for column in range(3))
    squares, slants = (
        [rigid.dot(each, each) for each in (x, y, z)],
        [rigid.dot(*each) for each in ((x, y), (y, z), (z, x))],
    )
    size = sum(squares) / 3.0
    return np.max([np.abs(each) for each in (*slants, *(square - size for square in squares))], axis=0) < 1e-4 * size
