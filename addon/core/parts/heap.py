"""The shells of an export as they stand, before it is known which make which brick."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..build.boxes import Boxes
from ..counts import evenly
from . import nesting, surface

TOUCH = 0.1  # mm between a foot and what it stands on
ON = 0.3  # mm from a print to the face that it lies on
NEAR = 1.0  # mm within which a body is looked for

_LOOKED_AT = 24  # points of a piece from which its distance to a body is taken


@dataclass(frozen=True)
class Shells:
    """S shells as they stand in the file's space and units."""

    boxes: Boxes
    own_size: np.ndarray  # (S, 3) along the axes of the object each belongs to, in the file's units
    volume: np.ndarray  # (S,)
    area: np.ndarray  # (S,)
    closed: np.ndarray  # (S,) whether there is no open edge
    facing: np.ndarray  # (S, 3) the way that all faces look on the whole, as long as the area of what is missing
    thing: np.ndarray  # (S,) the object, 0 … things - 1
    colour: np.ndarray  # (S,) a number for each: what has two colours is two parts, but for prints
    family: np.ndarray  # (things,) which objects hang on one node that holds nothing else; -1 for none
    frame: np.ndarray  # (things, 4, 4) from each object's axes to the file's space
    own: Boxes  # of the shells in their objects' axes
    triangles: Callable[[int], np.ndarray]  # the corners (T, 3, 3) of a shell

    def __len__(self) -> int:
        return len(self.thing)

    def kin(self, pairs: np.ndarray) -> np.ndarray:
        """(P,) which pairs (P, 2) are of one object and one colour."""
        one, other = pairs.T
        return (self.thing[one] == self.thing[other]) & (self.colour[one] == self.colour[other])

    def near(self, mm: float, some: np.ndarray) -> np.ndarray:
        """Pairs (P, 2) of `some` (S,) of the shells that are near each other at a scale, each way around."""
        number = np.flatnonzero(some)
        low, high = self.boxes.low[number] * mm, self.boxes.high[number] * mm
        pairs = number[nesting.pairs(low, high, 2 * ON)]
        return np.concatenate([pairs, pairs[:, ::-1]])


def on_surfaces(
    shells: Shells, home: np.ndarray, pairs: np.ndarray, mm: float, most: float, upright: np.ndarray | None = None
) -> np.ndarray:
    """Homes with the first of each pair at the second whose surface it touches best, if nearer than `most` mm.

    Of two that it touches alike it is the one from which it points `upright` (3,).
    """
    home = home.copy()
    order = np.lexsort((pairs[:, 1], pairs[:, 0]))
    middle = shells.boxes.low + shells.boxes.high
    for same in np.split(pairs[order], np.flatnonzero(np.diff(pairs[order][:, 0])) + 1) if len(pairs) else ():
        piece, bodies = same[0, 0], same[:, 1]
        points = np.unique(shells.triangles(piece).reshape(-1, 3), axis=0)
        points = points[evenly(len(points), _LOOKED_AT)]
        far = np.stack([surface.distances(points, shells.triangles(body), NEAR / mm) * mm for body in bodies])
        stands = np.zeros(len(bodies)) if upright is None else (middle[piece] - middle[bodies]) @ upright
        touching = (far <= TOUCH).sum(axis=1)
        best = np.lexsort((far.mean(axis=1), stands <= 0, touching < touching.max() - len(points) // 8))[0]
        if np.quantile(far[best], 0.25, method="lower") <= most:
            home[piece] = bodies[best]
    return home
