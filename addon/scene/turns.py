"""Blender's channels of rotation, by each object's mode, as matrices and back."""

import numpy as np

from ..core import rigid

ORDERS = {1: "XYZ", 2: "XZY", 3: "YXZ", 4: "YZX", 5: "ZXY", 6: "ZYX"}  # of Euler angles, by how Blender numbers them
QUATERNION = 0


def rotations(mode: np.ndarray, euler: np.ndarray, quaternion: np.ndarray) -> np.ndarray:
    """Rotation matrices (n, 3, 3) from Blender's channels, each by its object's rotation mode."""
    matrices = np.broadcast_to(np.eye(3), (len(mode), 3, 3)).copy()
    turned = euler.any(axis=1)  # most bricks are not, and sines take their time
    for number, order in ORDERS.items():
        of_order = (mode == number) & turned
        if of_order.any():
            matrices[of_order] = rigid.from_euler(euler[of_order].astype(np.float64), order)
    by_quaternion = (mode == QUATERNION) & (np.abs(quaternion).max(axis=1) > 0)
    if by_quaternion.any():
        matrices[by_quaternion] = rigid.from_quaternion(quaternion[by_quaternion].astype(np.float64))
    return matrices


def channels(
    mode: np.ndarray, matrices: np.ndarray, euler: np.ndarray, quaternion: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Blender's channels of rotation matrices; what an object's mode does not read keeps the given value."""
    euler, quaternion = euler.astype(np.float64), quaternion.astype(np.float64)
    for number, order in ORDERS.items():
        of_order = mode == number
        if of_order.any():
            euler[of_order] = rigid.to_euler(matrices[of_order], order)
    by_quaternion = mode == QUATERNION
    if by_quaternion.any():
        quaternion[by_quaternion] = rigid.to_quaternion(matrices[by_quaternion])
    return euler, quaternion
