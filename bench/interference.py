"""Whether bodies cut into each other after a fit, judged from outside: every pair of boxes by python-fcl.

    python bench/interference.py [LARGEST]

Twenty builds of 1,000 to 100,000 bricks, each with its own seed, at a looseness of 1 and a twist of up to 3 degrees.
Prints the deepest cut beyond the clean build's, and the pairs that cut by more than a millionth of a millimetre.
"""

import sys
from pathlib import Path
from time import perf_counter

import fcl
import numpy as np
from scipy.spatial.transform import Rotation

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon.core.build.bricks import Bricks  # noqa: E402
from addon.core.fit import fit  # noqa: E402  the checkout is no installed package
from addon.core.fit.motions import Motions  # noqa: E402
from bench import builds  # noqa: E402

DEEPEST_MM = 1e-6
MOST = 1 << 28  # contacts that python-fcl may find
BUILDS = (
    *((kind, 1_000) for kind in builds.KINDS),
    *((kind, 3_000) for kind in builds.KINDS),
    *((kind, 10_000) for kind in ("city", "block", "wall", "stack")),
    *((kind, 30_000) for kind in ("city", "block", "wall")),
    *((kind, 100_000) for kind in ("city", "block", "wall")),
)


def moved_boxes(bricks: Bricks, motions: Motions):
    """Brick, centre, axes and half sizes of all bodies' boxes; the motions applied by scipy."""
    pieces = bricks.pieces(motions.shrink)
    rotation = Rotation.from_rotvec(motions.turn[pieces.brick]).as_matrix()
    about = bricks.centre[pieces.brick]
    centre = about + motions.shift[pieces.brick] + np.einsum("nij,nj->ni", rotation, pieces.centre - about)
    return pieces.brick, centre, np.einsum("nij,njk->nik", rotation, pieces.turn), pieces.half


def cuts(bricks: Bricks, motions: Motions) -> np.ndarray:
    """Depths (C,) in mm of all contacts between boxes of two bricks, found and measured by python-fcl alone."""
    brick, centre, axes, half = moved_boxes(bricks, motions)
    shapes = [fcl.Box(*(2 * each)) for each in half]
    owner = dict(zip(map(id, shapes), brick.tolist(), strict=True))
    tree = fcl.DynamicAABBTreeCollisionManager()
    tree.registerObjects(
        [fcl.CollisionObject(*each) for each in zip(shapes, map(fcl.Transform, axes, centre), strict=True)]
    )
    tree.setup()
    found = fcl.CollisionData(fcl.CollisionRequest(num_max_contacts=MOST, enable_contact=True))
    tree.collide(found, fcl.defaultCollisionCallback)
    contacts = found.result.contacts
    assert len(contacts) < MOST
    return np.array([each.penetration_depth for each in contacts if owner[id(each.o1)] != owner[id(each.o2)]])


def main(largest: str = "100000") -> None:
    print(f"{'build':8}{'bricks':>9}{'contacts':>9}{'clean, mm':>12}{'fitted, mm':>12}{'cut':>5}{'seconds':>9}")
    for seed, (kind, count) in enumerate(BUILDS):
        if count > int(largest):
            continue
        started = perf_counter()
        bricks = builds.KINDS[kind](count)
        found = fit.fitted(bricks, builds.LIMITS, seed, 1.0)
        still = Motions.packed(np.zeros((count, 6)), found.motions.shrink)
        clean, depths = cuts(bricks, still).max(initial=0.0), cuts(bricks, found.motions)
        beyond = (depths > clean + DEEPEST_MM).sum()
        print(f"{kind:8}{count:9d}{len(depths):9d}{clean:12.1e}{depths.max(initial=0.0):12.1e}{beyond:5d}"
              f"{perf_counter() - started:9.0f}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main(*sys.argv[1:])
