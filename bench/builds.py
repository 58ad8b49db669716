"""Synthetic builds of any size as brick tables: laid on the lattice by a seeded hand, bricks and plates mixed."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from addon.core import draws, rigid
from addon.core.build import identity
from addon.core.build.bricks import Bricks
from addon.core.parts.parts import Part
from addon.core.presets.preset import Fit
from addon.core.sizes import TRADE

LIMITS = Fit(
    shift_mm=0.05, lift_mm=0.03, twist_deg=3.0, tilt_deg=0.1, clearance_mm=0.1, play_mm=0.05, lean_mm=0.03, neatness=0.5
)

_LENGTHS, _SHARES = (1, 2, 3, 4, 6, 8), (1, 2, 1, 4, 2, 1)  # studs, and how often
_PLATED = 0.2  # of the bricks, three plates stand instead
_CITY_COURSES, _CITY_SIDE, _CITY_APART = 24, 16, 25
_WALL_COURSES = 20
_GROUND = 12  # studs a side of a town's plates of ground


def city(count: int, seed: int = 0, based: bool = False) -> Bricks:
    """Hollow buildings with walls two studs thick, their corners bonded; with `based`, each on a plate of its own."""
    rng = np.random.default_rng(seed)
    side = _CITY_SIDE
    even = [(0, 0, side, 0), (0, side - 2, side, 0), (0, 2, side - 4, 1), (side - 2, 2, side - 4, 1)]
    odd = [(y, x, length, 1 - way) for x, y, length, way in even]
    storeys = np.array([(x, y, 3 * course, length, way)
                        for course in range(_CITY_COURSES)
                        for x, y, length, way in (odd if course % 2 else even)])  # fmt: skip
    buildings = count // (_CITY_COURSES * 12) + 1
    across = int(np.ceil(np.sqrt(buildings)))
    plot = _CITY_APART * np.stack(np.divmod(np.arange(buildings), across), axis=1)
    runs = np.tile(storeys, (buildings, 1))
    runs[:, :2] += np.repeat(plot, len(storeys), axis=0)
    laid = _laid(runs, rng)
    if based:
        ground = np.array([0, 0, -1, side, side, 1])
        laid = np.concatenate([ground + np.pad(plot, ((0, 0), (0, 4))), laid])
    return table(laid[:count])


def block(count: int, seed: int = 0) -> Bricks:
    """Solid masonry, its rows two studs wide, along x and y in turn."""
    courses = max(4, round(1.2 * count ** (1 / 3)))
    side = 2 * int(np.ceil(np.sqrt(count / courses * 6.0) / 2)) + 2
    course, row = np.divmod(np.arange(courses * side // 2), side // 2)
    way = course % 2
    runs = np.stack(
        [np.where(way, 2 * row, 0), np.where(way, 0, 2 * row), 3 * course, np.full(len(way), side), way], axis=1
    )
    return table(_laid(runs, np.random.default_rng(seed))[:count])


def wall(count: int, seed: int = 0) -> Bricks:
    """One straight wall of 20 courses, two studs thick."""
    courses = min(_WALL_COURSES, count)
    length = int(4.0 * count / courses) + 8
    course = np.arange(courses)
    runs = np.stack([0 * course, 0 * course, 3 * course, np.full(courses, length), 0 * course], axis=1)
    laid = _laid(runs, np.random.default_rng(seed))
    return table(laid[np.argsort(laid[:, 0], kind="stable")][:count])


def tower(count: int, seed: int = 0) -> Bricks:
    """One tower four studs square: two rows a course, across each other."""
    course = np.repeat(np.arange(count), 2)
    second, way = np.tile([0, 2], count), course % 2
    runs = np.stack([np.where(way, second, 0), np.where(way, 0, second), 3 * course, np.full(len(way), 4), way], axis=1)
    return table(_laid(runs, np.random.default_rng(seed))[:count])


def stack(count: int, seed: int = 0) -> Bricks:
    """One brick on top of another: 2x2 to 4x2, three plates high or one."""
    rng = np.random.default_rng(seed)
    height = np.where(rng.random(count) < _PLATED, 1, 3)
    laid = np.zeros((count, 6), dtype=np.int64)
    laid[:, 2] = np.cumsum(height) - height
    laid[:, 3], laid[:, 4], laid[:, 5] = rng.integers(2, 5, count), 2, height
    return table(laid)


def town(count: int, seed: int = 0) -> Bricks:
    """Many small things: piles of one to six bricks and plates, one stud or two long, on plates of ground."""
    rng = np.random.default_rng(seed)
    piles = count // 3
    high = rng.integers(1, 7, piles)
    pile = np.repeat(np.arange(piles), high)
    plates = np.where(rng.random(len(pile)) < 0.5, 1, 3)
    below = np.cumsum(plates) - plates
    across = int(np.ceil(np.sqrt(piles)))
    place = 3 * np.stack(np.divmod(np.arange(piles), across), axis=1) + rng.integers(0, 2, (piles, 2))
    small = np.column_stack(
        [
            place[pile],
            below - below[np.cumsum(high) - high][pile],
            rng.integers(1, 3, piles)[pile],
            0 * pile + 1,
            plates,
        ]
    )
    tiles = -(-(3 * across + 1) // _GROUND)
    ground = _GROUND * np.stack(np.divmod(np.arange(tiles * tiles), tiles), axis=1)
    ground = np.pad(ground, ((0, 0), (0, 4)), constant_values=0)
    ground[:, 2:] = -1, _GROUND, _GROUND, 1
    return table(np.concatenate([ground, small])[:count])


KINDS: dict[str, Callable[..., Bricks]] = {
    "city": city,
    "block": block,
    "wall": wall,
    "tower": tower,
    "stack": stack,
    "town": town,
}


def table(laid: np.ndarray, clearance: float = 0.0) -> Bricks:
    """Bricks from places and sizes (N, 6) on the lattice: x, y in pitches, z in plates, and as much for the size."""
    unit = np.array([TRADE.pitch, TRADE.pitch, TRADE.plate_height])
    sizes, part = np.unique(laid[:, 3:], axis=0, return_inverse=True)
    part = part.reshape(-1)
    parts = tuple(brick(*size, clearance) for size in sizes.tolist())
    centre = (laid[:, :3] + 0.5 * laid[:, 3:]) * unit
    turn = np.broadcast_to(np.eye(3), (len(laid), 3, 3)).copy()
    prints = np.array([identity.fingerprint(each.vertices) for each in parts], dtype=np.uint64)
    return Bricks((), parts, part, turn, centre, identity.keys(prints[part], turn, centre))


def brick(studs_x: int, studs_y: int, plates: int, clearance: float = 0.0) -> Part:
    """A full brick about its middle, its vertices those of the box alone."""
    half = 0.5 * np.array([TRADE.pitch * studs_x, TRADE.pitch * studs_y, TRADE.plate_height * plates])
    body = half - np.array([clearance, clearance, 0.0])
    grid = np.stack(np.meshgrid(np.arange(studs_x), np.arange(studs_y), indexing="ij"), axis=-1).reshape(-1, 2)
    studs = np.column_stack([TRADE.pitch * (grid + 0.5) - half[:2], np.full(len(grid), half[2])])
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) * body
    return Part(corners, -body, body, np.array([[-body, body]]), 2, 1, studs)


def only(bricks: Bricks, rows: np.ndarray) -> Bricks:
    """Those bricks of a table, in the order of `rows`."""
    names = tuple(bricks.names[row] for row in rows) if bricks.names else ()
    return replace(bricks, names=names, part=bricks.part[rows], turn=bricks.turn[rows],
                   origin=bricks.origin[rows], key=bricks.key[rows])  # fmt: skip


def with_another_at_an_angle(bricks: Bricks) -> Bricks:
    """A build and, two metres away and turned, the same once more: there every contact has axes of its own."""
    about = rigid.rotation(np.array([0.0, 0.0, 0.3]))[None]
    return replace(
        bricks,
        part=np.tile(bricks.part, 2),
        turn=np.concatenate([bricks.turn, rigid.product(about, bricks.turn)]),
        origin=np.concatenate([bricks.origin, rigid.turned(about, bricks.origin) + np.array([2000.0, 0.0, 0.0])]),
        key=np.concatenate([bricks.key, draws.mixed(bricks.key)]),
    )


def _laid(runs: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Places and sizes of bricks that fill runs (R, 5): where, how many studs long, and 0 along x or 1 along y.

    The last brick of a run is cut to what is left.
    """
    length = runs[:, 3]
    drawn = rng.choice(
        np.array(_LENGTHS, dtype=np.int32), (len(runs), length.max()), p=np.array(_SHARES) / sum(_SHARES)
    )
    end = np.minimum(np.cumsum(drawn, axis=1), length[:, None])
    size = np.diff(end, axis=1, prepend=0)
    run, number = np.nonzero(size)
    size, start, along_y = size[run, number], end[run, number] - size[run, number], runs[run, 4] == 1
    x, y = runs[run, 0] + np.where(along_y, 0, start), runs[run, 1] + np.where(along_y, start, 0)
    laid = np.stack(
        [x, y, runs[run, 2], np.where(along_y, 2, size), np.where(along_y, size, 2), np.full(len(run), 3)], axis=1
    )
    plated = rng.random(len(laid)) < _PLATED
    number = np.where(plated, 3, 1)
    laid = np.repeat(laid, number, axis=0)
    split = np.repeat(plated, number)
    laid[split, 2] += np.tile([0, 1, 2], plated.sum())
    laid[split, 5] = 1
    return laid
