"""Small builds as brick tables, for tests of the core."""

from typing import NamedTuple

import numpy as np

from addon.core.build import identity
from addon.core.build.bricks import Bricks
from addon.core.parts.parts import Part, measured

_SIDES = 12  # of a stud


class Mesh(NamedTuple):
    vertices: np.ndarray  # (V, 3) mm
    triangles: np.ndarray  # (T, 3)


def block(studs_x: int, studs_y: int, plates: int, studded: bool = True, clearance: float = 0.0) -> Mesh:
    """A brick standing on z = 0 with its corner at the origin: a box, and stud rims and tops over it."""
    size = np.array([8.0 * studs_x, 8.0 * studs_y, 3.2 * plates])
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)]) * size
    corners[:, :2] += np.where(corners[:, :2] > 0, -clearance, clearance)
    quads = np.array([(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)])
    vertices, triangles = [corners], [quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]]
    angles = 2.0 * np.pi * np.arange(_SIDES) / _SIDES
    rim = 2.4 * np.column_stack([np.cos(angles), np.sin(angles)])
    for i, j in np.ndindex((studs_x, studs_y) if studded else (0, 0)):
        start = sum(map(len, vertices))
        for z in (0.0, 1.7):
            vertices.append(
                np.column_stack([rim + np.array([8.0 * i + 4.0, 8.0 * j + 4.0]), np.full(_SIDES, size[2] + z)])
            )
        foot, after = start + np.arange(_SIDES), start + np.roll(np.arange(_SIDES), -1)
        top = np.column_stack([np.full(_SIDES - 2, foot[0]), foot[1:-1], foot[2:]]) + _SIDES
        triangles += [
            np.column_stack([foot, after, foot + _SIDES]),
            np.column_stack([after, after + _SIDES, foot + _SIDES]),
            top,
        ]
    return Mesh(np.concatenate(vertices), np.concatenate(triangles))


def joined(placed: list[tuple[Mesh, tuple[float, float, float]]]) -> Mesh:
    """(mesh, where its origin goes) pairs as one part."""
    starts = np.cumsum([0, *(len(mesh.vertices) for mesh, _ in placed)])
    vertices = [mesh.vertices + at for mesh, at in placed]
    triangles = [mesh.triangles + start for (mesh, _), start in zip(placed, starts, strict=False)]
    return Mesh(np.concatenate(vertices), np.concatenate(triangles))


def table(placed: list[tuple[Mesh, tuple[float, float, float]]], turns=None) -> Bricks:
    """A brick table of (mesh, where its origin goes) pairs; `turns` (N, 3, 3) where they are not upright."""
    meshes = {id(mesh): mesh for mesh, _ in placed}
    middles = {number: 0.5 * (m.vertices.min(axis=0) + m.vertices.max(axis=0)) for number, m in meshes.items()}
    parts: dict[int, Part] = {n: measured(m.vertices - middles[n], m.triangles) for n, m in meshes.items()}
    numbers = list(parts)
    part = np.array([numbers.index(id(mesh)) for mesh, _ in placed])
    turn = np.broadcast_to(np.eye(3), (len(placed), 3, 3)).copy() if turns is None else np.asarray(turns, dtype=float)
    middle = np.stack([middles[id(mesh)] for mesh, _ in placed])
    origin = np.array([at for _, at in placed], dtype=float) + np.einsum("nij,nj->ni", turn, middle)
    prints = np.array([identity.fingerprint(each.vertices) for each in parts.values()], dtype=np.uint64)
    names = tuple(f"part.{n:04d}" for n in range(len(placed)))
    return Bricks(names, tuple(parts.values()), part, turn, origin, identity.keys(prints[part], turn, origin))


def wall(courses: int = 6, length: int = 5) -> Bricks:
    """2x4 bricks in running bond, no clearance, with a 1x1 plate standing alone on top."""
    brick = block(4, 2, 3)
    placed = [(brick, (32.0 * n + 16.0 * (c % 2), 0.0, 9.6 * c)) for c in range(courses) for n in range(length)]
    return table([*placed, (block(1, 1, 1), (48.0, 8.0, 9.6 * courses))])
