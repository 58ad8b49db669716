import numpy as np
import pytest
from scipy import stats

from addon.core import contacts, draws, fit, rigid, summary, units
from addon.core.preset import Fit
from tests.core.builds import block, table, wall

LIMITS = Fit(shift_mm=0.05, lift_mm=0.03, twist_deg=1.5, tilt_deg=0.12, clearance_mm=0.1, play_mm=0.05)


def fitted(bricks, limits=LIMITS, seed=3, looseness=1.0):
    return fit.motions(bricks, contacts.contacts(bricks), limits, seed, looseness)


def field(count: int):
    """Many 2x2 bricks, each standing alone."""
    brick = block(2, 2, 3)
    return table([(brick, (32.0 * (n % 100), 32.0 * (n // 100), 0.0)) for n in range(count)])


@pytest.mark.parametrize("looseness", [0.5, 1.0, 2.0])
def test_motions_stay_inside_the_limits(looseness):
    moved = fitted(wall(12, 12), looseness=looseness)
    assert np.abs(moved.shift[:, :2]).max() <= LIMITS.shift_mm * looseness
    assert moved.shift[:, 2].min() >= 0.0
    assert moved.shift[:, 2].max() <= LIMITS.lift_mm * looseness + 1e-12
    assert np.abs(moved.turn[:, 2]).max() <= units.radians(LIMITS.twist_deg) * looseness
    assert np.abs(moved.turn[:, :2]).max() <= units.radians(LIMITS.tilt_deg) * looseness


def test_no_looseness_is_no_motion():
    still = fitted(wall(), looseness=0.0)
    assert not still.shift.any()
    assert not still.turn.any()


def test_shifts_are_clipped_normal_draws():
    # scipy.stats.truncnorm, bound on D by Massart (1990) at 1e-6.
    moved = fitted(field(5000))
    cut = stats.truncnorm(-draws.CLIP_SIGMA, draws.CLIP_SIGMA, scale=LIMITS.shift_mm / draws.CLIP_SIGMA)
    for axis in (0, 1):
        assert stats.kstest(moved.shift[:, axis], cut.cdf).statistic < np.sqrt(np.log(2e6) / (2 * 5000))


def test_seed_decides_and_decides_all():
    bricks = wall()
    first, again, other = fitted(bricks), fitted(bricks), fitted(bricks, seed=4)
    assert first.shift.tobytes() == again.shift.tobytes()
    assert first.turn.tobytes() == again.turn.tobytes()
    assert (first.shift[:, 0] != other.shift[:, 0]).all()


def test_a_brick_keeps_its_motion_in_any_order_and_company():
    brick = block(2, 2, 3)
    places = [(32.0 * n, 0.0, 0.0) for n in range(20)]
    everyone = fitted(table([(brick, at) for at in places]))
    some = fitted(table([(brick, at) for at in places[10:3:-1]]))
    assert np.array_equal(some.shift, everyone.shift[10:3:-1])
    assert np.array_equal(some.turn, everyone.turn[10:3:-1])


def test_no_corner_goes_below_the_seat():
    moved = fitted(field(2000), looseness=2.0)
    corners = 8.0 * np.array([[x, y, -4.8 / 8.0] for x in (-1, 1) for y in (-1, 1)])
    turned = rigid.turned(rigid.rotation(moved.turn)[:, None], corners[None])
    assert (turned[..., 2] + moved.shift[:, None, 2] + 4.8).min() >= -1e-4  # second order of a small angle


def test_long_bricks_turn_less_than_one_stud_ones():
    def twist(studs_x):
        bricks = table([(block(studs_x, 1, 1), (100.0 * n, 0, 0)) for n in range(200)])
        return np.abs(fitted(bricks).turn[:, 2]).max()

    assert twist(8) < twist(2) < twist(1)
    assert twist(1) > units.radians(1.2)  # close to its limit of 1.5 degrees
    # Play over the studs' half span: 0.05 mm over 28 mm.
    assert twist(8) <= 0.05 / 28.0


def test_clearance_is_added_only_where_the_export_has_none():
    tight, loose = table([(block(2, 4, 3), (0, 0, 0))]), table([(block(2, 4, 3, clearance=0.1), (0, 0, 0))])
    half = tight.half_in_part * fit.shrinkage(tight, 0.1)
    assert half[0] == pytest.approx([7.9, 15.9, 4.8])
    assert fit.shrinkage(loose, 0.1)[0] == pytest.approx([1.0, 1.0, 1.0])
    assert fit.shrinkage(loose, 0.15)[0, 0] == pytest.approx(15.7 / 15.8)


def test_side_neighbours_never_cut_into_each_other():
    course = table([(block(4, 2, 3), (32.0 * n, 16.0 * m, 0.0)) for n in range(30) for m in range(10)])
    assert summary.largest_interference(course, fitted(course, looseness=2.0)) <= 1e-3


def test_measures_of_a_known_motion():
    bricks = table([(block(2, 2, 3), (0, 0, 0)), (block(2, 2, 3), (0, 0, 9.6))])
    shift = np.array([[0.0, 0.0, 0.0], [0.03, 0.04, 0.0]])
    known = fit.Motions(shift, np.zeros((2, 3)), np.ones((2, 3)))
    assert summary.largest_play(bricks, contacts.contacts(bricks), known) == pytest.approx(0.05)
    sunk = fit.Motions(-0.02 * np.array([[0, 0, 0], [0, 0, 1.0]]), np.zeros((2, 3)), np.ones((2, 3)))
    assert summary.largest_interference(bricks, sunk) == pytest.approx(0.02)
