"""Small rigid motions of all bricks, and where they take the bricks' bodies."""

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np

from .. import rigid, threads
from ..build.bricks import Bricks, Pieces

_CHUNK = threads.CHUNK // 4  # turns worked out together
_GRID = np.repeat([2.0**-14, 2.0**-18], 3)  # mm and radians that solved motions are rounded to: 0.06 micrometres


@dataclass(frozen=True)
class Motions:
    """Small rigid motions of N bricks about their bodies' centres, in the build's frame, and their shrinkage."""

    shift: np.ndarray  # (N, 3) mm: sideways, sideways, lift
    turn: np.ndarray  # (N, 3) rotation vectors in radians: tilt, tilt, twist
    shrink: np.ndarray  # (N, 3) factors along the part's own axes

    @classmethod
    def packed(cls, table: np.ndarray, shrink: np.ndarray) -> "Motions":
        """From shifts and turns side by side (N, 6)."""
        return cls(table[:, :3].copy(), table[:, 3:].copy(), shrink)

    def changed_to(self, table: np.ndarray) -> "Motions":
        """Others (N, 6) of the same bricks: the matrices of turns that stay are not worked out again."""
        after = Motions.packed(table, self.shrink)
        other = (after.turn != self.turn).any(axis=1)
        rotation = self.rotation.copy()
        rotation[other] = rigid.rotation(after.turn[other])
        vars(after)["rotation"] = rotation
        return after

    @cached_property
    def rotation(self) -> np.ndarray:
        """(N, 3, 3) the turns as matrices."""
        return threads.joined(lambda part: rigid.rotation(self.turn[part]), len(self.turn), _CHUNK)


def moved(bricks: Bricks, motions: Motions, pieces: Pieces) -> Pieces:
    """Boxes of bodies, as `Bricks.pieces` gives them shrunk, after their bricks' motions."""
    of_bricks = motions.rotation, motions.shift, bricks.centre

    def placed(part: slice) -> tuple[np.ndarray, np.ndarray]:
        turn, shift, about = (each[pieces.brick[part]] for each in of_bricks)
        centre = about + shift + rigid.turned(turn, pieces.centre[part] - about)
        return centre, np.ascontiguousarray(rigid.product(turn, pieces.turn[part]))

    found = zip(*threads.each(placed, threads.slices(len(pieces), _CHUNK)), strict=True)
    centre, turn = (np.concatenate(each) for each in found)
    return replace(pieces, centre=centre, turn=turn, aligned=np.zeros(len(pieces), dtype=bool))


def rounded(table: np.ndarray) -> np.ndarray:
    """Motions (N, 6) on a grid far below any limit: what a distant change does to the last bits ends here."""
    return np.rint(table / _GRID) * _GRID


def farthest(bricks: Bricks, motions: Motions) -> np.ndarray:
    """How far (N,) in mm the farthest corner of each brick's body, unshrunk, stands from where it would at rest."""
    most = np.zeros(len(bricks))
    for signs in product((-1.0, 1.0), repeat=3):
        arm = rigid.turned(bricks.turn, bricks.half_in_part * np.array(signs))
        np.maximum(most, rigid.length(motions.shift + rigid.turned(motions.rotation, arm) - arm), out=most)
    return most
