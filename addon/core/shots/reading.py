"""What the fit and the wear of a build read as through a lens: pixels, over the bricks that are seen."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np

from .. import rigid
from ..build.bricks import Bricks
from ..fit.motions import Motions
from .lens import Lens

ACROSS = 128  # samples on the frame's long side
OFF_STUD_PX = 3.0  # a brick that moves so far in the picture is seen to sit off its stud
NAMED = 5

_CORNERS = np.array(list(product((-1.0, 1.0), repeat=3)))


@dataclass(frozen=True)
class Marks:
    """A texture at its real size."""

    mark_mm: float  # mean width of its strong marks
    texels_per_mm: float


@dataclass(frozen=True)
class Reading:
    """One frame of a shot. Pixels are medians over the bricks seen where nothing else is said."""

    frame: int
    in_frame: float  # share of all bricks whose middle lies within the frame, covered or not
    seen: int  # bricks that at least one sample meets
    samples: int  # rays cast
    median_px: float  # motion: how far the corner of a brick that moves most goes in the picture
    p90_px: float
    largest_px: float
    px_per_mm: float
    rounding_px: float  # the edge radius
    marks_px: dict[str, float]  # by texture: how wide its strong marks are
    texels_per_px: dict[str, float]  # below 1 the texture is coarser than the picture
    blur_px: float | None  # out of focus; None where all is sharp
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class View:
    """One frame's lens, and which bricks it meets; where the fit has put them matters to neither."""

    frame: int
    lens: Lens
    seen: np.ndarray  # (S,) bricks
    samples: int


def in_frame(bricks: Bricks, lens: Lens) -> float:
    """Share of the bricks whose middles lie within the frame, covered or not."""
    return float(lens.inside(*lens.project(bricks.centre)).mean())


def motions_px(bricks: Bricks, motions: Motions, view: View) -> np.ndarray:
    """How far (S,) each brick seen goes in the picture, by the corner of its body that goes farthest.

    Rest and moved corners are shrunk alike: the gap that the mould leaves is no motion. NaN behind the lens.
    """
    chosen = view.seen
    arm = _CORNERS * (bricks.half_in_part * motions.shrink)[chosen][:, None, :]
    rest = rigid.turned(bricks.turn[chosen][:, None], arm)
    turned = rigid.turned(motions.rotation[chosen][:, None], rest)
    middle = bricks.centre[chosen][:, None, :]
    before, _ = view.lens.project(middle + rest)
    after, _ = view.lens.project(middle + turned + motions.shift[chosen][:, None, :])
    way = np.hypot(*np.moveaxis(after - before, -1, 0))
    return np.where(np.isnan(way), -np.inf, way).max(axis=1, initial=0.0)


def reading(
    bricks: Bricks, motions: Motions, view: View, rounding_mm: float, marks: Mapping[str, Marks], most_px: float
) -> Reading:
    """Everything that is told of one frame; `most_px` is where a motion draws a warning."""
    way = motions_px(bricks, motions, view)
    _, depth = view.lens.project(bricks.centre[view.seen])
    depth = depth[depth > 0.0]
    middle = np.array([np.median(depth)]) if len(depth) else np.zeros(0)
    scale = float(view.lens.px_per_mm(middle)[0]) if len(depth) else 0.0
    blur = view.lens.blur_px(middle) if len(depth) else None
    return Reading(
        frame=view.frame,
        in_frame=in_frame(bricks, view.lens),
        seen=len(view.seen),
        samples=view.samples,
        median_px=_share(way, 50.0),
        p90_px=_share(way, 90.0),
        largest_px=float(way.max(initial=0.0)),
        px_per_mm=scale,
        rounding_px=rounding_mm * scale,
        marks_px={kind: each.mark_mm * scale for kind, each in marks.items()},
        texels_per_px={kind: each.texels_per_mm / scale for kind, each in marks.items()} if scale else {},
        blur_px=None if blur is None else float(blur[0]),
        warnings=_warnings(bricks, view, way, most_px),
    )


def _share(values: np.ndarray, percent: float) -> float:
    return float(np.percentile(values, percent)) if len(values) else 0.0


def _warnings(bricks: Bricks, view: View, way: np.ndarray, most_px: float) -> tuple[str, ...]:
    if not len(view.seen):
        return (
            f"Frame {view.frame} shows no brick: point the camera at the build, let it clip less, "
            "or look at another frame.",
        )
    far = np.flatnonzero(way > most_px)
    if not len(far):
        return ()
    far = far[np.argsort(-way[far], kind="stable")]
    names = ", ".join(bricks.names[view.seen[n]] for n in far[:NAMED])
    more = f" and {len(far) - NAMED} more" if len(far) > NAMED else ""
    return (
        f"Frame {view.frame}: {len(far)} seen to sit off their studs, by more than {most_px:g} px: {names}{more}. "
        "Give the shot less looseness, or pin them.",
    )
