"""The story of a build: what has happened to it, and what that says of where its wear sits."""

from dataclasses import dataclass, field, replace

import numpy as np

from ..build.bricks import Bricks
from ..presets.rules import number
from .placement.placement import Placement, placed
from .placement.wall import walled

# All of these: common practice, no published source.
_GRIPPED = (0.3, 0.7)  # of a build's height: where a grip at its top begins, and from where on it is whole
_KEPT = 0.8  # share of what hands leave that a build on display is spared
_CLOTH = 0.95  # share of the dust that a cloth takes off where it gets to


@dataclass(frozen=True)
class Story:
    """What an artist tells of a build; at 0 nothing but where bricks stand says where wear sits."""

    grip: float = field(
        default=0.0,
        metadata=number(
            -1.0,
            1.0,
            "",
            "Where hands took hold, for smudges, scratches and rub: -1 the base alone, 0 anywhere, 1 the top alone",
        ),
    )
    played: float = field(
        default=0.0,
        metadata=number(
            -1.0,
            1.0,
            "",
            "-1 on display, hands left little; 1 played with, apart and together again: hands got to all sides of it",
        ),
    )
    dusted: float = field(
        default=0.0,
        metadata=number(
            0.0,
            1.0,
            "",
            "When it was dusted last: 0 long ago, dust lies wherever it falls, 1 just now, where no cloth gets alone",
        ),
    )


def stood(bricks: Bricks, story: Story, window_deg: float | None, wall_deg: float | None) -> Placement:
    """Where hands, dust and light have got to on bricks that stand where they do, by a window, to a wall, with that
    story. Angles: from the build's own x axis anticlockwise, seen from above."""
    return walled(lived(placed(bricks, window_deg), story), bricks.turn, wall_deg)


def lived(placement: Placement, story: Story) -> Placement:
    """Where hands and dust have got to once a build has that story; without one the same to the last bit."""
    played, shown = max(story.played, 0.0), max(-story.played, 0.0)
    apart = placement.reach + played * (1.0 - placement.reach)
    held = 1.0 - abs(story.grip) * (1.0 - _near(placement.height, story.grip))
    return replace(
        placement,
        reach=apart * held * (1.0 - _KEPT * shown),
        sky=placement.sky * (1.0 - _CLOTH * story.dusted * placement.reach),
    )


def _near(height: np.ndarray, grip: float) -> np.ndarray:
    """How much of a grip at the top, or at the base, is at some shares of the height."""
    low, high = _GRIPPED
    way = np.clip(((height if grip > 0.0 else 1.0 - height) - low) / (high - low), 0.0, 1.0)
    return way * way * (3.0 - 2.0 * way)
