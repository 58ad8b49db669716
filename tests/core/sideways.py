"""Builds whose bricks stand on each other's sides, of parts that the export's ways are written with."""

from functools import cache

import numpy as np

from addon.core import draws
from addon.core.build.bricks import Bricks
from addon.core.parts.parts import Part, measured
from bench.ways.parts import Style, shells
from bench.ways.workshop import workshop

NOMINAL, CLEAR = Style(fused=False), Style(clearance=0.1, facets=24)
UPRIGHT = np.eye(3)
FORWARD = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])  # what was up points to -y


@cache
def part(name: str, style: Style) -> Part:
    made = shells(name, style)
    starts = np.cumsum([0, *(len(shell.vertices) for shell in made)])
    triangles = np.concatenate([shell.triangles + start for shell, start in zip(made, starts, strict=False)])
    return measured(np.concatenate([shell.vertices for shell in made]).astype(float), triangles)


def table(placed, style: Style) -> Bricks:
    """Bricks out of (part, turn (3, 3), place (3,)) each."""
    names = list(dict.fromkeys(name for name, _, _ in placed))
    turn, origin = (np.array([each[n] for each in placed], dtype=float) for n in (1, 2))
    kind = np.array([names.index(name) for name, _, _ in placed])
    key = draws.mixed(np.arange(len(placed), dtype=np.uint64))
    return Bricks(tuple(f"{name} {n}" for n, (name, _, _) in enumerate(placed)),
                  tuple(part(name, style) for name in names), kind, turn, origin, key)  # fmt: skip


def bracketed(style: Style) -> Bricks:
    """A bracket on a brick of two by two, a plate on its side studs, and a tile on that."""
    return table(
        [
            ("brick-2-2", UPRIGHT, (0, 0, 0)),
            ("bracket-2", UPRIGHT, (0, -4, 9.6)),
            ("plate-2-1", FORWARD, (0, -9.6, 8.0)),
            ("tile-2-1", FORWARD, (0, -12.8, 8.0)),
            ("brick-2-2", UPRIGHT, (0, 0, 12.8)),
        ],
        style,
    )


def tiled(style: Style) -> Bricks:
    """A brick of one stud with a tile on the stud of its side."""
    return table(
        [
            ("plate-2-4", UPRIGHT, (0, 0, -3.2)),
            ("side", UPRIGHT, (-4, -4, 0)),
            ("tile-2-1", FORWARD, (0, -8, 4.0)),
            ("brick-1-1", UPRIGHT, (-4, -4, 9.6)),
        ],
        style,
    )


def yard(style: Style) -> Bricks:
    """A workshop of brackets, side studs, hinges, pins through beams, arches and slopes."""
    return table([(brick.part, brick.turn, brick.at) for brick in workshop(120)], style)
