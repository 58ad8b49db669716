"""Motions drawn anew: those of the chosen bricks alone, the others only giving way."""

from dataclasses import replace

import numpy as np

from addon.core import draws
from addon.core.fit.fit import fitted
from addon.core.presets.preset import Fit
from tests.core.builds import block, table, wall

LIMITS = Fit(0.05, 0.03, 1.5, 0.12, 0.1, 0.05, 0.03, 0.5)


def motions(bricks) -> np.ndarray:
    solved = fitted(bricks, LIMITS, 3, 1.0).motions
    return np.concatenate([solved.shift, solved.turn], axis=1)


def rolled(bricks, **rolls):
    roll = np.zeros(len(bricks), dtype=np.int64)
    for name, count in rolls.items():
        roll[int(name.removeprefix("brick"))] = count
    return replace(bricks, roll=roll)


def test_no_roll_is_the_first_draw_bit_for_bit():
    bricks = wall()
    assert motions(rolled(bricks)).tobytes() == motions(bricks).tobytes()
    assert rolled(bricks).drawn_key is bricks.key


def test_bricks_apart_from_the_rolled_one_keep_every_bit():
    """Bricks that touch nothing: nobody has to give way."""
    brick = block(2, 2, 3)
    bricks = table([(brick, (100.0 * n, 0.0, 0.0)) for n in range(40)])
    changed = (motions(rolled(bricks, brick7=1, brick9=4)) != motions(bricks)).any(axis=1)
    assert np.flatnonzero(changed).tolist() == [7, 9]


def test_in_a_wall_the_rolled_brick_moves_and_neighbours_give_way_less():
    bricks = wall(courses=8, length=8)
    step = np.abs(motions(rolled(bricks, brick27=1)) - motions(bricks))[:, :3].max(axis=1)
    assert step.argmax() == 27
    assert step[27] > 0.005
    far = np.linalg.norm(bricks.centre - bricks.centre[27], axis=1) > 120.0
    assert step[far].max() < 0.2 * step[27]


def test_every_roll_is_a_draw_of_its_own():
    """64-bit words of 5,000 draws do not meet by chance (birthday bound)."""
    bricks = wall(courses=25, length=40)
    keys = [replace(bricks, roll=np.full(len(bricks), count)).drawn_key for count in range(5)]
    assert len(np.unique(np.concatenate(keys))) == 5 * len(bricks)
    values = draws.uniform(0, np.concatenate(keys[1:]), 0)
    assert abs(values.mean() - 0.5) < 4.0 / np.sqrt(12.0 * len(values))  # four standard errors of a uniform mean


def test_a_roll_leaves_the_identity_alone():
    bricks = wall()
    assert np.array_equal(rolled(bricks, brick3=5).key, bricks.key)
