"""The charts of a page, by matplotlib: the one part of the command line that needs it.

figure ─▶ matplotlib's SVG ─▶ without what a page has itself, colours by name, so that light and dark are the page's
"""

import io
from collections.abc import Sequence
from importlib.util import find_spec
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import numpy as np

from ..core.errors import FileProblem
from ..core.pictures.chart import STEPS
from ..core.pictures.spread import Spread

if TYPE_CHECKING:
    from matplotlib.axes import Axes

BINS = 36
_SVG, _LINK = "http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"
_WIDE, _TALL, _ROW = 4.4, 2.5, 0.36  # inches, of 72 units each
_LONGEST = 22  # letters of a shot's name
_FAR = 2.5  # a line this many times beyond all that there is would leave no room for it
# Stand-ins that a page replaces by its own colours.
_INK, _QUIET, _BAR, _MARK, _LIMIT = "#010101", "#020202", "#030303", "#040404", "#050505"
_NAMED = {_INK: "--ink", _QUIET: "--line", _BAR: "--bar", _MARK: "--mark", _LIMIT: "--limit"}
_STYLE = {
    "svg.fonttype": "none", "svg.hashsalt": "playworn", "font.size": 11.0, "axes.spines.top": False,
    "axes.spines.right": False, "axes.edgecolor": _INK, "axes.labelcolor": _INK, "text.color": _INK,
    "xtick.color": _INK, "ytick.color": _INK, "text.parse_math": False, "axes.grid": True, "grid.color": _QUIET,
    "axes.axisbelow": True, "figure.constrained_layout.use": True, "axes.unicode_minus": True,
}  # fmt: skip


def check() -> None:
    """FileProblem where there is nothing to draw them with."""
    if find_spec("matplotlib") is None:
        raise FileProblem(
            "a page is drawn with matplotlib, which this Python does not have: `pip install matplotlib` into it, or "
            "give the report a name that ends in .json"
        )


def spread(told: Spread) -> str:
    """How one measure is spread over its bricks, joints or seams, with its line and its median."""

    def draw(axes: "Axes") -> None:
        values, line = told.values, told.line
        low, high = min(float(values.min(initial=0.0)), 0.0), float(values.max(initial=0.0))
        is_far = line > _FAR * high > 0.0
        end = 1.06 * (high if is_far else max(high, line)) or 1.0
        shares = np.full(len(values), 100.0 / max(len(values), 1))
        axes.hist(values, np.linspace(low, end, BINS + 1).tolist(), weights=shares, color=_BAR)
        if len(values):
            axes.axvline(float(np.median(values)), color=_MARK, linestyle=(0, (4, 2)), linewidth=1.8)
        axes.axvline(end if is_far else line, color=_LIMIT, linewidth=2.2, linestyle=":" if is_far else "-")
        words = f"{told.line_is} {line:.2g}" + (" →" if is_far else "")
        at = end if is_far else line
        side = "right" if at > 0.75 * end else "left" if at < 0.25 * end else "center"
        axes.text(at, 1.03, words, transform=axes.get_xaxis_transform(), ha=side, va="bottom", color=_LIMIT)
        axes.set(xlim=(low, end), xlabel=f"{told.name}, {told.unit}", ylabel=f"% of {told.of}")
        axes.yaxis.set_major_formatter("{x:g}")
        axes.xaxis.set_major_formatter("{x:g}")
        axes.locator_params(axis="x", nbins=6)
        axes.grid(visible=False, axis="x")

    return _drawn(draw, _TALL, told.name.lower(), told.sentence)


def reads(shots: Sequence[tuple[str, np.ndarray]], warn_px: float) -> str:
    """What the motions read as in each shot (its name, px of the bricks seen), from the 5th to the 95th of a hundred,
    the middle half thick."""

    def draw(axes: "Axes") -> None:
        for n, (_, px) in enumerate(shots):
            if len(px):
                ends = np.maximum(np.percentile(px, (5, 25, 50, 75, 95)), 1e-3)
                axes.plot(ends[[0, 4]], [n, n], color=_BAR, linewidth=3)
                axes.plot(ends[[1, 3]], [n, n], color=_BAR, linewidth=10, solid_capstyle="butt")
                axes.plot(ends[2], n, color=_MARK, marker="D", markersize=6)
        axes.axvline(warn_px, color=_LIMIT, linewidth=2.2)
        axes.set(xscale="log", ylim=(len(shots) - 0.5, -0.5), xlabel="motion in the picture, px")
        axes.set_yticks(range(len(shots)), [_short(name) for name, _ in shots])
        low, high = axes.get_xlim()
        axes.set_xticks(STEPS, [f"{step:g}" for step in STEPS])
        axes.minorticks_off()
        axes.set_xlim(min(low, 0.5 * STEPS[2]), high)
        axes.grid(visible=False, axis="y")

    told = "; ".join(
        f"{name}: median {np.median(px):.2f} px, largest {px.max():.2f}" if len(px) else f"{name}: no brick seen"
        for name, px in shots
    )
    return _drawn(draw, 0.9 + _ROW * len(shots), "reads", f"What the motions read as in each shot. {told}")


def _short(name: str) -> str:
    return name if len(name) <= _LONGEST else name[: _LONGEST - 1] + "…"


def _drawn(draw, tall: float, name: str, alt: str) -> str:
    """What `draw` puts into axes, as SVG with an alternative in words."""
    from matplotlib import style  # local: no other command needs it
    from matplotlib.figure import Figure

    with style.context(["default", _STYLE]):
        figure = Figure((_WIDE, tall))
        draw(figure.add_subplot())
        file = io.BytesIO()
        figure.savefig(file, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    return _within_a_page(file.getvalue(), name, alt)


def _within_a_page(svg: bytes, name: str, alt: str) -> str:
    """An SVG without a size and a description of its own; its ids are no other chart's."""
    root = ElementTree.fromstring(svg)
    for part in root.findall(f"{{{_SVG}}}metadata"):
        root.remove(part)
    root.attrib = {"viewBox": root.attrib["viewBox"], "role": "img", "aria-label": alt}
    for element in root.iter():
        for key, value in list(element.attrib.items()):
            if key == "id":
                element.set(key, f"{name}-{value}")
            elif key == f"{{{_LINK}}}href":
                del element.attrib[key]
                element.set("href", f"#{name}-{value[1:]}")
            else:
                element.set(key, _named(value.replace("url(#", f"url(#{name}-")))
    ElementTree.register_namespace("", _SVG)
    return ElementTree.tostring(root, encoding="unicode")


def _named(value: str) -> str:
    for stand_in, variable in _NAMED.items():
        value = value.replace(stand_in, f"var({variable})")
    return value
