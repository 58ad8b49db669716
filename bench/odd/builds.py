"""Some sixty builds of odd parts, each laid by a seeded hand; sound, unless they say that they overlap."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from addon.core import draws
from addon.core.build.bricks import Bricks
from addon.core.parts.parts import measured

from .facades import bracketed, brackets, facade, slabs, stars, tiled
from .joints import arms, crane, doors, folds, linkage, masts, rails
from .laying import Laid, about, at, ground, lying, set_on
from .parts import odd
from .roofs import arrows, bay, gable, hips, kites, overhang, scarf, wings
from .solids import BRICK, PITCH, PLATE, Style, X, Y, Z
from .towers import angles, arcade, drums, fence, offset_plates, offsets, panels, posts, rounds, steeples


@dataclass(frozen=True)
class Build:
    """What is laid, and how the program that exports it models."""

    name: str
    style: Style
    laid: tuple[Laid, ...] = field(repr=False)
    overlaps: bool = False  # whether bricks lie in each other in the export

    def __len__(self) -> int:
        return len(self.laid)

    @property
    def seeds(self) -> range:
        """More where there is little to see."""
        return range(10) if len(self) < 8 else range(1, 3)

    def bricks(self) -> Bricks:
        """The table of bricks, parts measured by the tool itself."""
        return table(self.laid, self.style)


def terraces(rng, apart: float = 300.0):
    """Roofs on two grounds of different heights, a bridge from one to another, and a brick far below."""
    yield from gable(rng, 45, 4, 1)
    lower = list(hips(rng, 6, 1))
    yield from (set_on(brick, np.eye(3), np.array([160.0, 0, -apart])) for brick in lower)
    for x, z in ((8, 0), (14, BRICK)):
        yield from (set_on(brick, np.eye(3), np.array([x * PITCH, 80.0, z])) for brick in ground(4, 2))
    yield at("brick-2-2", 11, 11, 0)
    yield at("plate-6-2", 13, 11, BRICK)
    yield at("brick-2-2", -6, -6, -2 * apart)


def street(rng):
    """A bit of everything, plot beside plot."""
    small = partial(gable, length=4, courses=1), facade, partial(posts, n=2, high=2), arcade, partial(stars, n=1), doors
    for n, recipe in enumerate(small):
        for brick in recipe(rng):
            yield set_on(brick, np.eye(3), np.array([(n % 3) * 12 * PITCH, (n // 3) * 12 * PITCH, 0]))


def twins(rng, recipe: Callable, **numbers):
    """A section and its mirror image, wall to wall."""
    section = list(recipe(rng, **numbers))
    yield from section
    yield from lying(section, np.diag([-1.0, 1, 1]))


def keel(rng, recipe: Callable, deep: int, **numbers):
    """A section so many studs deep and another on its head below it, seat to seat."""
    yield from recipe(rng, **numbers)
    below = lying(recipe(rng, **numbers), np.diag([1.0, -1, -1]))
    yield from (set_on(brick, np.eye(3), np.array([0, deep * PITCH, -2 * PLATE])) for brick in below)


def squeezed(rng, recipe: Callable, share: float, **numbers):
    """Bricks that all stand a little closer than they are large."""
    for brick in recipe(rng, **numbers):
        yield replace(brick, at=brick.at * (1 - share))


SIDE = np.round(about(X, 90))
HEAD = np.diag([1.0, -1, -1])
MIRRORED = np.diag([-1.0, 1, 1])
ASKEW = about(np.array([0.6, -0.36, 0.7141]) / np.linalg.norm([0.6, -0.36, 0.7141]), 77.0)
TURNED = about(Z, 31.0)
TALL = about(Y, -90.0)

_RECIPES: dict[str, tuple] = {
    "gable-45": (partial(gable, angle=45), Style(0.0, 16)),
    "gable-33": (partial(gable, angle=33, length=4), Style(0.1, 16)),
    "gable-25": (partial(gable, angle=25, length=5, courses=1), Style(0.0, 24)),
    "gable-65": (partial(gable, angle=65, length=4), Style(0.1, 12)),
    "hips": (hips, Style(0.0, 16)),
    "bay": (bay, Style(0.1, 16)),
    "overhang-45": (overhang, Style(0.0, 16)),
    "overhang-33": (partial(overhang, angle=33, n=3), Style(0.1, 32)),
    "wings": (wings, Style(0.0, 16)),
    "scarf": (scarf, Style(0.0, 16)),
    "arrows": (arrows, Style(0.1, 16)),
    "kites": (kites, Style(0.0, 16)),
    "posts": (posts, Style(0.0, 16)),
    "fence": (fence, Style(0.1, 24)),
    "drums": (drums, Style(0.0, 40)),
    "steeples": (steeples, Style(0.0, 32)),
    "rounds": (rounds, Style(0.0, 16)),
    "bracketed": (bracketed, Style(0.1, 16)),
    "tiled": (tiled, Style(0.0, 16)),
    "facade": (facade, Style(0.0, 16)),
    "brackets": (brackets, Style(0.1, 16)),
    "stars": (stars, Style(0.0, 8)),
    "offsets": (offsets, Style(0.1, 16)),
    "offset-plates": (offset_plates, Style(0.0, 16)),
    "arcade-bow": (arcade, Style(0.1, 16)),
    "arcade-gate": (partial(arcade, kind="gate", wide=3), Style(0.0, 16)),
    "panels": (panels, Style(0.1, 16)),
    "angles": (angles, Style(0.0, 16)),
    "slabs": (slabs, Style(0.1, 12)),
    "doors": (doors, Style(0.0, 16)),
    "doors-wide": (partial(doors, n=3, nx=2), Style(0.1, 24)),
    "folds": (folds, Style(0.1, 12)),
    "rails": (rails, Style(0.1, 16)),
    "rails-tight": (partial(rails, n=9), Style(0.0, 12)),
    "masts": (masts, Style(0.1, 24)),
    "arms": (arms, Style(0.1, 16)),
    "arms-tight": (partial(arms, n=2, joints=3), Style(0.0, 24)),
    "crane": (crane, Style(0.1, 16)),
    "linkage": (linkage, Style(0.0, 16)),
    "terraces": (terraces, Style(0.0, 16)),
    "street": (street, Style(0.1, 16)),
    # As above, otherwise dressed, lying as a scene may hold them.
    "gable-lying": (partial(gable, angle=45, length=5), Style(0.1, 8), SIDE),
    "gable-long": (partial(gable, angle=45, length=12, courses=3, tall=True), Style(0.0, 8)),
    "hips-turned": (partial(hips, side=10, courses=2), Style(0.1, 12), TURNED),
    "bay-mirrored": (partial(bay, arm=6), Style(0.0, 24), MIRRORED),
    "overhang-head": (partial(overhang, angle=25, n=2), Style(0.1, 16), HEAD),
    "wings-mirrored": (partial(wings, length=6, layers=4), Style(0.1, 16), MIRRORED),
    "scarf-askew": (partial(scarf, length=6), Style(0.1, 16), ASKEW),
    "posts-head": (partial(posts, n=5, high=4), Style(0.1, 12), HEAD),
    "drums-lying": (partial(drums, high=1), Style(0.1, 16), SIDE),
    "facade-lying": (partial(facade, nx=6, courses=4), Style(0.1, 16), SIDE),
    "facade-askew": (partial(facade, nx=3), Style(0.0, 48, False), ASKEW),
    "brackets-tall": (partial(brackets, n=5), Style(0.0, 16), TALL),
    "stars-turned": (partial(stars, n=2, high=3), Style(0.1, 16), TURNED),
    "arcade-head": (partial(arcade, n=3), Style(0.0, 24), HEAD),
    "twins-rounds": (partial(twins, recipe=rounds, courses=2), Style(0.1, 32)),
    "twins-brackets": (partial(twins, recipe=brackets, n=2), Style(0.0, 16)),
    "keel-gable": (partial(keel, recipe=gable, deep=4, length=4, courses=1), Style(0.0, 16)),
    # Whose neighbours lie in each other.
    "tight-gable": (partial(gable, length=4), Style(-0.01, 16), None, True),
    "tight-wings": (wings, Style(-0.05, 16), None, True),
    "tight-offsets": (offsets, Style(-0.15, 16), None, True),
    "squeezed": (partial(squeezed, recipe=overhang, share=0.0025), Style(0.0, 16), None, True),
    "squeezed-facade": (partial(squeezed, recipe=facade, share=0.006), Style(0.0, 16), None, True),
}  # fmt: skip
NAMES = tuple(_RECIPES)


def table(laid: Sequence[Laid], style: Style) -> Bricks:
    """What is laid as bricks."""
    names = list(dict.fromkeys(brick.part for brick in laid))
    made = tuple(measured(odd(name, style).vertices, odd(name, style).triangles) for name in names)
    kind = np.array([names.index(brick.part) for brick in laid])
    turn, at = np.array([brick.turn for brick in laid]), np.array([brick.at for brick in laid])
    called = tuple(f"{brick.part} {n}" for n, brick in enumerate(laid))
    return Bricks(called, made, kind, turn, at, draws.mixed(np.arange(len(laid), dtype=np.uint64)))


def build(name: str) -> Build:
    """One of them; the seed of its hand is told by its name."""
    recipe, style, *rest = _RECIPES[name]
    pose, overlaps = (*rest, *(None, False)[len(rest) :])
    laid = list(recipe(np.random.default_rng(list(name.encode()))))
    return Build(name, style, tuple(laid if pose is None else lying(laid, pose)), overlaps)
