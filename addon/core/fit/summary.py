"""Turns arrays into what is told: counts, medians and the largest of each measure."""

from typing import Protocol

import numpy as np

from .. import rigid, units
from ..build import identity
from ..build.bricks import Bricks
from ..build.cuts import misfits, standing_open
from ..build.lattice import Lattice
from ..build.openings import CUT_MM
from ..build.touching import JOINT, LODGED, REST, SIDE, Contacts
from ..presets.preset import Preset
from ..report import Applied, Check, Inspection, Skipped, TextureUse
from . import play
from .fit import Fitted
from .limits import reachable
from .motions import Motions
from .overlap import largest_interference

_STILL = 1e-4  # mm or radians: below this a brick counts as not moved, float32 being what it is
_NAMED = 5  # of a list of bricks; the rest are counted
_SEEN_DEG = 1.0  # a brick turned this far is seen to be
_TOP_MM = 20.0  # of a build that its lean is measured at
TIGHT = 0.95  # of the play: studs that use more of it have none left


class Dialled(Protocol):
    """How a preset was dialled."""

    @property
    def seed(self) -> int: ...
    @property
    def looseness(self) -> float: ...
    @property
    def wear(self) -> float: ...
    @property
    def quality(self) -> str: ...
    @property
    def rounding(self) -> str: ...


class Look(Dialled, Protocol):
    """A preset, and how it was dialled."""

    @property
    def preset(self) -> Preset: ...


def inspection(
    build: str,
    bricks: Bricks,
    contacts: Contacts,
    lattice: Lattice,
    materials: int,
    applied: str,
    left_out: tuple[Skipped, ...],
    colours: int = 0,
    told: tuple[str, ...] = (),
    by_hand: str = "",
) -> Inspection:
    """What a build at rest is; `told` are sentences about it that others found."""
    loose = [bricks.names[n] for n in np.flatnonzero(loose_bricks(bricks, contacts))]
    copies, (cuts, told_misfits) = identity.duplicates(bricks.key), _misfits(bricks, contacts)
    warnings = [*lattice.warnings, *told]
    if loose:
        warnings.append(f"{len(loose)} held by no stud and not on the ground: {_listed(loose)}.")
    if copies:
        warnings.append(f"{copies} exactly where an equal brick stands: the export may hold them twice.")
    warnings += told_misfits
    return Inspection(
        build=build,
        bricks=len(bricks),
        parts=len(bricks.parts),
        joints=len(contacts.joints),
        contacts=len(contacts.of_kind(JOINT, REST, SIDE, LODGED)),
        duplicates=copies,
        loose=len(loose),
        cuts=cuts,
        materials=materials,
        mm_per_unit=lattice.mm_per_unit,
        up_axis=("-" if lattice.sign < 0 else "") + "XYZ"[lattice.up],
        size_mm=_size(bricks),
        applied=applied,
        warnings=tuple(warnings),
        left_out=left_out,
        colours=colours,
        by_hand=by_hand,
    )


def no_build(build: str, left_out: tuple[Skipped, ...], sentence: str) -> Inspection:
    """What is told of a collection that holds no brick."""
    said = f"{sentence[:1].upper()}{sentence[1:]}."
    return Inspection(build, 0, 0, 0, 0, 0, 0, 0, 0, 0.0, "Z", (0.0, 0.0, 0.0), "", (said,), left_out=left_out)


def _size(bricks: Bricks) -> tuple[float, float, float]:
    low, high = np.full(3, np.inf), np.full(3, -np.inf)
    for number, part in enumerate(bricks.parts):
        of_part = bricks.part == number
        middle = 0.5 * (part.vertices.min(axis=0) + part.vertices.max(axis=0))
        half = 0.5 * (part.vertices.max(axis=0) - part.vertices.min(axis=0))
        centre = bricks.origin[of_part] + rigid.turned(bricks.turn[of_part], middle)
        reach = rigid.turned(np.abs(bricks.turn[of_part]), half)
        low, high = np.minimum(low, (centre - reach).min(axis=0)), np.maximum(high, (centre + reach).max(axis=0))
    x, y, z = np.round(high - low, 3).tolist()
    return x, y, z


def _misfits(bricks: Bricks, contacts: Contacts) -> tuple[int, list[str]]:
    """How many pairs of bricks cut into each other in the export, and what is told of all that does not fit there."""
    (pairs, depth), open_ = misfits(bricks), standing_open(bricks, contacts)
    cut, told = depth > CUT_MM, []
    if cut.any():
        told.append(f"{cut.sum()} cut into another brick in the export itself: {_paired(bricks, pairs[cut])}.")
    if (little := ~cut).any():
        told.append(
            f"{little.sum()} reach up to {depth[little].max():.3f} mm into another brick in the export itself: "
            f"{_paired(bricks, pairs[little])}."
        )
    if open_.any():
        ends = np.stack([contacts.a[open_], contacts.b[open_]], axis=1)
        told.append(
            f"{open_.sum()} {'joint stands' if len(ends) == 1 else 'joints stand'} open by up to "
            f"{contacts.gap[open_].max():.3f} mm in the export itself: "
            f"{_paired(bricks, ends)}."
        )
    return int(cut.sum()), told


def _paired(bricks: Bricks, pairs: np.ndarray) -> str:
    return _listed([f"{bricks.names[a]} and {bricks.names[b]}" for a, b in pairs.tolist()])


def _listed(names: list[str]) -> str:
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return ", ".join(names[:_NAMED]) + more


def loose_bricks(bricks: Bricks, contacts: Contacts) -> np.ndarray:
    """Which bricks (N,) neither a stud holds nor the lowest level carries."""
    held = bricks.low[:, 2] < bricks.low[:, 2].min() + 0.5
    held[contacts.joints.ravel()] = True
    return ~held


def tight(fitted: Fitted, play_mm: float) -> float:
    """Share of the joints whose studs have moved as far in their sockets as they can."""
    steps = fitted.steps[fitted.contacts.held]
    if not len(steps):
        return 0.0
    return float((steps > TIGHT * reachable(play_mm)).mean())


def applied(
    build: str,
    preset: Preset,
    dials: Dialled,
    bricks: Bricks,
    fitted: Fitted,
    held: np.ndarray,
    materials: int,
    skipped: tuple[Skipped, ...],
    textures: tuple[TextureUse, ...] = (),
) -> Applied:
    """What applying a preset did; `held` (N,) are bricks that could not be moved."""
    free = np.flatnonzero(~held)
    motions = fitted.motions
    shift, lift, twist, tilt = measures(motions, free)
    return Applied(
        build=build,
        preset=preset.name,
        seed=dials.seed,
        looseness=dials.looseness,
        wear=dials.wear,
        quality=dials.quality,
        rounding=dials.rounding,
        bricks=len(bricks),
        moved=int(_has_moved(motions, free).sum()),
        median_shift_mm=float(np.median(shift)) if len(free) else 0.0,
        largest_shift_mm=_largest(shift),
        largest_lift_mm=_largest(lift),
        largest_twist_deg=units.degrees(_largest(twist)),
        largest_tilt_deg=units.degrees(_largest(tilt)),
        turned=int((twist > units.radians(_SEEN_DEG)).sum()),
        lean_mm=lean(bricks, motions),
        calmed=int((fitted.share < 1.0).sum()),
        least_share=float(fitted.share.min(initial=1.0)),
        cut=fitted.cut,
        tight=tight(fitted, preset.fit.play_mm),
        materials=materials,
        skipped=skipped,
        textures=textures,
        spent=fitted.spent,
        held_back=fitted.held_back,
        as_one=fitted.as_one,
        heaped=fitted.heaped,
    )


def check(
    build: str,
    bricks: Bricks,
    contacts: Contacts,
    motions: Motions,
    look: Look | None,
    fixed: dict[int, str],
    missing_textures: tuple[str, ...] = (),
) -> Check:
    """The measured state of a fit, and the wear's pictures that are gone."""
    everything = np.arange(len(bricks))
    shift, lift, twist, tilt = measures(motions, everything)
    return Check(
        build=build,
        bricks=len(bricks),
        moved=int(_has_moved(motions, everything).sum()),
        preset=look.preset.name if look else "",
        seed=look.seed if look else 0,
        looseness=look.looseness if look else 0.0,
        max_shift_mm=_largest(shift),
        max_lift_mm=_largest(lift),
        max_twist_deg=units.degrees(_largest(twist)),
        max_tilt_deg=units.degrees(_largest(tilt)),
        max_play_mm=_largest(play.steps(bricks, contacts, np.flatnonzero(contacts.held), motions)),
        max_interference_mm=largest_interference(bricks, contacts, motions),
        skipped=tuple(Skipped(bricks.names[n], reason) for n, reason in sorted(fixed.items())),
        missing_textures=missing_textures,
        misfits=tuple(_misfits(bricks, contacts)[1]),
    )


def measures(motions: Motions, rows: np.ndarray):
    """Sideways way, lift, twist and tilt of some bricks, as absolute values in mm and radians."""
    shift, turn = motions.shift[rows], motions.turn[rows]
    return np.hypot(shift[:, 0], shift[:, 1]), shift[:, 2], np.abs(turn[:, 2]), np.hypot(turn[:, 0], turn[:, 1])


def _has_moved(motions: Motions, rows: np.ndarray) -> np.ndarray:
    return (np.abs(np.concatenate([motions.shift, motions.turn], axis=1)[rows]) > _STILL).any(axis=1)


def _largest(values: np.ndarray) -> float:
    return float(np.abs(values).max(initial=0.0))


def lean(bricks: Bricks, motions: Motions) -> float:
    """How far (mm) the top of a build has gone sideways, as the mean of its topmost bricks."""
    top = bricks.high[:, 2] > bricks.high[:, 2].max() - _TOP_MM
    x, y = motions.shift[top, :2].mean(axis=0)
    return float(np.hypot(x, y))
