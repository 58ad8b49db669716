"""The picture of a build from two opposite corners as SVG, each side of each brick in the colour of what it has.

bricks ─▶ faces, the far ones first, each in the colour of its side ─▶ legend with numbers
"""

import numpy as np

from .. import rigid
from ..build.bricks import Bricks, Pieces
from . import ramp
from .overlay import Overlay
from .picture import faces, far_first
from .sheet import INK, MARGIN, Sheet, View, outline, safe

_BAR = (420.0, 18.0)  # of the legend
_PIECES = 64  # it is drawn in


def drawn(title: str, bricks: Bricks, overlay: Overlay) -> str:
    """The picture as the text of an SVG file; the overlay's rows are the bricks."""
    pieces = bricks.pieces()
    sheet = Sheet.of(pieces)
    colour = hexadecimal(ramp.colours(overlay.shares))
    sides = [_view(view, bricks, pieces, colour, sheet.scale, place) for view, place in sheet.views]
    style = f"<style>.brick path{{stroke:{INK};stroke-width:.55;stroke-linejoin:round}}</style>"
    lines = [*sides, _legend(overlay, sheet.legend(34.0))]
    return sheet.svg(title, overlay.heading, overlay.kind.meaning, style, lines)


def hexadecimal(colours: np.ndarray) -> np.ndarray:
    """sRGB (..., 3) from 0 to 1 as words (...)."""
    steps = np.rint(255.0 * colours).astype(int)
    return np.array([f"#{r:02x}{g:02x}{b:02x}" for r, g, b in steps.reshape(-1, 3)]).reshape(steps.shape[:-1])


def _view(view: View, bricks: Bricks, pieces: Pieces, colour: np.ndarray, scale: float, place: np.ndarray) -> str:
    """The build from one corner."""
    shown = [(_looks(view, pieces, corners), corners) for _, corners in faces(view, pieces)]
    on_paper = [(side, np.round(view.seen(corners) * scale + place, 1)) for side, corners in shown]
    lines = ["<g>"]
    for n in far_first(view, pieces):
        brick = pieces.brick[n]
        paths = "".join(f'<path fill="{colour[brick, side[n]]}" d="{outline(at[n])}"/>' for side, at in on_paper)
        lines.append(f'<g class="brick"><title>{safe(bricks.names[brick])}</title>{paths}</g>')
    return "\n".join([*lines, "</g>"])


def _looks(view: View, pieces: Pieces, corners: np.ndarray) -> np.ndarray:
    """Which side (P,) of its brick each face with these corners (P, 4, 3) is."""
    outward = rigid.turned(rigid.transpose(pieces.turn), corners.mean(axis=1) - pieces.centre) / pieces.half
    axis = np.abs(outward).argmax(axis=1)
    return 2 * axis + (outward[np.arange(len(axis)), axis] > 0.0)


def _legend(overlay: Overlay, y: float) -> str:
    width, height = _BAR
    shares = (np.arange(_PIECES) + 0.5) / _PIECES
    step = width / _PIECES
    size = f'y="{y:.0f}" width="{step + 0.5:.2f}" height="{height:.0f}"'
    bar = [
        f'<rect x="{MARGIN + n * step:.2f}" {size} fill="{colour}"/>'
        for n, colour in enumerate(hexadecimal(ramp.colours(shares)))
    ]
    ticks = [
        f'<text x="{MARGIN + share * width:.0f}" y="{y + height + 18:.0f}" font-size="15" text-anchor="middle">'
        f"{safe(words)}</text>"
        for share, words in overlay.ticks
    ]
    words = ". ".join(overlay.lines)
    return "\n".join(
        [
            f'<text x="{MARGIN:.0f}" y="{y - 8:.0f}" font-size="18">{safe(overlay.heading)}</text>',
            *bar,
            *ticks,
            f'<text x="{MARGIN + width + 40:.0f}" y="{y + height - 2:.0f}" font-size="18">{safe(words)}</text>',
        ]
    )
