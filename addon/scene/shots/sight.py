"""Which bricks a camera sees: rays through a fixed grid of the frame, against the boxes of all bricks' bodies."""

from itertools import product
from typing import cast

import numpy as np
from mathutils.bvhtree import BVHTree

from ...core import rigid
from ...core.build.bricks import Bricks
from ...core.shots.lens import Lens
from ...core.shots.reading import ACROSS, View

_CORNERS = np.array(list(product((-1.0, 1.0), repeat=3)))
_FACES = np.array([(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)])


class Sight:
    """The bricks of a build at rest, ready to be looked at; only bricks cover bricks."""

    def __init__(self, bricks: Bricks):
        pieces = bricks.pieces()
        arm = rigid.turned(pieces.turn[:, None], _CORNERS * pieces.half[:, None, :])
        corners = (pieces.centre[:, None, :] + arm).reshape(-1, 3)
        faces = (8 * np.arange(len(pieces))[:, None, None] + _FACES).reshape(-1, 4)
        self._brick = np.repeat(pieces.brick, len(_FACES))
        self._tree = cast(BVHTree, BVHTree.FromPolygons(corners.tolist(), faces.tolist()))

    def view(self, frame: int, lens: Lens) -> View:
        """What a lens sees; one ray for each cell of its grid."""
        starts, ways = lens.rays(lens.grid(ACROSS))
        ray = self._tree.ray_cast
        hits = [ray(start, way)[2] for start, way in zip(starts.tolist(), ways.tolist(), strict=True)]
        faces = np.array([face for face in hits if face is not None], dtype=np.intp)
        return View(frame, lens, np.unique(self._brick[faces]), len(hits))
