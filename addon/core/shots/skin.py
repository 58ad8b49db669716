"""The outer faces of bricks as rays meet them: bodies, and the studs that nothing stands on."""

from dataclasses import dataclass

import numpy as np

from .. import rigid
from ..build.bricks import Bricks, Pieces
from ..counts import within
from ..near import holding
from ..parts.hull import Hull
from ..sizes import TRADE

_SIDES = 8  # of a stud
_ON_PLANE = 1e-6  # of a hull, in half sizes of its box


@dataclass(frozen=True)
class Skin:
    """Faces in the build's frame, in mm: flat and convex, of corners once around."""

    corners: np.ndarray  # (V, 3)
    faces: np.ndarray  # (F, 4) a triangle has its last corner twice
    brick: np.ndarray  # (F,) whose each face is


def of_bricks(bricks: Bricks) -> Skin:
    """The faces of what fills the boxes of all bricks' bodies at rest, the boxes themselves or their hulls, and of
    their studs."""
    pieces = bricks.pieces()
    solids = [_studs(bricks, pieces)]
    for kind in np.unique(pieces.hull).tolist():
        alike, own = np.flatnonzero(pieces.hull == kind), pieces.hulls[kind]
        arm = rigid.turned(pieces.turn[alike, None], own.corners * pieces.half[alike, None])
        solids.append((pieces.centre[alike, None] + arm, pieces.brick[alike], polygons(own)))
    faces, brick, start = [], [], 0
    for corners, owner, around in solids:
        first = start + corners.shape[1] * np.arange(len(corners))
        for four in [four for polygon in around for four in fours(polygon)]:
            faces.append(first[:, None] + four)
            brick.append(owner)
        start += corners.shape[0] * corners.shape[1]
    places = [corners.reshape(-1, 3) for corners, _, _ in solids]
    return Skin(np.concatenate(places), np.concatenate(faces), np.concatenate(brick))


def _studs(bricks: Bricks, pieces: Pieces) -> tuple[np.ndarray, np.ndarray, list[np.ndarray]]:
    """Corners (S, 2 * _SIDES, 3) of the studs that lie in no other brick's box, whose they are (S,), and the corners of
    each of their faces: of prisms without a bottom."""
    places, ways = zip(*(part.every_stud for part in bricks.parts), strict=True)
    number = np.array([len(each) for each in places])
    brick = np.repeat(np.arange(len(bricks)), number[bricks.part])
    at = (np.cumsum(number) - number)[bricks.part][brick] + within(number[bricks.part])
    turn, way = bricks.turn[brick], np.concatenate(ways)[at]
    foot, up = bricks.origin[brick] + rigid.turned(turn, np.concatenate(places)[at]), rigid.turned(turn, way)
    across = rigid.turned(turn, np.roll(way, 1, axis=1))  # a stud stands along an axis of its part
    free = ~_covered(foot + 0.5 * TRADE.stud_height * up, brick, pieces)
    angle = 2.0 * np.pi * np.arange(_SIDES)[:, None] / _SIDES
    one, other = across[free, None], np.cross(up[free], across[free])[:, None]
    ring = foot[free, None] + 0.5 * TRADE.stud_diameter * (np.cos(angle) * one + np.sin(angle) * other)
    here, beside = np.arange(_SIDES), np.roll(np.arange(_SIDES), -1)
    walls = list(np.stack([here, beside, beside + _SIDES, here + _SIDES], axis=1))
    corners = np.concatenate([ring, ring + TRADE.stud_height * up[free, None]], axis=1)
    return corners, brick[free], [here + _SIDES, *walls]


def _covered(points: np.ndarray, brick: np.ndarray, pieces: Pieces) -> np.ndarray:
    """Which points (S, 3) of bricks (S,) lie in the box of another."""
    full = pieces.only(np.flatnonzero(pieces.aligned & (pieces.hull == 0)))
    point, box = holding(points, full.low, full.high).T
    covered = np.zeros(len(points), dtype=bool)
    covered[point[brick[point] != full.brick[box]]] = True
    return covered


def polygons(hull: Hull) -> list[np.ndarray]:
    """The corners of each face of a hull, once around it; of a box its normals tell one of two faces."""
    found: dict[tuple[int, ...], np.ndarray] = {}
    for normal in (*hull.normals, *-hull.normals):
        along = hull.corners @ normal
        on = np.flatnonzero(along > along.max() - _ON_PLANE * np.abs(normal).max())
        if len(on) > 2:
            arm = hull.corners[on] - hull.corners[on].mean(axis=0)
            one, other = arm[0], np.cross(normal, arm[0])
            turn = np.arctan2(arm @ other / np.linalg.norm(other), arm @ one / np.linalg.norm(one))
            found[tuple(on.tolist())] = on[np.argsort(turn)]
    return list(found.values())


def fours(polygon: np.ndarray) -> list[np.ndarray]:
    """A convex polygon, corners once around, in pieces of four corners; where it ends in a triangle its last twice."""
    return [polygon[[0, n, n + 1, min(n + 2, len(polygon) - 1)]] for n in range(1, len(polygon) - 1, 2)]
