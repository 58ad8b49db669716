"""Triangles made the quads and polygons that a modelling program would write."""

from collections import defaultdict

import numpy as np

from .graph import Mesh

_FLAT = 1e-6  # cosine from 1 within which triangles lie in one plane


def polygons(mesh: Mesh, corners: int | None = None) -> list[tuple[np.ndarray, int]]:
    """(corners in order, colour) of every face: neighbours in one plane put together, up to so many corners each; what
    has holes stays triangles."""
    faces = []
    for region in _regions(mesh, 2 if corners == 4 else None):
        loop = _outline(mesh.triangles[region])
        if len(loop) and (corners is None or len(loop) <= corners):
            faces.append((loop, int(mesh.colour[region[0]])))
        else:
            faces += [(mesh.triangles[n], int(mesh.colour[n])) for n in region]
    return faces


def _regions(mesh, most):
    """Lists of triangles that hang together in one plane and one colour, at most so many each."""
    corners = mesh.vertices[mesh.triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-30)
    across = defaultdict(list)
    for n, (a, b, c) in enumerate(mesh.triangles.tolist()):
        for pair in ((a, b), (b, c), (c, a)):
            across[min(pair), max(pair)].append(n)
    beside = defaultdict(list)
    for pair in across.values():
        if (
            len(pair) == 2
            and mesh.colour[pair[0]] == mesh.colour[pair[1]]
            and normal[pair[0]] @ normal[pair[1]] > 1 - _FLAT
        ):
            beside[pair[0]].append(pair[1])
            beside[pair[1]].append(pair[0])
    taken = np.zeros(len(mesh.triangles), dtype=bool)
    for first in range(len(taken)):
        if taken[first]:
            continue
        region, taken[first] = [first], True
        for n in region:
            for other in beside[n]:
                if not taken[other] and (most is None or len(region) < most):
                    region.append(other)
                    taken[other] = True
        yield region


def _outline(triangles):
    """The corners around triangles, in their order; none where the outline is more than one loop."""
    after = {}
    inner = {(int(b), int(a)) for t in triangles for a, b in zip(t, np.roll(t, -1), strict=True)}
    for t in triangles:
        for a, b in zip(t.tolist(), np.roll(t, -1).tolist(), strict=True):
            if (a, b) not in inner:
                if a in after:
                    return np.zeros(0, dtype=int)
                after[a] = b
    start = next(iter(after))
    loop = [start]
    while after[loop[-1]] != start:
        loop.append(after[loop[-1]])
    return np.array(loop if len(loop) == len(after) else [], dtype=int)
