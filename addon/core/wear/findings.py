"""All that is told of one of the user's pictures: what it measures, what it seems to be, what is wrong with it."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..units import UM_PER_MM
from . import marks as look
from .layers import PICTURES
from .purpose import BY_NAME, Chosen, kind_of
from .strength import LARGEST_GAIN, gain
from .texture import levels, seam

SEAM_SHOWS_ABOVE = 2.0  # seam of a picture whose edges an eye finds; 1 is seamless
FLAT_BELOW = 0.005  # of the full range, 0.1st to 99.9th percentile: about one step of 8 bits
COLOURED_ABOVE = 0.02  # deviation of a channel from what the greys tell of it
TINTED_ABOVE = 0.004  # mean difference between the channels: about one step of 8 bits
ALIGNED_ABOVE = 0.1  # below, marks run all ways and have no direction

_STEEPEST = 2.0  # that a channel goes with the greys in a tint: else it shows what these hardly do
_LOOKED_AT_PX = 2048  # marks are measured in a middle piece of at most this side


@dataclass(frozen=True)
class Aside:
    """What a picture holds beside the greys that are used."""

    coloured: float = 0.0  # deviation of the channel that the greys tell least of
    tinted: float = 0.0  # mean difference between the channels
    alpha: float = 0.0  # from the 0.1st to the 99.9th percentile of what is not opaque
    layer: str = ""  # which of several layers it is

    @classmethod
    def of(cls, grey: np.ndarray, colours: np.ndarray | None, alpha: np.ndarray | None, layer: str = "") -> "Aside":
        """Of greys and alpha (rows, columns) and colours (rows, columns, 3), None where there are none."""
        tinted = coloured = 0.0
        if colours is not None:
            few, greys = _thinned(colours).reshape(-1, 3).astype(float), _thinned(grey).ravel().astype(float)
            tinted = float(np.ptp(few, axis=1).mean())
            apart = greys - greys.mean()
            slopes = np.clip(apart @ few / max(float(apart @ apart), 1e-12), 0.0, _STEEPEST)
            coloured = float((few - apart[:, None] * slopes).std(axis=0).max())
        ends = np.percentile(_thinned(alpha), (0.1, 99.9)) if alpha is not None else (0.0, 0.0)
        return cls(coloured, tinted, float(ends[1] - ends[0]), layer)

    def warnings(self, flat: bool) -> list[str]:
        """What of it is worth a look, in a sentence each; `flat`: the greys hold nothing."""
        told = []
        if self.alpha > FLAT_BELOW:
            where = "Its marks lie" if flat else "There is more"
            told.append(f"{where} in its alpha channel, which is not used: save that as greys.")
        if self.coloured > COLOURED_ABOVE:
            told.append("It is in colour, of which only the brightness is used: save it in grey.")
        elif self.tinted > TINTED_ABOVE:
            told.append("It is tinted, of which only the brightness is used: no marks are lost by it.")
        if self.layer:
            told.append(f"It holds several layers: {self.layer}.")
        return told


@dataclass(frozen=True)
class Findings:
    """One picture of a textures folder. Lengths in mm hold at the real size that the preset gives to its kind."""

    file: str
    width_px: int
    height_px: int
    bits: int  # per channel: 8, 16 (integer) or 32 (floating point; half floats too)
    level_1: float  # grey that 1 % of the pixels lie below, 0 black to 1 white
    level_50: float
    level_99: float
    seam: float  # 1 tiles unseen, see texture.seam
    mark_px: float  # mean width of the strong marks
    mark_mm: float | None  # None where the name tells no kind, so no real size
    direction_deg: float | None  # which way marks run; None where they run all ways
    alignment: float  # 0 all ways alike, 1 all parallel
    gain: float  # by what its marks are multiplied to be as strong as any texture of the kind
    kind: str  # what it is used for, by hand or from its name: the layer, or other
    by_hand: bool  # whether it was chosen
    looks_like: str  # the same from its statistics
    warnings: tuple[str, ...]

    @property
    def is_read(self) -> bool:
        return self.bits > 0

    @property
    def sentence(self) -> str:
        """The measures in words."""
        purpose = f"by hand it is {self.kind}" if self.by_hand else f"its name tells of {self.kind}"
        if not self.is_read:
            return f"{purpose[0].upper()}{purpose[1:]}."
        marks = f"marks {self.mark_px:.1f} px wide" + ("" if self.mark_mm is None else f", {self.mark_mm:.3f} mm")
        way = "all ways" if self.direction_deg is None else f"at {self.direction_deg:.0f}°"
        return (
            f"{self.width_px} x {self.height_px} px, {self.bits} bits; levels {self.level_1:.2f}, {self.level_50:.2f}, "
            f"{self.level_99:.2f}; seam {self.seam:.2f}; {marks}, running {way}; strength times {self.gain:.2f}; "
            f"{purpose}, it looks like {self.looks_like}."
        )


FLAT = "It is flat: there are no marks in it."
UNREADABLE = "It cannot be read: it is broken, or no picture."


def unreadable(file: str, chosen: Chosen = BY_NAME, fault: str = "") -> Findings:
    """What is told of a file that no picture comes out of, with the fault where one is seen."""
    kind, why = kind_of(file, chosen) or look.OTHER, (f"It cannot be read: it {fault}." if fault else UNREADABLE,)
    by_hand = file in chosen
    return Findings(file, 0, 0, 0, 0.0, 0.0, 0.0, 0.0, 0.0, None, None, 0.0, 1.0, kind, by_hand, look.OTHER, why)


def findings(
    file: str,
    grey: np.ndarray,
    bits: int,
    aside: Aside,
    sizes_mm: Mapping[str, float],
    chosen: Chosen = BY_NAME,
) -> Findings:
    """Measures a picture.

    grey: (rows, columns), rows upwards. aside: what it holds beside these.
    sizes_mm: the real width of one repeat for each kind. chosen: what pictures are for by hand.
    """
    rows, columns = grey.shape
    kind = kind_of(file, chosen) or look.OTHER
    least, low, middle, high, most = np.percentile(_thinned(grey), (0.1, 1.0, 50.0, 99.0, 99.9)).tolist()
    flat = most - least < FLAT_BELOW
    marks = np.zeros_like(grey) if flat else levels(grey).marks(grey)
    piece = _middle(marks)
    width, run, made_by = look.width_px(piece), look.run(piece), looks_like(piece, kind)
    texel_mm = sizes_mm[kind] / columns if kind in sizes_mm else None
    join, by = seam(grey), gain(_thinned(marks), kind)
    warnings = [FLAT] if flat else [] if file in chosen else _disagreement(kind, made_by)
    if kind in PICTURES and PICTURES[kind].is_height and bits == 8:
        warnings.append("It is 8 bits deep, so shallow grooves come out in steps: save it with 16.")
    warnings += aside.warnings(flat)
    if join > SEAM_SHOWS_ABOVE:
        warnings.append(f"Its edges do not meet (seam {join:.1f}, unseen is 1), so the repeat will show.")
    if texel_mm and not flat and UM_PER_MM * texel_mm > PICTURES[kind].widest_texel_um:
        warnings.append(_too_coarse(kind, columns, texel_mm, width))
    if by >= LARGEST_GAIN:
        warnings.append("Its marks are so few or faint that the layer stays weaker than with other textures.")
    return Findings(
        file=file,
        width_px=columns,
        height_px=rows,
        bits=bits,
        level_1=low,
        level_50=middle,
        level_99=high,
        seam=join,
        mark_px=width,
        mark_mm=width * texel_mm if texel_mm else None,
        direction_deg=run.direction_deg if run.alignment > ALIGNED_ABOVE else None,
        alignment=run.alignment,
        gain=by,
        kind=kind,
        by_hand=file in chosen,
        looks_like=made_by,
        warnings=tuple(warnings),
    )


def looks_like(marks: np.ndarray, named: str = look.OTHER) -> str:
    """The kind of picture whose marks look like these: of several the one it is named for, else the first."""
    found = look.look(marks)
    alike = [kind for kind, each in PICTURES.items() if each.look == found]
    return named if named in alike else next(iter(alike), look.OTHER)


def _disagreement(kind: str, made_by: str) -> list[str]:
    if kind == made_by:
        return []
    if kind == look.OTHER:
        return [
            f"Its name does not tell what it is for; it looks like {made_by}: name or choose it so to have it used."
        ]
    if made_by == look.OTHER:
        return [f"Its name tells of {kind}, it looks like something else: look at it."]
    return [f"Its name tells of {kind}, it looks like {made_by}: look at it, or name it so."]


def _too_coarse(kind: str, columns: int, texel_mm: float, width_px: float) -> str:
    fitting = columns * PICTURES[kind].widest_texel_um / UM_PER_MM
    return (
        f"It is too coarse for {columns * texel_mm:g} mm: a texel is {UM_PER_MM * texel_mm:.0f} µm and its marks come "
        f"out {width_px * texel_mm:.2f} mm wide; give it a size of at most {fitting:.0f} mm, or more pixels."
    )


def _thinned(values: np.ndarray) -> np.ndarray:
    """Every so many pixels, at most about 4 million: enough for shares."""
    step = max(1, round((values.size / 4_000_000) ** 0.5))
    return values[::step, ::step]


def _middle(marks: np.ndarray) -> np.ndarray:
    rows, columns = (max(0, (side - _LOOKED_AT_PX) // 2) for side in marks.shape)
    return marks[rows : rows + _LOOKED_AT_PX, columns : columns + _LOOKED_AT_PX]
