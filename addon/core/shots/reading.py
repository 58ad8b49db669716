"""What the fit and the wear of a build read as through a lens: pixels, over the bricks that are seen."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .. import rigid
from ..build.bricks import Bricks
from ..fit.motions import Motions
from .lens import Lens

OFF_STUD_PX = 3.0  # a brick that moves so far in the picture is seen to sit off its stud
ENOUGH = 0.02  # share of the build's picture that bricks no sample meets may hold, untold
NAMED = 5


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
    missed: float  # share of the build's picture that other bricks hold, estimated
    median_px: float  # motion: how far the visible point of a brick that moves most goes in the picture
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
    """One frame's lens, and where its rays meet bricks; where the fit has put them matters to neither."""

    frame: int
    lens: Lens
    brick: np.ndarray  # (H,) that a ray meets
    place: np.ndarray  # (H, 3) where, in the build at rest
    samples: int

    @cached_property
    def seen(self) -> np.ndarray:
        """(S,) the bricks that are met, each once."""
        return np.flatnonzero(np.bincount(self.brick))

    @property
    def missed(self) -> float:
        """The share of the build's picture that bricks hold which no ray meets: about what those hold that one ray
        alone meets (Good 1953, with Turing)."""
        often = np.bincount(self.brick)
        return float((often == 1).sum()) / max(len(self.brick), 1)


def in_frame(bricks: Bricks, lens: Lens) -> float:
    """Share of the bricks whose middles lie within the frame, covered or not."""
    return float(lens.inside(*lens.project(bricks.centre)).mean())


def motions_px(bricks: Bricks, motions: Motions, view: View) -> np.ndarray:
    """How far (S,) each brick seen goes in the picture, by the point of it met by a ray that goes farthest."""
    turn, shift = motions.rotation, bricks.centre + motions.shift - rigid.turned(motions.rotation, bricks.centre)
    place = [view.place[:, k] for k in range(3)]
    rows = zip(rigid.columns(turn), rigid.across(shift), strict=True)
    after = np.stack([rigid.weighted(row[:, view.brick], place) + more[view.brick] for row, more in rows]).T
    way = np.hypot(*np.moveaxis(view.lens.project(after)[0] - view.lens.project(view.place)[0], -1, 0))
    most = np.zeros(len(bricks))
    np.maximum.at(most, view.brick, np.nan_to_num(way))
    return most[view.seen]


def reading(
    bricks: Bricks, way: np.ndarray, view: View, rounding_mm: float, marks: Mapping[str, Marks], most_px: float
) -> Reading:
    """Everything that is told of one frame; `way` is what `motions_px` gives, `most_px` where it draws a warning."""
    _, depth = view.lens.project(view.place)
    middle = np.array([np.median(depth)]) if len(depth) else np.zeros(0)
    scale = float(view.lens.px_per_mm(middle)[0]) if len(depth) else 0.0
    blur = view.lens.blur_px(middle) if len(depth) else None
    return Reading(
        frame=view.frame,
        in_frame=in_frame(bricks, view.lens),
        seen=len(view.seen),
        samples=view.samples,
        missed=view.missed,
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
    return (*_missed(view), *_off_studs(bricks, view, way, most_px))


def _missed(view: View) -> tuple[str, ...]:
    if view.missed <= ENOUGH:
        return ()
    return (
        f"Frame {view.frame}: about {view.missed:.0%} of the build's picture are bricks too small for the samples: "
        "these figures are of the others.",
    )


def _off_studs(bricks: Bricks, view: View, way: np.ndarray, most_px: float) -> tuple[str, ...]:
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
