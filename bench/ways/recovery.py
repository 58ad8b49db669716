"""How many bricks come out of one joined mesh exactly right, how long it takes and how much memory.

    python -m bench.ways.recovery [--function MODULE:NAME] [--only PATTERN] [--limit SECONDS]

The function takes vertices (V, 3) in mm and triangles (T, 3) and answers a label a triangle, or something that has
them as `label`; unless told otherwise it is what bringing in does, without Blender. A brick is right when its
triangles, and no others, carry one label. A build has a process of its own.
"""

import argparse
import fnmatch
import importlib
import json
import resource
import subprocess
import sys
import time
from collections.abc import Callable

import numpy as np

from addon.core.parts import shells
from addon.core.parts.assembly import Shells, assembled
from addon.core.parts.solids import Solids

from . import layouts
from .graph import Mesh
from .parts import Style
from .workshop import workshop

FUSED, SHELLS, GAPS = Style(), Style(fused=False), Style(clearance=0.1, fused=False)
SOLID = Style(hollow=False, fused=False, facets=12)


def _harbour(count: int, style: Style) -> list[Mesh]:
    return layouts.baked(workshop(count), style).meshes


def _lighthouse() -> list[Mesh]:
    from addon.demo import lighthouse
    from addon.demo.parts import PARTS

    meshes = []
    for brick in lighthouse.bricks():
        mesh, angle = PARTS[brick.part].mesh(), brick.quarter_turns * np.pi / 2
        turn = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]])
        triangles = np.asarray(mesh.triangles).reshape(-1, 3)
        points = np.asarray(mesh.positions, dtype=float) @ turn.T + np.asarray(brick.position)
        meshes.append(Mesh(brick.part, points, triangles, np.zeros(len(triangles), dtype=int)))
    return meshes


CASES: dict[str, tuple[Callable[[], list[Mesh]], bool]] = {
    "lighthouse": (_lighthouse, False),
    "lighthouse merged": (_lighthouse, True),
    **{
        f"{count} {name}{' merged' if merged else ''}": (lambda c=count, s=style: _harbour(c, s), merged)
        for count in (120, 1000, 5000)
        for name, style in (("fused", FUSED), ("shells", SHELLS), ("shells with gaps", GAPS), ("solid", SOLID))
        for merged in (False, True)
    },
}


def bricks(vertices: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """The brick (T,) that each triangle of one joined mesh belongs to; -1 for those without surface."""
    split = shells.split(vertices, triangles)
    order = np.argsort(split.label, kind="stable")
    starts = np.searchsorted(split.label[order], np.arange(len(split) + 1))
    measured = Solids.of(vertices[triangles[order[starts[0] :]]], starts[:-1] - starts[0])
    found = assembled(
        Shells(
            boxes=measured.boxes,
            own_size=measured.size,
            volume=measured.volume,
            area=measured.area,
            closed=split.closed,
            facing=measured.facing,
            thing=np.zeros(len(split), dtype=int),
            colour=np.zeros(len(split), dtype=int),
            family=np.array([-1]),
            frame=np.eye(4)[None],
            own=measured.boxes,
            triangles=lambda number: vertices[triangles[order[starts[number] : starts[number + 1]]]],
        ),
        expected_mm=1.0,
        up=2,
    )
    return np.where(split.label < 0, -1, found.home[split.label])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--function", default="bench.ways.recovery:bricks")
    parser.add_argument("--only", default="*")
    parser.add_argument("--limit", type=float, default=600)
    parser.add_argument("--one", help="this build here, as JSON")
    asked = parser.parse_args()
    if asked.one:
        print(json.dumps(_measured(asked.one, asked.function)))
        return
    for name in CASES:
        if fnmatch.fnmatch(name, f"*{asked.only}*"):
            print(_line(name, asked), flush=True)


def _line(name, asked):
    command = [sys.executable, "-m", "bench.ways.recovery", "--one", name, "--function", asked.function]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=asked.limit)
    except subprocess.TimeoutExpired:
        return f"{name:30} not done after {asked.limit:.0f} s"
    if done.returncode:
        return f"{name:30} exit {done.returncode}: {done.stderr.strip().splitlines()[-1:]}"
    row = json.loads(done.stdout.splitlines()[-1])
    return (
        f"{name:30} {row['right']:5} of {row['bricks']:5} right ({100 * row['right'] / row['bricks']:6.2f} %), "
        f"{row['labels']:6} labels, {row['triangles'] / 1e6:6.3f} M triangles, {row['seconds']:6.1f} s, "
        f"{row['more_mb']:6.0f} MB more"
    )


def _measured(name, function):
    made, merged = CASES[name]
    meshes = made()
    brick = np.repeat(np.arange(len(meshes)), [len(mesh.triangles) for mesh in meshes])
    whole = layouts.together(name, meshes)
    whole = layouts.merged_across(whole) if merged else whole
    module, wanted = function.split(":")
    split = getattr(importlib.import_module(module), wanted)
    vertices = whole.vertices.astype(np.float32).astype(float)  # as files keep them
    before, began = _peak_mb(), time.perf_counter()
    answer = split(vertices, whole.triangles)
    seconds, more = time.perf_counter() - began, _peak_mb() - before
    label = np.asarray(getattr(answer, "label", answer))
    real = np.ones(len(label), dtype=bool) if not merged else _real(whole)
    return {
        "right": exactly_right(label[real], brick[real]),
        "bricks": len(meshes),
        "labels": len(np.unique(label[label >= 0])),
        "triangles": len(label),
        "seconds": seconds,
        "more_mb": more,
    }


def exactly_right(label: np.ndarray, brick: np.ndarray) -> int:
    """How many bricks have one label to all their triangles (T,), and it to themselves."""
    pairs = np.unique(np.stack([label, brick], axis=1), axis=0)
    labels, shares = np.unique(pairs[:, 0], return_counts=True)
    lone = pairs[np.isin(pairs[:, 0], labels[(shares == 1) & (labels >= 0)])]
    bricks, pieces = np.unique(pairs[:, 1], return_counts=True)
    return int(np.isin(bricks[pieces == 1], lone[:, 1]).sum())


def _real(mesh):
    """Which triangles still have three corners in three places."""
    return (mesh.triangles != np.roll(mesh.triangles, 1, axis=1)).all(axis=1)


def _peak_mb():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main()
