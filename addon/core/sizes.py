"""Sizes of the trade, and how far exports are off them, in millimetres: common practice, no published source."""

from dataclasses import dataclass
from typing import overload

import numpy as np


@dataclass(frozen=True)
class Span:
    """From the least to the most."""

    least: float
    most: float

    @overload
    def holds(self, size: float) -> bool: ...
    @overload
    def holds(self, size: np.ndarray) -> np.ndarray: ...
    def holds(self, size: float | np.ndarray) -> bool | np.ndarray:
        """Whether a size lies within, ends included; a number or an array."""
        return (self.least <= size) & (size <= self.most)


@dataclass(frozen=True)
class Sizes:
    """What a brick measures as a CAD program draws it, without clearance."""

    pitch: float = 8.0  # from stud to stud
    plate_height: float = 3.2
    brick_height: float = 9.6
    stud_diameter: float = 4.8
    stud_height: float = 1.7
    wall: float = 1.5
    roof: float = 1.2  # over the hollow
    tube_outside: float = 6.51  # diameter; it just touches the four studs around it
    tube_inside: float = 4.8
    post_diameter: float = 3.2
    slope_lip: float = 1.6  # height of a slope's lower edge
    longest_studs: int = 24  # of a part without studs
    widest: float = 512.0  # the largest baseplates in use are 48 studs wide

    @property
    def half_pitch(self) -> float:
        return 0.5 * self.pitch


@dataclass(frozen=True)
class Tolerances:
    """What is still taken for one of these sizes in what CAD programs export."""

    off_studs: Span = Span(-0.05, 0.45)  # what a body lacks of whole pitches: both sides' clearance and noise
    off_plates: Span = Span(-0.1, 0.25)  # what it lacks of whole plates
    off_lattice: float = 0.15  # how far from its place on the lattice a brick sits
    stud_height: Span = Span(1.4, 2.05)
    marked_stud_height: Span = Span(1.4, 2.1)  # with room for a raised mark
    rooted_stud_height: float = 5.3  # at most, with a root inside the body
    stud_diameter: Span = Span(4.4, 5.2)
    stud_radius: Span = Span(1.7, 3.4)  # from a stud's axis to its sides, whatever its outline
    stud_top: float = 1.0  # from its axis its flat top reaches at least this far
    stud_inset: float = 1.0  # of its edge within the part's outline, at least; nominally 1.6
    stud_gap: float = 2.5  # between two side by side, at least; nominally 3.2
    next_stud: float = 5.0  # from its axis, at least; nominally 5.6
    stud_held: float = 2.0  # it is held where at least this much around its axis lies inside the shared face
    tube_diameter: float = 7.2  # tubes and posts under a brick stay below it
    plate_height: Span = Span(2.9, 3.5)  # less its clearance, and with what is printed on it
    thinnest: float = 0.5  # of a brick, whatever it is


TRADE, MET = Sizes(), Tolerances()  # nominal, and as met in exports
