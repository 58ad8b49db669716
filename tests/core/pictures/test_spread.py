"""What is drawn of a fit, for motions that are known."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from addon.core.build.contacts import contacts
from addon.core.build.touching import SIDE
from addon.core.fit import fit, play
from addon.core.fit.limits import reachable
from addon.core.fit.motions import Motions
from addon.core.pictures import spread
from addon.core.presets.preset import Fit
from tests.core.builds import block, table, wall

LIMITS = Fit(shift_mm=0.05, lift_mm=0.03, twist_deg=1.5, tilt_deg=0.12, clearance_mm=0.1, play_mm=0.05)


def moved(bricks, motions: dict[int, tuple[float, ...]]) -> Motions:
    """Shift in mm and turn in degrees of some bricks, the others at rest."""
    rows = np.zeros((len(bricks), 6))
    for brick, row in motions.items():
        rows[brick] = (*row[:3], *np.radians(row[3:]))
    return Motions.packed(rows, np.ones((len(bricks), 3)))


def spreads(bricks, motions, held=None) -> dict[str, spread.Spread]:
    held = np.zeros(len(bricks), dtype=bool) if held is None else held
    found = spread.spreads(bricks, contacts(bricks, motions.shrink), motions, LIMITS, 2.0, held)
    return {each.name: each for each in found}


def test_each_measure_is_that_of_the_motion():
    bricks = table(
        [(block(4, 2, 3), (0.0, 0.0, 0.0)), (block(4, 2, 3), (0.0, 0.0, 9.6)), (block(1, 1, 3), (90.0, 0, 0))]
    )
    found = spreads(bricks, moved(bricks, {1: (0.03, 0.04, 0.02, 0.0, 0.0, 0.7), 2: (0.0, 0.0, 0.0, 0.06, 0.08, 0.0)}))
    np.testing.assert_allclose(found["Shift"].values, [0.0, 0.05, 0.0], atol=1e-12)
    np.testing.assert_allclose(found["Lift"].values, [0.0, 0.02, 0.0], atol=1e-12)
    np.testing.assert_allclose(found["Twist"].values, [0.0, 0.7, 0.0], atol=1e-12)
    np.testing.assert_allclose(found["Tilt"].values, [0.0, 0.0, 0.1], atol=1e-12)
    assert [found[name].line for name in ("Lift", "Twist")] == [0.06, 3.0]  # at a looseness of 2
    np.testing.assert_allclose([found["Shift"].line, found["Tilt"].line], [0.1 * 2**0.5, 0.24 * 2**0.5])
    assert found["Step"].line == 0.05  # the mould's: no dial widens it
    left = spreads(bricks, moved(bricks, {1: (0.03, 0.04, 0, 0, 0, 0)}), np.array([True, False, True]))
    assert left["Shift"].values.tolist() == pytest.approx([0.05])


def test_a_seam_opens_as_a_rotation_of_scipys_says():
    bricks = table([(block(4, 2, 3), (0.0, 0.0, 0.0)), (block(4, 2, 3), (32.2, 0.0, 0.0))])
    motions = moved(bricks, {0: (-0.02, 0.0, 0.01, 0.1, -0.2, 0.5), 1: (0.03, 0.01, 0.0, 0.0, 0.3, -0.4)})
    touching = contacts(bricks, motions.shrink)
    seam = np.flatnonzero(touching.kind == SIDE)
    assert len(seam) == 1
    ends = []
    for brick in (touching.a[seam[0]], touching.b[seam[0]]):
        turn = Rotation.from_rotvec(motions.turn[brick])
        ends.append(
            bricks.centre[brick] + motions.shift[brick] + turn.apply(touching.place[seam[0]] - bricks.centre[brick])
        )
    wanted = touching.gap[seam[0]] + (ends[1] - ends[0]) @ touching.axes[seam[0], 2]
    np.testing.assert_allclose(play.opened(bricks, touching, seam, motions), [wanted], rtol=1e-12)
    assert wanted > 0.2  # they went apart


def test_a_fit_keeps_the_play_in_every_joint_that_is_counted():
    bricks = wall()
    motions = fit.fitted(bricks, LIMITS, 7, 1.0).motions
    touching = contacts(bricks, motions.shrink)
    found = spread.spreads(bricks, touching, motions, LIMITS, 1.0, np.zeros(len(bricks), dtype=bool))
    step = next(each for each in found if each.name == "Step")
    assert 0.0 < step.values.max() <= step.line
    told = spread.joints(bricks, touching, motions, LIMITS.play_mm)
    assert sum(each.joints for each in told) == len(step.values) == touching.held.sum()
    assert sum(each.at_their_play for each in told) == (step.values > 0.95 * reachable(0.05)).sum() > 0
    assert {each.studs for each in told} == {"1 stud", "3 or 4"}  # of a wall in running bond, and the plate on top
    assert all(0.0 < each.play_used <= 1.0 for each in told)


def test_the_words_hold_the_figures_of_the_spread():
    told = spread.Spread("Step", "mm", "joints", np.linspace(0.0, 0.04, 101), 0.05, "the play", "")
    assert told.figures == "Median 0.020 mm, nine of ten from 0.002 to 0.038, largest 0.040"
    assert told.sentence == f"Step of 101 joints. {told.figures}; the play 0.05"
    assert "no joints" in spread.Spread("Step", "mm", "joints", np.zeros(0), 0.05, "the play", "").sentence
