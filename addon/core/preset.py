"""A preset: a named set of fit and wear values, kept as JSON."""

from dataclasses import dataclass

FORMAT = 1


@dataclass(frozen=True)
class Fit:
    """How far a brick may sit from where the export put it; a looseness of 1 uses these limits as they are."""

    shift_mm: float  # sideways, along each of the build's two level axes
    lift_mm: float  # up off the seat, never down into it
    twist_deg: float  # about the upright axis; long bricks turn less, their studs hold them
    tilt_deg: float  # tipping about each level axis; long bricks tip less, the lift under their ends is the same
    clearance_mm: float  # gap left by the mould on each side face, added only where the export has none
    play_mm: float  # how far a stud can move in its socket


@dataclass(frozen=True)
class Scratches:
    amount: float  # 0 clean .. 1 covered
    size_mm: float  # real width of one repeat of the texture
    depth_um: float  # groove depth where the texture is darkest


@dataclass(frozen=True)
class Smudges:
    amount: float  # 0 clean .. 1 covered
    size_mm: float  # real width of one repeat of the texture


@dataclass(frozen=True)
class Wear:
    rounding_mm: float  # moulded edge radius
    scratches: Scratches
    smudges: Smudges


@dataclass(frozen=True)
class Preset:
    name: str
    note: str
    fit: Fit
    wear: Wear
