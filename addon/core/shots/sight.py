"""What a camera sees of a build: a fixed grid of samples, of all bricks and all that stands in front of them."""

import numpy as np

from ..build.bricks import Bricks
from ..parts.hull import BOX
from ..sizes import TRADE
from . import raster, skin
from .grid import Grid, spanned
from .lens import Lens
from .raster import Surface
from .reading import ENOUGH, View

_MET = 100_000  # samples that meet bricks, about
_OFTEN = 20  # a brick seen, on average: so many come near its farthest visible point
_MOST = 2_000_000  # samples in all


class Sight:
    """The bricks of a build at rest, ready to be looked at."""

    def __init__(self, bricks: Bricks, props: tuple[np.ndarray, np.ndarray] | None = None):
        found = skin.of_bricks(bricks)
        corners, triangles = (np.zeros((0, 3)), np.zeros((0, 3), np.int64)) if props is None else props
        self._surface = Surface(
            np.asfortranarray(np.concatenate([found.corners, corners])),
            np.concatenate([found.faces, len(found.corners) + triangles[:, [0, 1, 2, 2]]]),
            np.append(found.brick, np.full(len(triangles), -1)),
        )
        middle, half = 0.5 * (bricks.low + bricks.high), 0.5 * (bricks.high - bricks.low) + TRADE.stud_height
        self._boxes = middle + half * BOX.corners[:, None]  # (8, N, 3) studs on any side in them

    def view(self, frame: int, lens: Lens) -> View:
        """What a lens sees; where it misses bricks or meets them seldom, of a closer look."""
        where, share = spanned(lens, self._boxes)
        samples = min(_MET / share, _MOST)
        grid = Grid.over(where, samples, lens.pixel_aspect)
        found = self._look(frame, lens, grid)
        short = max(found.missed / ENOUGH, _OFTEN * len(found.seen) / max(len(found.brick), 1))
        if short <= 1.0 or grid.is_every_pixel:
            return found
        return self._look(frame, lens, Grid.over(where, min(2.0 * short * samples, _MOST), lens.pixel_aspect))

    def _look(self, frame: int, lens: Lens, grid: Grid) -> View:
        face, depth = raster.met(lens, self._surface, grid)
        brick = np.where(face < 0, -1, self._surface.solid[face])
        row, column = np.nonzero(brick >= 0)
        place = lens.place(grid.at(row, column), depth[row, column])
        return View(frame, lens, brick[row, column], place, grid.samples)
