"""What a new version of a build changed: told brick by brick, counted, and drawn from two opposite corners as SVG."""

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from ..build.bricks import Bricks, Pieces
from ..report import Skipped
from .picture import faces, far_first
from .sheet import INK, MARGIN, Sheet, View, outline, safe

KEPT, MOVED, RECOLOURED, ADDED, REMOVED, YOURS = "kept", "moved", "recoloured", "added", "removed", "yours"
CHANGES = (KEPT, MOVED, RECOLOURED, ADDED, REMOVED, YOURS)

# Okabe, Ito: Color Universal Design, 2008: told apart with every kind of colour vision. What is gone is an outline.
COLOURS = {
    KEPT: "#e6e8ea", MOVED: "#56b4e9", RECOLOURED: "#e69f00", ADDED: "#009e73", REMOVED: "#d55e00", YOURS: "#cc79a7",
}  # fmt: skip
_SIDES = {"top": 0.0, "left": 0.1, "right": 0.2}  # how much darker


@dataclass(frozen=True)
class Difference:
    """The new version's bricks at rest, what became of each, and the old version's that are gone."""

    bricks: Bricks
    change: tuple[str, ...]  # (N,) one of CHANGES
    gone: Bricks


@dataclass(frozen=True)
class Updated:
    """What updating a build to a new version did."""

    build: str
    bricks: int  # of the new version
    kept: int  # as they stood, in place and colour
    moved: int
    recoloured: int
    added: int
    removed: int
    solved: int  # bricks within reach of a change
    resat: int  # of these, the ones that sit otherwise than before
    cut: int  # places beyond the limits all the same
    origin_mm: tuple[float, float, float]  # how far the export's origin lies from that of the version before
    turned_deg: int
    changes: tuple[Skipped, ...]  # what happened to which brick
    skipped: tuple[Skipped, ...]  # what could not follow the export, and why
    reach: int = 0  # contacts from a change within which bricks were solved
    shots: int = 0  # whose keys were set anew
    yours: int = 0  # bricks that no version brought: they stay

    @property
    def sentence(self) -> str:
        if self.kept == self.bricks and not self.removed:
            own = f", and so do {self.yours} of yours" if self.yours else ""
            return f"nothing has changed: all {self.bricks} bricks stand as they stood{own}"
        told = [f"{getattr(self, each)} {each}" for each in CHANGES if getattr(self, each)]
        return f"{', '.join(told)}; {self.resat} of {self.bricks} bricks sit otherwise than before"


def way(mm: np.ndarray) -> str:
    """A way (3,) in words."""
    return ", ".join(f"{value:g}" for value in np.round(mm, 2) + 0.0) + " mm"


def drawn(title: str, seen: Difference) -> str:
    """The picture of a difference as the text of an SVG file; equal differences give equal text."""
    pieces, change, names = _pieces(seen)
    sheet = Sheet.of(pieces)
    lines = []
    for view, place in sheet.views:
        lines += _view(view, pieces, change, names, sheet.scale, place)
    counts = Counter(change)
    lines += _legend(sheet.legend(52.0), counts)
    words = f"{len(seen.bricks)} bricks, {len(seen.bricks) - counts[KEPT] - counts[YOURS] + counts[REMOVED]} changes"
    return sheet.svg(title, words, words, f"<style>{_style()}</style>", lines)


def _pieces(seen: Difference) -> tuple[Pieces, list[str], list[str]]:
    """The boxes of all bricks, those that are gone last, and what became of each brick, and its name."""
    change, names = list(seen.change), list(seen.bricks.names)
    pieces = seen.bricks.pieces()
    if len(seen.gone):
        others = seen.gone.pieces()
        others = replace(others, brick=others.brick + len(names))
        pieces = Pieces.boxes(
            *(
                np.concatenate([getattr(pieces, each), getattr(others, each)])
                for each in ("brick", "centre", "half", "turn", "aligned")
            )
        )
        change += [REMOVED] * len(seen.gone)
        names += seen.gone.names
    return pieces, change, names


def _view(view: View, pieces: Pieces, change: list[str], names: list[str], scale: float, place: np.ndarray):
    """The lines of one view: far bricks first, and what is gone over all of them."""
    shapes = {side: np.round(view.seen(corners) * scale + place, 1) for side, corners in faces(view, pieces)}
    order = far_first(view, pieces)
    is_gone = [change[brick] == REMOVED for brick in pieces.brick.tolist()]
    yield "<g>"
    for n in [n for n in order if not is_gone[n]] + [n for n in order if is_gone[n]]:
        brick = pieces.brick[n]
        paths = "".join(f'<path class="{side}" d="{outline(corners[n])}"/>' for side, corners in shapes.items())
        yield f'<g class="{change[brick]}"><title>{safe(f"{names[brick]}: {change[brick]}")}</title>{paths}</g>'
    yield "</g>"


def _style() -> str:
    rules = [f"path{{stroke:{INK};stroke-width:.5;stroke-linejoin:round}}"]
    for change, colour in COLOURS.items():
        for side, darker in _SIDES.items():
            rgb = [round(int(colour[n : n + 2], 16) * (1.0 - darker)) for n in (1, 3, 5)]
            rules.append(f".{change} .{side}{{fill:rgb({rgb[0]},{rgb[1]},{rgb[2]})}}")
    gone = f"fill:none;stroke:{COLOURS[REMOVED]};stroke-width:1.6;stroke-dasharray:5 3"
    return "".join([*rules, f".{REMOVED} path.top,.{REMOVED} path.left,.{REMOVED} path.right{{{gone}}}"])


def _legend(y: float, counts: Counter):
    for number, change in enumerate(CHANGES):
        x = MARGIN + 220.0 * number
        box = f"M{x:.0f} {y - 15:.0f}h26v18h-26z"
        yield f'<g class="{change}"><path class="top" d="{box}"/></g>'
        yield f'<text x="{x + 36:.0f}" y="{y:.0f}" font-size="18">{change}: {counts[change]}</text>'
