"""The fit: how each brick sits a little off its place in the export, drawn from a seed inside real limits."""

from dataclasses import dataclass

import numpy as np

from . import draws, preset, rigid, units
from .bricks import PITCH, Bricks
from .contacts import Contacts

_SHIFT_X, _SHIFT_Y, _LIFT, _TWIST, _TILT_X, _TILT_Y = range(6)  # channels of the draws: never renumber
_SHIFT_SHARE = 0.6  # of the room beside a neighbour; the turn of the corners gets the rest


@dataclass(frozen=True)
class Motions:
    """Small rigid motions of N bricks about their bodies' centres, in the build's frame, and their shrinkage."""

    shift: np.ndarray  # (N, 3) mm: sideways, sideways, lift
    turn: np.ndarray  # (N, 3) rotation vectors in radians: tilt, tilt, twist
    shrink: np.ndarray  # (N, 3) factors along the part's own axes


@dataclass(frozen=True)
class Limits:
    """How far each of N bricks may move; mm and radians."""

    shift: np.ndarray
    lift: np.ndarray
    twist: np.ndarray
    tilt_x: np.ndarray
    tilt_y: np.ndarray


def motions(bricks: Bricks, contacts: Contacts, fit: preset.Fit, seed: int, looseness: float) -> Motions:
    """Each brick's motion, drawn from its own key: the same in any order and among any other bricks."""
    limits = limits_of(bricks, contacts, fit, looseness)

    def draw(channel: int) -> np.ndarray:
        return draws.clipped_normal(seed, bricks.key, channel)

    tilt_x, tilt_y = limits.tilt_x * draw(_TILT_X), limits.tilt_y * draw(_TILT_Y)
    rise = _rise(bricks, tilt_x, tilt_y)
    lift = rise + (limits.lift - rise) * np.abs(draw(_LIFT))
    return Motions(
        shift=np.stack([limits.shift * draw(_SHIFT_X), limits.shift * draw(_SHIFT_Y), lift], axis=1),
        turn=np.stack([tilt_x, tilt_y, limits.twist * draw(_TWIST)], axis=1),
        shrink=shrinkage(bricks, fit.clearance_mm),
    )


def limits_of(bricks: Bricks, contacts: Contacts, fit: preset.Fit, looseness: float) -> Limits:
    """The preset's limits narrowed by what holds each brick: its studs, its length, and its neighbours."""
    half = bricks.half
    room = _room(bricks, contacts, fit.clearance_mm)
    shift = np.minimum(fit.shift_mm * looseness, _SHIFT_SHARE * room)
    twist = np.minimum(units.radians(fit.twist_deg) * looseness, _over(fit.play_mm, _stud_span(half)))
    twist = np.minimum(twist, _over((1.0 - _SHIFT_SHARE) * room, np.maximum(half[:, 0], half[:, 1])))
    lift = np.full(len(bricks), fit.lift_mm * looseness)
    tilt = units.radians(fit.tilt_deg) * looseness
    return Limits(
        shift=shift,
        lift=lift,
        twist=twist,
        tilt_x=np.minimum(tilt, 0.5 * lift / half[:, 1]),
        tilt_y=np.minimum(tilt, 0.5 * lift / half[:, 0]),
    )


def shrinkage(bricks: Bricks, clearance_mm: float) -> np.ndarray:
    """Factors (N, 3) along the part's axes that leave `clearance_mm` on each side, where the export leaves less."""
    size = 2.0 * bricks.half_in_part
    missing = np.maximum(clearance_mm - _clearance_in_export(size), 0.0)
    level = np.abs(bricks.turn[:, 2, :]) < 0.7
    return np.where(level, (size - 2.0 * missing) / size, 1.0)


def _clearance_in_export(size: np.ndarray) -> np.ndarray:
    """What the export leaves on each side of a body of this size: the rest to a whole number of half pitches."""
    half_pitch = 0.5 * PITCH
    return 0.5 * (np.ceil(size / half_pitch - 1e-4) * half_pitch - size)


def _room(bricks: Bricks, contacts: Contacts, clearance_mm: float) -> np.ndarray:
    """How far each brick may go sideways before it meets a neighbour that comes as far; endless where it has none."""
    room = np.full(len(bricks), np.inf)
    room[contacts.sides.ravel()] = clearance_mm
    return room


def _stud_span(half: np.ndarray) -> np.ndarray:
    """Distance from a brick's centre to its farthest stud; 0 for a one-stud brick, which turns freely."""
    x, y = (np.maximum(half[:, axis] - 0.5 * PITCH, 0.0) for axis in (0, 1))
    span = np.sqrt(x * x + y * y)
    return np.where(span < 0.25 * PITCH, 0.0, span)


def _over(distance, radius: np.ndarray) -> np.ndarray:
    """The angle that moves a point at `radius` by `distance`; endless at radius 0."""
    with np.errstate(divide="ignore"):
        return distance / radius


def _rise(bricks: Bricks, tilt_x: np.ndarray, tilt_y: np.ndarray) -> np.ndarray:
    """How far a tipped brick's centre must rise so that its lowest corner stays on the seat."""
    half = bricks.half
    return half[:, 1] * np.abs(tilt_x) + half[:, 0] * np.abs(tilt_y)


def moved(bricks: Bricks, motions: Motions) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The bodies after their motions: centres (N, 3), axes (N, 3, 3) and half sizes (N, 3)."""
    axes = rigid.product(rigid.rotation(motions.turn), bricks.turn)
    return bricks.centre + motions.shift, axes, bricks.half_in_part * motions.shrink
