"""A build as one of two versions: what its bricks measure, whoever wrote them, for the matching."""

from collections.abc import Generator
from functools import partial
from typing import cast

import bpy
import numpy as np

from ...core import rigid
from ...core.build.matching import Version
from ...core.parts.moments import Moments
from ...core.remembered import digest, remembered
from ...core.slices import is_over, sliced
from ..turns import rotations
from ..wear import originals
from . import arrival
from .build import MOST_PARTS, Build
from .seen import vertices_and_triangles


def seeing(build: Build, colour: list[int]) -> Generator[None, None, Version]:
    """The build with a number for each brick's colour, in parts."""
    bricks = build.bricks
    meshes, number = originals.originals(build.objects)
    shapes = []
    for mesh in cast(list[bpy.types.Mesh], meshes):
        shapes.append(vertices_and_triangles(mesh))
        if is_over():
            yield
    kinds = np.column_stack([number, np.rint(build.scale * 1e4 / build.scale.max())])
    _, first, kind = np.unique(kinds, axis=0, return_index=True, return_inverse=True)
    work = partial(_all_measured, shapes, number[first], build.middle[first], build.scale[first])
    measured = yield from sliced(work)
    yield
    told = yield from arrival.placing(build.objects)
    moments = Moments.joined(measured).only(kind.reshape(-1)).placed(*stood(build, told))
    return Version(moments, np.array(colour), bricks.low, bricks.high)


def stood(build: Build, told: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Turn (n, 3, 3) and origin (n, 3) in mm of a build's bricks, as they stand by other channels than their own.

    told: a location, Euler angles and a quaternion (n, 10) for each.
    """
    own = rotations(build.mode, told[:, 3:6], told[:, 6:])
    size = build.columns.read("scale", 3)[build.rows].astype(np.float64)
    linear = np.where((build.mode < 0)[:, None, None], build.linear, own * size[:, None, :])
    turn = rigid.product(build.parent_turn, linear)
    origin = rigid.turned(build.parent_turn, told[:, :3]) + build.parent_shift + rigid.turned(turn, build.middle)
    return turn / np.sqrt((turn * turn).sum(axis=1))[:, None, :], origin


def _all_measured(shapes: list, number: np.ndarray, middle: np.ndarray, scale: np.ndarray) -> list[Moments]:
    return [_measured(shapes[n], *each) for n, *each in zip(number.tolist(), middle, scale, strict=True)]


def _measured(shape: tuple[np.ndarray, np.ndarray], middle: np.ndarray, scale: np.ndarray) -> Moments:
    vertices, triangles = shape
    told = digest(vertices, triangles, scale)
    return remembered("moments", told, lambda: Moments.of((vertices - middle) * scale, triangles), MOST_PARTS)
