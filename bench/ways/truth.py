"""What is true of a file: its bricks' boxes, surfaces, parts and colours, in mm and upright, kept beside it."""

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from .catalogue import Way
from .parts import shells
from .workshop import COLOURS, Placed


def kept(build: Sequence[Placed], way: Way, path: Path) -> None:
    """Write what is true of this file to FILE.truth.json."""
    build = way.standing(build)
    boxes = [_box(brick, way) for brick in build]
    turns = [np.round(brick.turn, 3).tobytes() if not way.posed else b"" for brick in build]
    twice = 2 if way.mirrored else 1
    document = {
        "file": path.name,
        "bricks": len(build),
        "low": [low for low, _, _ in boxes],
        "high": [high for _, high, _ in boxes],
        "area": [area for _, _, area in boxes],
        "colour": [list(COLOURS).index(brick.colour) for brick in build],
        "colours": list(COLOURS.values()),
        "names": [f"{brick.part} {n}" for n, brick in enumerate(build)],
        "most_parts": twice * len({(b.part, t) for b, t in zip(build, turns, strict=True)}),
        "most_meshes": twice * len({(b.part, b.colour, t) for b, t in zip(build, turns, strict=True)}),
        "coloured": way.coloured,
        "told": way.told,
    }
    path.with_name(f"{path.name}.truth.json").write_text(json.dumps(document))


def _box(brick, way):
    parts = shells(brick.part, way.style)
    points = np.concatenate([shell.vertices for shell in parts]) @ brick.turn.T + brick.at
    return points.min(axis=0).tolist(), points.max(axis=0).tolist(), sum(_area(shell) for shell in parts)


def _area(shell):
    a, b, c = np.moveaxis(shell.vertices[shell.triangles], 1, 0)
    return float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2)
