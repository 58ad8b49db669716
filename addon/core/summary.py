"""Turns arrays into what is told: counts, medians and the largest of each measure."""

import numpy as np

from . import identity, interference, rigid, units
from .bricks import PITCH, Bricks
from .contacts import Contacts, near_pairs
from .fit import Motions, moved
from .lattice import Lattice
from .report import Applied, Check, Inspection, Skipped

_STILL = 1e-4  # mm or radians: below this a brick counts as not moved, float32 being what it is
_NAMED_STRANGERS = 5


def inspection(
    build: str,
    bricks: Bricks,
    contacts: Contacts,
    lattice: Lattice,
    materials: int,
    applied: str,
    strangers: tuple[Skipped, ...],
) -> Inspection:
    """What a build at rest is."""
    loose = loose_bricks(bricks, contacts)
    copies = identity.duplicates(bricks.key)
    warnings = list(lattice.warnings)
    if loose:
        warnings.append(f"{loose} bricks are held by no stud and do not stand on the ground.")
    if copies:
        warnings.append(f"{copies} bricks stand exactly where an equal one stands: the export may hold them twice.")
    if strangers:
        names = ", ".join(stranger.object for stranger in strangers[:_NAMED_STRANGERS])
        more = f" and {len(strangers) - _NAMED_STRANGERS} more" if len(strangers) > _NAMED_STRANGERS else ""
        warnings.append(f"Left out, flat or over a metre long: {names}{more}.")
    return Inspection(
        build=build,
        bricks=len(bricks),
        parts=len(bricks.parts),
        joints=len(contacts.joints),
        contacts=len(contacts.seats) + len(contacts.sides),
        duplicates=copies,
        loose=loose,
        materials=materials,
        mm_per_unit=lattice.mm_per_unit,
        up_axis=("-" if lattice.sign < 0 else "") + "XYZ"[lattice.up],
        size_mm=_size(bricks),
        applied=applied,
        warnings=tuple(warnings),
    )


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


def loose_bricks(bricks: Bricks, contacts: Contacts) -> int:
    """How many bricks neither a stud holds nor the lowest level carries."""
    held = bricks.low[:, 2] < bricks.low[:, 2].min() + 0.5
    held[contacts.joints.ravel()] = True
    return int((~held).sum())


def applied(build, preset, dials, bricks, motions: Motions, fixed, materials: int, skipped) -> Applied:
    """What applying a preset did."""
    free = np.setdiff1d(np.arange(len(bricks)), list(fixed), assume_unique=True)
    shift, lift, twist, tilt = _measures(motions, free)
    return Applied(
        build=build,
        preset=preset.name,
        seed=dials.seed,
        looseness=dials.looseness,
        wear=dials.wear,
        bricks=len(bricks),
        moved=int(_has_moved(motions, free).sum()),
        median_shift_mm=float(np.median(shift)) if len(free) else 0.0,
        largest_shift_mm=_largest(shift),
        largest_lift_mm=_largest(lift),
        largest_twist_deg=units.degrees(_largest(twist)),
        largest_tilt_deg=units.degrees(_largest(tilt)),
        materials=materials,
        skipped=tuple(skipped),
    )


def check(build: str, bricks: Bricks, contacts: Contacts, motions: Motions, state, fixed: dict[int, str]) -> Check:
    """The measured state of a fit."""
    everything = np.arange(len(bricks))
    shift, lift, twist, tilt = _measures(motions, everything)
    return Check(
        build=build,
        bricks=len(bricks),
        moved=int(_has_moved(motions, everything).sum()),
        preset=state.preset.name if state else "",
        seed=state.seed if state else 0,
        looseness=state.looseness if state else 0.0,
        max_shift_mm=_largest(shift),
        max_lift_mm=_largest(lift),
        max_twist_deg=units.degrees(_largest(twist)),
        max_tilt_deg=units.degrees(_largest(tilt)),
        max_play_mm=largest_play(bricks, contacts, motions),
        max_interference_mm=largest_interference(bricks, motions),
        skipped=tuple(Skipped(bricks.names[n], reason) for n, reason in sorted(fixed.items())),
    )


def _measures(motions: Motions, rows: np.ndarray):
    """Sideways way, lift, twist and tilt of some bricks, as absolute values in mm and radians."""
    shift, turn = motions.shift[rows], motions.turn[rows]
    return np.hypot(shift[:, 0], shift[:, 1]), shift[:, 2], np.abs(turn[:, 2]), np.hypot(turn[:, 0], turn[:, 1])


def _has_moved(motions: Motions, rows: np.ndarray) -> np.ndarray:
    return (np.abs(np.concatenate([motions.shift, motions.turn], axis=1)[rows]) > _STILL).any(axis=1)


def _largest(values: np.ndarray) -> float:
    return float(np.abs(values).max(initial=0.0))


def largest_play(bricks: Bricks, contacts: Contacts, motions: Motions) -> float:
    """Largest sideways step (mm) between the two bricks of a joint, over the corners of the face that they share."""
    lower, upper = contacts.joints.T
    if not len(lower):
        return 0.0
    low = np.maximum(bricks.low[lower], bricks.low[upper])[:, :2] + 0.5 * PITCH
    high = np.minimum(bricks.high[lower], bricks.high[upper])[:, :2] - 0.5 * PITCH
    low, high = np.minimum(low, high), np.maximum(low, high)
    seat = bricks.high[lower, 2]
    step = 0.0
    for x, y in ((low[:, 0], low[:, 1]), (low[:, 0], high[:, 1]), (high[:, 0], low[:, 1]), (high[:, 0], high[:, 1])):
        stud = np.stack([x, y, seat], axis=1)
        apart = _way(bricks, motions, upper, stud) - _way(bricks, motions, lower, stud)
        step = max(step, float(np.hypot(apart[:, 0], apart[:, 1]).max()))
    return step


def _way(bricks: Bricks, motions: Motions, rows: np.ndarray, point: np.ndarray) -> np.ndarray:
    """How far points fixed to bricks go."""
    arm = point - bricks.centre[rows]
    return motions.shift[rows] + rigid.turned(rigid.rotation(motions.turn[rows]), arm) - arm


def largest_interference(bricks: Bricks, motions: Motions) -> float:
    """Deepest cut (mm) of one moved body into another, less what the two overlap at rest."""
    pairs = near_pairs(bricks.low, bricks.high, 1.0)
    if not len(pairs):
        return 0.0
    at_rest = interference.penetration(bricks.centre, bricks.turn, bricks.half_in_part, pairs)
    after = interference.penetration(*moved(bricks, motions), pairs)
    return float(np.maximum(after - np.maximum(at_rest, 0.0), 0.0).max())
