"""Location, Euler angles, quaternion and scale of n objects in one table (n, 13), as Blender keeps them: float32."""

import numpy as np

from ..columns import Columns

WIDTHS = {"location": 3, "rotation_euler": 3, "rotation_quaternion": 4, "scale": 3}
WIDTH = sum(WIDTHS.values())
LOCATION, EULER, QUATERNION, SCALE = slice(0, 3), slice(3, 6), slice(6, 10), slice(10, 13)
NOTHING = np.array([0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 1, 1, 1], dtype=np.float32)  # what moves, turns and scales nothing


def read(columns: Columns, prefix: str = "") -> np.ndarray:
    return np.concatenate([columns.read(prefix + name, width) for name, width in WIDTHS.items()], axis=1)


def write(columns: Columns, rows: np.ndarray, table: np.ndarray, prefix: str = "") -> None:
    start = 0
    for name, width in WIDTHS.items():
        columns.write(prefix + name, rows, table[:, start : start + width])
        start += width
