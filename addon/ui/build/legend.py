"""The legend beside an overlay: its colours with numbers, in the lower middle of a 3D view."""

from itertools import pairwise

import blf
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader

from ...core.pictures import ramp
from ...core.pictures.overlay import Overlay
from ..context import Context

_FONT = 0  # Blender's own
_WIDTH, _BAR, _TEXT, _LINE, _MARGIN, _ABOVE = 380, 14, 12, 18, 12, 28  # in pixels of an interface drawn at 1
_PIECES = 64  # that the bar is drawn in
_BACK, _INK, _TICK = (0.08, 0.08, 0.08, 0.8), (0.95, 0.95, 0.95, 1.0), 5


def draw(context: Context, overlay: Overlay, brick: str) -> None:
    """Draws it; `brick` are the numbers of the active one, "" for none."""
    told = [*overlay.lines, *filter(None, [brick])]
    box = _Box(context, len(told) + 3.5, [overlay.heading, *told])
    box.write(overlay.heading, 1)
    bottom = box.at(2)
    shares = np.linspace(0.0, 1.0, _PIECES + 1)
    colours = ramp.colours(0.5 * (shares[1:] + shares[:-1]))
    for (left, right), colour in zip(pairwise(shares.tolist()), colours.tolist(), strict=True):
        box.fill(box.along(left), bottom, box.along(right), bottom + _BAR * box.size, (*colour, 1.0))
    for share, words in overlay.ticks:
        x = box.along(share)
        box.fill(x - 0.5 * box.size, bottom - _TICK * box.size, x + 0.5 * box.size, bottom, _INK)
        box.centre(words, x, box.at(3) - _TICK * box.size)
    for n, words in enumerate(told):
        box.write(words, n + 4.5)


def say(context: Context, words: str) -> None:
    """Draws a sentence in the legend's place."""
    _Box(context, 1, [words]).write(words, 1)


class _Box:
    """A dark box of so many lines, wide enough for some words."""

    def __init__(self, context: Context, lines: float, words: list[str]):
        assert context.region is not None
        assert context.area is not None
        self.size = context.preferences.system.ui_scale
        blf.size(_FONT, _TEXT * self.size)
        beside = [each for each in context.area.regions if each.type == "UI" and each.alignment == "RIGHT"]
        free = context.region.width - sum(each.width for each in beside if each.width > 1)
        inner = max([_WIDTH * self.size, *(blf.dimensions(_FONT, each)[0] for each in words)])
        self._wide, self._left = inner, 0.5 * (free - inner)
        margin, bottom = _MARGIN * self.size, _ABOVE * self.size
        self._top = bottom + margin + (lines + 0.5) * _LINE * self.size
        self.fill(self._left - margin, bottom, self._left + inner + margin, self._top + margin, _BACK)

    def at(self, line: float) -> float:
        """Where a line stands, counted from 1."""
        return self._top - line * _LINE * self.size

    def along(self, share: float) -> float:
        return self._left + share * self._wide

    def write(self, words: str, line: float) -> None:
        self._put(words, self._left, self.at(line))

    def centre(self, words: str, x: float, y: float) -> None:
        self._put(words, x - 0.5 * blf.dimensions(_FONT, words)[0], y)

    def fill(self, left: float, low: float, right: float, high: float, colour: tuple[float, ...]) -> None:
        shader = gpu.shader.from_builtin("UNIFORM_COLOR")
        corners = ((left, low), (right, low), (left, high), (right, high))
        batch = batch_for_shader(shader, "TRI_STRIP", {"pos": corners})
        gpu.state.blend_set("ALPHA")
        shader.uniform_float("color", colour)
        batch.draw(shader)
        gpu.state.blend_set("NONE")

    def _put(self, words: str, x: float, y: float) -> None:
        blf.color(_FONT, *_INK)
        blf.position(_FONT, x, y, 0.0)
        blf.draw(_FONT, words)
