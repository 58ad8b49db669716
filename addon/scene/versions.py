"""A build as one of two versions: what its bricks measure, whoever wrote them, for the matching."""

import numpy as np

from ..core.matching import Version
from ..core.moments import Moments
from ..core.remembered import digest
from . import twins
from .build import Build, vertices_and_triangles

_moments: dict[bytes, Moments] = {}  # a part is measured once a session


def seen(build: Build, colour: list[int]) -> Version:
    """The build with a number for each brick's colour."""
    bricks = build.bricks
    meshes, number = twins.originals(build.objects)
    shapes = [vertices_and_triangles(mesh) for mesh in meshes]
    kinds = np.column_stack([number, np.rint(build.scale * 1e4 / build.scale.max())])
    _, first, kind = np.unique(kinds, axis=0, return_index=True, return_inverse=True)
    measured = [_measured(shapes[number[n]], build.middle[n], build.scale[n]) for n in first]
    moments = Moments.joined(measured).only(kind.reshape(-1)).placed(bricks.turn, bricks.origin)
    return Version(moments, np.array(colour), bricks.low, bricks.high)


def _measured(shape: tuple[np.ndarray, np.ndarray], middle: np.ndarray, scale: np.ndarray) -> Moments:
    vertices, triangles = shape
    told = digest(vertices, triangles, scale)
    if told not in _moments:
        _moments[told] = Moments.of((vertices - middle) * scale, triangles)
    return _moments[told]
