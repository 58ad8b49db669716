"""What a camera sees of a build: rays through a fixed grid, against all bricks and all that stands in front of them."""

from typing import cast

import numpy as np
from mathutils.bvhtree import BVHTree

from ...core.build.bricks import Bricks
from ...core.shots import skin
from ...core.shots.lens import Lens
from ...core.shots.reading import ENOUGH, View

_SAMPLES = 9_000  # of a first look
_MOST = 30_000  # of a second, closer one


class Sight:
    """The bricks of a build at rest, ready to be looked at."""

    def __init__(self, bricks: Bricks, props: tuple[np.ndarray, np.ndarray] | None = None):
        found = skin.of_bricks(bricks)
        self._corners, faces, self._brick = found.corners, found.faces, found.brick
        points = [found.corners]
        if props is not None:
            corners, triangles = props
            faces = faces + (triangles + len(found.corners)).tolist()
            self._brick = np.append(self._brick, np.full(len(triangles), -1))
            points.append(corners)
        self._tree = cast(BVHTree, BVHTree.FromPolygons(np.concatenate(points).tolist(), faces))

    def view(self, frame: int, lens: Lens) -> View:
        """What a lens sees; where it misses bricks, of a closer look: what is missed falls as the samples grow."""
        where = lens.rectangle(self._corners)
        grid, is_every_pixel = lens.grid(where, _SAMPLES)
        found = self._look(frame, lens, grid)
        if is_every_pixel or found.missed <= ENOUGH:
            return found
        closer = min(round(_SAMPLES * found.missed / ENOUGH), _MOST)
        return self._look(frame, lens, lens.grid(where, closer)[0])

    def _look(self, frame: int, lens: Lens, grid: np.ndarray) -> View:
        starts, ways = lens.rays(grid)
        ways /= np.linalg.norm(ways, axis=1, keepdims=True)
        ray = self._tree.ray_cast
        hits = [ray(start, way) for start, way in zip(starts.tolist(), ways.tolist(), strict=True)]
        met = np.array([hit[2] is not None for hit in hits], dtype=bool)
        face = np.array([hit[2] for hit in hits if hit[2] is not None], dtype=np.intp)
        away = np.array([hit[3] for hit in hits if hit[2] is not None], dtype=np.float64)
        place = starts[met] + ways[met] * away[:, None]
        _, depth = lens.project(place)
        kept = (self._brick[face] >= 0) & (depth <= lens.far_mm)
        return View(frame, lens, self._brick[face][kept], place[kept], len(grid))
