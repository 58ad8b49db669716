"""Two versions of a stranger's build as the matching sees them, and which brick is which in truth."""

from dataclasses import replace
from functools import cache

import numpy as np

from addon.core.build.matching import Matching, Version
from addon.core.parts.moments import Moments
from bench.ways.parts import Style, shells
from bench.ways.workshop import COLOURS, Placed, about

FINE, COARSE = Style(facets=32), Style(facets=24)
UP = np.array([0.0, 0.0, 1.0])


@cache
def shape(part: str, style: Style) -> tuple[np.ndarray, np.ndarray]:
    vertices, triangles, start = [], [], 0
    for shell in shells(part, style):
        vertices.append(shell.vertices)
        triangles.append(shell.triangles + start)
        start += len(shell.vertices)
    return np.concatenate(vertices), np.concatenate(triangles)


@cache
def moments(part: str, style: Style) -> Moments:
    return Moments.of(*shape(part, style))


def version(build: list[Placed], style: Style = COARSE, noise: float = 0.0, seed: int = 0) -> Version:
    """A build as it is read; with noise each brick has a mesh of its own, every vertex up to so many mm off."""
    rng, found, low, high = np.random.default_rng(seed), [], [], []
    for brick in build:
        vertices, triangles = shape(brick.part, style)
        if noise:
            rough = vertices + rng.uniform(-noise, noise, vertices.shape)
            own = Moments.of(rough, triangles[rng.permutation(len(triangles))])
        else:
            own = moments(brick.part, style)
        placed = vertices @ brick.turn.T + brick.at
        found.append(own.placed(brick.turn[None], brick.at[None]))
        low.append(placed.min(axis=0))
        high.append(placed.max(axis=0))
    colour = np.array([list(COLOURS).index(brick.colour) for brick in build])
    return Version(Moments.joined(found), colour, np.array(low), np.array(high))


def moved(build: list[Placed], way, degrees: float = 0.0) -> list[Placed]:
    """The whole build turned about the upright axis and then shifted."""
    turn = about(UP, degrees)
    return [replace(brick, turn=turn @ brick.turn, at=turn @ brick.at + np.array(way)) for brick in build]


def changed(build: list[Placed], share: float = 0.05, seed: int = 1) -> tuple[list[Placed], list[int]]:
    """Bricks taken out, put in, moved by a pitch and recoloured, a quarter of the share each; which old brick (or -1)
    each new one is."""
    rng = np.random.default_rng(seed)
    chosen = rng.permutation(len(build))[: max(4, int(share * len(build)))]
    out, put, away, other = np.array_split(chosen, 4)
    colours = list(COLOURS)
    left, truth = [], []
    for n, brick in enumerate(build):
        if n in out:
            continue
        if n in away:
            brick = replace(brick, at=brick.at + np.array([8.0, 0.0, 48.0]))
        if n in other:
            brick = replace(brick, colour=colours[(colours.index(brick.colour) + 1) % 6])
        left.append(brick)
        truth.append(n)
    for n in put:
        left.append(replace(build[n], at=build[n].at + np.array([0.0, 4.0, 96.0])))
        truth.append(-1)
    return left, truth


def lifted(build: list[Placed], height: float = 9.6, by: float = 3.2) -> list[Placed]:
    """All that stands higher than so much, one plate higher."""
    return [replace(b, at=b.at + np.array([0.0, 0.0, by])) if b.at[2] > height else b for b in build]


def shuffled(build: list[Placed], truth: list[int], seed: int = 2) -> tuple[list[Placed], np.ndarray]:
    order = np.random.default_rng(seed).permutation(len(build))
    return [build[n] for n in order], np.array(truth)[order]


def found(matching: Matching, truth: np.ndarray) -> np.ndarray:
    """Which old bricks that are in the new version too (A,) were told right; those gone count when told gone."""
    right = np.full(len(matching.partner), -1)
    right[truth[truth >= 0]] = np.flatnonzero(truth >= 0)
    return matching.partner == right
