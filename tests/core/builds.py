"""Small builds as brick tables, for tests of the core."""

import numpy as np

from addon.core import identity
from addon.core.bricks import Bricks, measured


def block(studs_x: int, studs_y: int, plates: int, studded: bool = True, clearance: float = 0.0) -> np.ndarray:
    """Vertices (V, 3) in mm of a brick standing on z = 0 with its corner at the origin."""
    size = np.array([8.0 * studs_x, 8.0 * studs_y, 3.2 * plates])
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)]) * size
    corners[:, :2] += np.where(corners[:, :2] > 0, -clearance, clearance)
    around = 2.4 * np.array([[np.cos(a), np.sin(a)] for a in np.arange(12) * np.pi / 6])
    rings = [
        np.column_stack([around + np.array([8.0 * i + 4.0, 8.0 * j + 4.0]), np.full(12, size[2] + z)])
        for i in range(studs_x) for j in range(studs_y) for z in (0.0, 1.7)
    ]  # fmt: skip
    return np.concatenate([corners, *rings]) if studded else corners


def table(placed: list[tuple[np.ndarray, tuple[float, float, float]]], turns=None) -> Bricks:
    """A brick table of (vertices, origin) pairs; `turns` (N, 3, 3) where they are not upright."""
    parts = tuple(measured(vertices) for vertices, _ in placed)
    turn = np.broadcast_to(np.eye(3), (len(placed), 3, 3)).copy() if turns is None else np.asarray(turns)
    origin = np.array([at for _, at in placed], dtype=float)
    prints = np.array([identity.fingerprint(part.vertices) for part in parts], dtype=np.uint64)
    middle = np.stack([0.5 * (p.vertices.min(axis=0) + p.vertices.max(axis=0)) for p in parts])
    keys = identity.keys(prints, turn, origin + np.einsum("nij,nj->ni", turn, middle))
    return Bricks(tuple(f"part.{n:04d}" for n in range(len(placed))), parts, np.arange(len(placed)), turn, origin, keys)


def wall(courses: int = 6, length: int = 5) -> Bricks:
    """2x4 bricks in running bond, no clearance, with a 1x1 plate standing alone on top."""
    brick = block(4, 2, 3)
    placed = [(brick, (32.0 * n + 16.0 * (c % 2), 0.0, 9.6 * c)) for c in range(courses) for n in range(length)]
    return table([*placed, (block(1, 1, 1), (48.0, 8.0, 9.6 * courses))])
