"""The brick table: the whole build as arrays, in the build's frame (millimetres, z up)."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .. import draws, rigid
from ..counts import within
from ..parts.hull import BOX, Hull
from ..parts.parts import Part
from ..remembered import digest


@dataclass(frozen=True)
class Pieces:
    """The boxes of all bricks' bodies in the build, and what fills them; P of them, brick by brick."""

    brick: np.ndarray  # (P,) whose
    centre: np.ndarray  # (P, 3)
    half: np.ndarray  # (P, 3) along the box's own axes
    turn: np.ndarray  # (P, 3, 3) its axes in columns
    aligned: np.ndarray  # (P,) whether these are the build's axes, in any order
    hull: np.ndarray  # (P,) the convex solid that fills it, an index into `hulls`; 0: the box itself
    hulls: tuple[Hull, ...] = (BOX,)  # as `Hull.within` tells them

    @classmethod
    def boxes(
        cls, brick: np.ndarray, centre: np.ndarray, half: np.ndarray, turn: np.ndarray, aligned: np.ndarray
    ) -> "Pieces":
        """Such as are full."""
        return cls(brick, centre, half, turn, aligned, np.zeros(len(brick), dtype=np.int64))

    def __len__(self) -> int:
        return len(self.brick)

    def only(self, chosen: np.ndarray) -> "Pieces":
        columns = (self.brick, self.centre, self.half, self.turn, self.aligned, self.hull)
        brick, centre, half, turn, aligned, hull = (each[chosen] for each in columns)
        return Pieces(brick, centre, half, turn, aligned, hull, self.hulls)

    def solids(self, piece: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Corners (K, V, 3), normals (K, F, 3) and edges (K, E, 3), these of any length, of what fills some of them
        (K,): all the same hull."""
        own, turn, half = self.hulls[self.hull[piece[0]]], self.turn[piece, None], self.half[piece, None]
        corners = rigid.turned(turn, own.corners * half) + self.centre[piece, None]
        return corners, rigid.turned(turn, own.normals / half), rigid.turned(turn, own.edges * half)

    @cached_property
    def low(self) -> np.ndarray:
        return self.centre - self.reach

    @cached_property
    def high(self) -> np.ndarray:
        return self.centre + self.reach

    @cached_property
    def reach(self) -> np.ndarray:
        """(P, 3) half sizes of the upright box around each."""
        return rigid.turned(np.abs(self.turn), self.half)


@dataclass(frozen=True)
class Bricks:
    """N bricks at rest: a pose is a rotation, mirrored where the brick is, and a shift; the scale is in the part."""

    names: tuple[str, ...]
    parts: tuple[Part, ...]
    part: np.ndarray  # (N,) index into parts
    turn: np.ndarray  # (N, 3, 3) part axes to build axes
    origin: np.ndarray  # (N, 3) where the part's origin lies
    key: np.ndarray  # (N,) uint64 identity
    roll: np.ndarray | None = None  # (N,) how often each one's motion was drawn anew; None: never

    def __len__(self) -> int:
        return len(self.key)

    def only(self, rows: np.ndarray) -> "Bricks":
        """Some of the bricks, in that order, with the parts that they are."""
        used, part = np.unique(self.part[rows], return_inverse=True)
        roll = None if self.roll is None else self.roll[rows]
        names, parts = tuple(self.names[n] for n in rows), tuple(self.parts[n] for n in used)
        return Bricks(names, parts, part.reshape(-1), self.turn[rows], self.origin[rows], self.key[rows], roll)

    @cached_property
    def told(self) -> bytes:
        """Tells the bricks from all others by what they are and where they stand."""
        return digest(self.key, self.part, self.origin, self.turn)

    @cached_property
    def drawn_key(self) -> np.ndarray:
        """(N,) uint64 key of each brick's motion: its identity until the motion is drawn anew."""
        if self.roll is None or not self.roll.any():
            return self.key
        return np.where(self.roll == 0, self.key, draws.mixed(self.key ^ draws.mixed(self.roll.astype(np.uint64))))

    @cached_property
    def centre_in_part(self) -> np.ndarray:
        """(N, 3) centre of each brick's body in its part's axes."""
        return self._of_part(lambda part: 0.5 * (part.body_low + part.body_high))

    @cached_property
    def half_in_part(self) -> np.ndarray:
        """(N, 3) half sizes of each brick's body along its part's axes."""
        return self._of_part(lambda part: 0.5 * (part.body_high - part.body_low))

    @cached_property
    def centre(self) -> np.ndarray:
        """(N, 3) centre of each brick's body in the build."""
        return self.origin + rigid.turned(self.turn, self.centre_in_part)

    @cached_property
    def half(self) -> np.ndarray:
        """(N, 3) half sizes of the upright box around each brick's body."""
        return rigid.turned(np.abs(self.turn), self.half_in_part)

    @property
    def low(self) -> np.ndarray:
        return self.centre - self.half

    @property
    def high(self) -> np.ndarray:
        return self.centre + self.half

    @cached_property
    def stud_direction(self) -> np.ndarray:
        """(N, 3) where the studs point in the build, zero for none."""
        return rigid.turned(self.turn, self._of_part(lambda part: part.stud_direction))

    @cached_property
    def is_wall(self) -> np.ndarray:
        """(N, 3) along which of its part's axes a brick ends in walls, and not in studs or sockets."""
        return self._of_part(lambda part: np.arange(3) != part.upright)

    @cached_property
    def full_grid(self) -> np.ndarray:
        """(N,) whether a stud stands on every pitch of the brick."""
        return np.array([part.full_grid for part in self.parts], dtype=bool)[self.part]

    @cached_property
    def studded(self) -> np.ndarray:
        """(N,) whether a brick has studs, on any side."""
        return np.array([len(part.every_stud[0]) > 0 for part in self.parts], dtype=bool)[self.part]

    @cached_property
    def plain(self) -> np.ndarray:
        """(N,) whether one box or hull is all of the body."""
        return np.array([len(part.boxes) == 1 for part in self.parts], dtype=bool)[self.part]

    def pieces(self, shrink: np.ndarray | None = None) -> Pieces:
        """The boxes of the bodies, as they are or shrunk about the bodies' centres by `shrink` (N, 3) in part axes."""
        number = np.array([len(part.boxes) for part in self.parts])
        brick = np.repeat(np.arange(len(self)), number[self.part])
        start = (np.cumsum(number) - number)[self.part]
        at = start[brick] + within(number[self.part])
        boxes = np.concatenate([part.boxes for part in self.parts])[at]
        middle, half = 0.5 * (boxes[:, 0] + boxes[:, 1]), 0.5 * (boxes[:, 1] - boxes[:, 0])
        if shrink is not None:
            about = self.centre_in_part[brick]
            middle, half = about + (middle - about) * shrink[brick], half * shrink[brick]
        turn = self.turn[brick]
        aligned = np.abs(self.turn).max(axis=1).min(axis=1) > 1.0 - 1e-6
        hull, hulls = self._hulls
        centre = self.origin[brick] + rigid.turned(turn, middle)
        return Pieces(brick, centre, half, turn, aligned[brick], hull[at], hulls)

    @cached_property
    def _hulls(self) -> tuple[np.ndarray, tuple[Hull, ...]]:
        """For each box of each part what fills it, an index into the second."""
        of_boxes = [own for part in self.parts for own in part.hulls or (None,) * len(part.boxes)]
        hulls = [BOX, *(own for own in of_boxes if own)]
        filled = np.array([own is not None for own in of_boxes], dtype=bool)
        return np.where(filled, np.cumsum(filled), 0), tuple(hulls)

    def _of_part(self, of_part: Callable[[Part], np.ndarray]) -> np.ndarray:
        return np.stack([of_part(part) for part in self.parts])[self.part]
