"""What is told, against numbers counted and measured by hand on small builds."""

import numpy as np
import pytest

from addon.core.build.contacts import contacts
from addon.core.build.lattice import Lattice
from addon.core.build.touching import JOINT
from addon.core.fit import play, summary
from addon.core.fit.fit import Fitted
from addon.core.fit.motions import Motions
from addon.core.report import Skipped
from tests.core.builds import block, table, wall

IN_MM = Lattice(1.0, 2, 1, 1.0)


def inspection(bricks, lattice=IN_MM):
    return summary.inspection("build", bricks, contacts(bricks), lattice, 3, "", ())


def still(bricks) -> Motions:
    count = len(bricks)
    return Motions(np.zeros((count, 3)), np.zeros((count, 3)), np.ones((count, 3)))


def check(bricks, motions):
    return summary.check("build", bricks, contacts(bricks), motions, None, {})


def pair(**kinds):
    """Two 2x4 bricks, one standing on the other."""
    brick = block(4, 2, 3, **kinds)
    return table([(brick, (0.0, 0.0, 0.0)), (brick, (0.0, 0.0, 9.6))])


def neighbours():
    """Two 2x4 bricks side by side along x, their walls touching."""
    brick = block(4, 2, 3)
    return table([(brick, (0.0, 0.0, 0.0)), (brick, (32.0, 0.0, 0.0))])


def test_a_wall_in_running_bond():
    found = inspection(wall(courses=6, length=5))
    assert found.bricks == 31
    assert found.joints == 5 * (2 * 5 - 1) + 1  # each course over the one below, and the plate on top
    assert (found.duplicates, found.loose, found.materials) == (0, 0, 3)
    assert found.size_mm == pytest.approx((32.0 * 5 + 16.0, 16.0, 6 * 9.6 + 3.2 + 1.7))
    assert (found.mm_per_unit, found.up_axis, found.warnings) == (1.0, "Z", ())


def test_the_upright_axis_by_name():
    assert inspection(pair(), Lattice(10.0, 1, -1, 1.0)).up_axis == "-Y"


def test_the_size_of_turned_bricks_is_that_of_their_upright_box():
    quarter = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    turned = table([(block(4, 2, 3), (0.0, 0.0, 0.0))], turns=[quarter])
    assert inspection(turned).size_mm == pytest.approx((16.0, 32.0, 9.6 + 1.7))


def test_a_brick_in_the_air_is_loose_and_told():
    brick = block(4, 2, 3)
    found = inspection(table([(brick, (0.0, 0.0, 0.0)), (brick, (160.0, 0.0, 0.0)), (brick, (0.0, 0.0, 96.0))]))
    assert found.loose == 1  # the one beside stands on the ground
    (warning,) = found.warnings
    assert warning.startswith("1 ")
    assert "held by no stud" in warning


def test_a_brick_that_is_there_twice_is_told():
    brick = block(4, 2, 3)
    found = inspection(table([(brick, (0.0, 0.0, 0.0)), (brick, (0.0, 0.0, 9.6)), (brick, (0.0, 0.0, 9.6))]))
    assert found.duplicates == 1
    assert any("twice" in warning for warning in found.warnings)


def test_the_words_of_the_lattice_are_passed_on():
    assert inspection(pair(), Lattice(1.0, 2, 1, 1.0, ("A word.",))).warnings == ("A word.",)


def test_at_rest_nothing_is_measured():
    bricks = wall()
    found = check(bricks, still(bricks))
    assert (found.bricks, found.moved) == (31, 0)
    for measure in ("max_shift_mm", "max_lift_mm", "max_twist_deg", "max_tilt_deg", "max_play_mm"):
        assert getattr(found, measure) == 0.0, measure
    assert found.max_interference_mm == pytest.approx(0.0, abs=1e-9)


def test_each_measure_of_a_motion():
    """3-4-5 triangles sideways and in the tipping; the twist about the upright axis alone."""
    bricks = wall()
    motions = still(bricks)
    motions.shift[4] = (0.03, -0.04, 0.02)
    motions.turn[4] = np.radians((0.3, 0.4, -1.2))
    motions.shift[9, 2] = 0.01
    found = check(bricks, motions)
    assert found.moved == 2
    assert found.max_shift_mm == pytest.approx(0.05)
    assert found.max_lift_mm == pytest.approx(0.02)
    assert found.max_tilt_deg == pytest.approx(0.5)
    assert found.max_twist_deg == pytest.approx(1.2)


def test_play_is_the_sideways_step_between_joined_bricks():
    bricks = pair()
    motions = still(bricks)
    motions.shift[1, 0] = 0.05
    assert check(bricks, motions).max_play_mm == pytest.approx(0.05)
    motions.shift[0] = motions.shift[1]
    assert check(bricks, motions).max_play_mm == pytest.approx(0.0, abs=1e-12)


def test_interference_is_how_deep_one_body_cuts_into_another_beyond_the_export():
    bricks = neighbours()
    motions = still(bricks)
    motions.shift[1, 0] = -0.1
    assert check(bricks, motions).max_interference_mm == pytest.approx(0.1, abs=1e-6)
    motions.shrink[:, 0] = (32.0 - 0.12) / 32.0  # 0.06 mm clearance on each side: more than the step
    assert check(bricks, motions).max_interference_mm == pytest.approx(0.0, abs=1e-6)


def test_what_was_left_alone_is_named():
    bricks = pair()
    found = summary.check("build", bricks, contacts(bricks), still(bricks), None, {1: "is linked"})
    assert found.skipped == (Skipped(bricks.names[1], "is linked"),)
    assert (found.preset, found.seed, found.looseness) == ("", 0, 0.0)


def test_bricks_that_cut_into_each_other_in_the_export_are_told():
    brick = block(4, 2, 3)
    found = inspection(table([(brick, (0.0, 0.0, 0.0)), (brick, (31.0, 0.0, 0.0)), (brick, (64.0, 0.0, 0.0))]))
    assert found.cuts == 1
    (warning,) = found.warnings
    assert "part.0000 and part.0001" in warning
    assert inspection(neighbours()).cuts == inspection(wall()).cuts == 0


def test_bricks_that_do_not_quite_fit_in_the_export_are_told_by_name_and_measure():
    brick = block(4, 2, 3)
    on_top = [(brick, (0.0, 0.0, 0.0)), (brick, (32.0, 0.0, 0.0)), (brick, (0.0, 0.0, 9.57)), (brick, (32.0, 0.0, 9.7))]
    bricks = table(on_top)
    deep, open_ = inspection(bricks).warnings
    assert deep == "1 reach up to 0.030 mm into another brick in the export itself: part.0000 and part.0002."
    assert open_ == "1 joint stands open by up to 0.100 mm in the export itself: part.0001 and part.0003."
    told = summary.check("build", bricks, contacts(bricks), still(bricks), None, {})
    assert told.misfits == (deep, open_)
    assert not inspection(wall()).warnings
    assert not summary.check("build", wall(), contacts(wall()), still(wall()), None, {}).misfits


def test_a_brick_that_is_there_twice_is_no_cut():
    brick = block(4, 2, 3)
    assert inspection(table([(brick, (0.0, 0.0, 0.0)), (brick, (0.0, 0.0, 0.0))])).cuts == 0


def test_joints_at_their_play_are_counted():
    """Three bricks on one, moved by all of the play, by half of it, and not at all."""
    brick = block(4, 2, 3)
    one = block(1, 1, 1)
    bricks = table([(brick, (0.0, 0.0, 0.0)), *((one, (8.0 * n, 0.0, 9.6)) for n in range(3))])
    motions = still(bricks)
    motions.shift[1, 0], motions.shift[2, 0] = 0.04, 0.02
    touching = contacts(bricks)
    steps = np.zeros(len(touching))
    joints = np.flatnonzero(touching.kind == JOINT)
    steps[joints] = play.steps(bricks, touching, joints, motions)
    fitted = Fitted(motions, touching, steps, np.ones(4), 0, 0)
    assert summary.tight(fitted, 0.04) == pytest.approx(1 / 3)
    assert summary.tight(fitted, 0.03) == pytest.approx(1 / 3)
    assert summary.tight(fitted, 0.02) == pytest.approx(2 / 3)
    alone = table([(brick, (0.0, 0.0, 0.0))])
    assert summary.tight(Fitted(still(alone), contacts(alone), np.zeros(0), np.ones(1), 0, 0), 0.04) == 0.0
