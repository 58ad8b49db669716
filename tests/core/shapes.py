"""Solids of trimesh that bricks are made like."""

import numpy as np
import trimesh


def block(size, at=(0, 0, 0)):
    """A box from `at`, triangulated alike on opposite faces: touching blocks have coincident triangles."""
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=float)
    triangles = []
    for axis in range(3):
        for side in (0, 1):
            a, b, c, d = np.flatnonzero(corners[:, axis] == side)
            outward = np.cross(corners[c] - corners[a], corners[d] - corners[a])[axis] > 0
            for face in ([a, c, d], [a, d, b]):
                triangles.append(face if outward == bool(side) else face[::-1])
    return trimesh.Trimesh(corners * size + at, triangles, process=False)


def tray(size, at=(0, 0, 0), wall=1.5):
    """A brick open underneath: five walls, made by moving the underside's middle up into the block."""
    w, d, h = size
    outer = np.array([[0, 0], [w, 0], [w, d], [0, d]], dtype=float)
    inner = np.array([[wall, wall], [w - wall, wall], [w - wall, d - wall], [wall, d - wall]])
    rings = [(outer, 0), (outer, h), (inner, h - wall), (inner, 0)]  # foot outside, top, ceiling, foot inside
    vertices = np.concatenate([np.c_[ring, np.full(4, z)] for ring, z in rings])
    faces = [[4, 5, 6], [4, 6, 7], [8, 10, 9], [8, 11, 10]]
    for k in range(4):
        n = (k + 1) % 4
        for low, high in ((0, 4), (8, 12), (12, 0)):
            faces += [[low + k, low + n, high + n], [low + k, high + n, high + k]]
    brick = trimesh.Trimesh(vertices + at, faces, process=False)
    assert brick.is_watertight
    assert brick.volume > 0
    return brick
