"""Which bricks can be moved faithfully by their deltas, and why the others cannot."""

import bpy
import numpy as np

from .pins import PINNED, REASON, is_pinned

_AXIS_ANGLE = -1
_OVERRIDING = {
    "COPY_LOCATION", "COPY_ROTATION", "COPY_TRANSFORMS", "TRANSFORM", "TRANSFORM_CACHE", "LIMIT_LOCATION",
    "LIMIT_ROTATION", "CLAMP_TO", "DAMPED_TRACK", "LOCKED_TRACK", "TRACK_TO", "STRETCH_TO", "ARMATURE", "FOLLOW_TRACK",
    "OBJECT_SOLVER", "CAMERA_SOLVER", "FOLLOW_PATH", "PIVOT", "SHRINKWRAP", "GEOMETRY_ATTRIBUTE",
}  # fmt: skip


def fixed(
    objects: list[bpy.types.Object], parent_turn: np.ndarray, turn: np.ndarray, mode: np.ndarray
) -> dict[int, str]:
    """Bricks (by index) that must be left where they are, each with the reason as the end of a sentence."""
    parents = {thing.parent for thing in objects} & set(objects)
    odd = ~_orthogonal(turn) | ~_orthogonal(parent_turn) | (mode == _AXIS_ANGLE)
    linked, physics = len(bpy.data.libraries) > 0, bpy.context.scene.rigidbody_world is not None
    suspects = (
        n
        for n, thing in enumerate(objects)
        if odd[n]
        or linked
        or physics
        or PINNED in thing
        or thing.parent_type != "OBJECT"
        or thing.animation_data
        or len(thing.constraints)
    )
    numbers = {thing: n for n, thing in enumerate(objects)} if parents else {}
    reasons = {n: _reason(objects[n], mode[n], odd[n], parents) for n in {*suspects, *(numbers[p] for p in parents)}}
    return {n: reason for n, reason in sorted(reasons.items()) if reason}


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
    if thing.animation_data is not None and _animates_deltas(thing.animation_data):
        return "has its deltas animated or driven"
    return ""


def _animates_deltas(animation: bpy.types.AnimData) -> bool:
    from ..compat import curves  # local: most builds have no animation

    return any(curve.data_path.startswith("delta_") for curve in [*animation.drivers, *curves(animation)])


def _orthogonal(matrices: np.ndarray) -> np.ndarray:
    """Which matrices (n, 3, 3) keep right angles and stretch all directions alike."""
    gram = np.swapaxes(matrices, 1, 2) @ matrices
    size = np.trace(gram, axis1=1, axis2=2)[:, None, None] / 3.0
    return np.abs(gram / size - np.eye(3)).max(axis=(1, 2)) < 1e-4
