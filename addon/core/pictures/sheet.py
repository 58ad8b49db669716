"""The sheet that pictures of a build are drawn on as SVG: from two opposite corners, under a title, above a legend."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product
from xml.sax.saxutils import escape

import numpy as np

from .. import rigid
from ..build.bricks import Pieces

VIEWS = ((1.0, -1.0), (-1.0, 1.0))  # from which corner of the build
INK, PAPER, QUIET = "#33383d", "#ffffff", "#8b9299"
WIDTH, MARGIN = 1600.0, 40.0
_HEAD, _FOOT = 74.0, 92.0
_TALLEST = 1150.0  # of the drawing itself


@dataclass(frozen=True)
class View:
    """Where things lie on the paper (mm, x to the right, y down) as seen from one corner, from above."""

    toward: np.ndarray  # (3,) unit, to the eye

    @classmethod
    def of(cls, corner: tuple[float, float]) -> "View":
        return cls(np.array([*corner, 1.0]) / np.sqrt(3.0))

    def seen(self, points: np.ndarray) -> np.ndarray:
        """Places (..., 2) of points (..., 3): an isometric drawing, lengths along the three axes alike."""
        right = np.array([-self.toward[1], self.toward[0], 0.0]) * np.sqrt(1.5)
        down = -np.cross(self.toward, right)
        return np.stack([points @ right, points @ down], axis=-1)


@dataclass(frozen=True)
class Sheet:
    """Where a build stands on it from each corner: a place (mm) lies at `scale` times where it is seen, and there."""

    scale: float
    height: float
    views: tuple[tuple[View, np.ndarray], ...]

    @classmethod
    def of(cls, pieces: Pieces) -> "Sheet":
        views = [View.of(corner) for corner in VIEWS]
        extents = [extent(view, pieces) for view in views]
        size = np.max([high - low for low, high in extents], axis=0)
        scale = min((WIDTH - 3 * MARGIN) / 2 / size[0], _TALLEST / size[1])
        foot = _HEAD + size[1] * scale
        middles = (WIDTH * (0.27 + 0.46 * number) for number in range(len(views)))
        places = [
            np.array([middle, foot]) - np.array([0.5 * (low[0] + high[0]), high[1]]) * scale
            for middle, (low, high) in zip(middles, extents, strict=True)
        ]
        return cls(scale, foot + _FOOT, tuple(zip(views, places, strict=True)))

    def legend(self, below: float) -> float:
        """The height of a line so far below the drawing."""
        return self.height - _FOOT + below

    def svg(self, title: str, words: str, aside: str, definitions: str, lines: Iterable[str]) -> str:
        """The text of the file: `words` follow its title, `aside` stands at the right of it."""
        return "\n".join(
            [
                f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {self.height:.0f}" '
                f'font-family="Helvetica, Arial, sans-serif" fill="{INK}">',
                f"<title>{safe(title)}: {safe(words)}</title>",
                definitions,
                f'<rect width="100%" height="100%" fill="{PAPER}"/>',
                f'<text x="{MARGIN:.0f}" y="48" font-size="26" font-weight="bold">{safe(title)}</text>',
                f'<text x="{WIDTH - MARGIN:.0f}" y="48" font-size="18" fill="{QUIET}" text-anchor="end">'
                f"{safe(aside)}</text>",
                *lines,
                "</svg>\n",
            ]
        )


def corners(pieces: Pieces, signs: np.ndarray) -> np.ndarray:
    """The corner (P, 3) of every box that lies that way (3,) or (P, 3) from its middle, each of -1 and 1."""
    return pieces.centre + rigid.turned(pieces.turn, pieces.half * signs)


def extent(view: View, pieces: Pieces) -> tuple[np.ndarray, np.ndarray]:
    """Low and high corner (2,) of all boxes on the paper, in mm."""
    seen = np.concatenate([view.seen(corners(pieces, np.array(signs))) for signs in product((-1, 1), repeat=3)])
    return seen.min(axis=0), seen.max(axis=0)


def outline(corners: np.ndarray) -> str:
    """A closed path through places (C, 2) of the paper."""
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in corners.tolist()) + "Z"


def safe(text: str) -> str:
    """Text that is safe in XML, which knows no control characters."""
    return escape("".join(letter if letter.isprintable() else "\ufffd" for letter in text))
