"""What a story does to reach and sky, on bricks that stand in each other's way: neutral to the bit, monotone, where an
artist expects it."""

import numpy as np
import pytest

from addon.core import rigid
from addon.core.presets import preset as presets
from addon.core.wear.placement.placement import placed
from addon.core.wear.placement.wall import walled
from addon.core.wear.story import Story, lived
from tests.core.wear.test_placement import UP, WALLS, build

# A pile of five, the third with a roof 3 mm over a ledge: reach and sky differ from side to side.
PILE = placed(
    build(
        *(((16.0, 16.0, 9.6), (0.0, 0.0, 4.8 + 9.6 * n)) for n in range(5)),
        ((16.0, 16.0, 3.2), (16.2, 0.0, 1.6)),
        ((32.0, 16.0, 3.2), (24.4, 0.0, 9.6)),
    )
)
COLUMN = np.arange(5)


def test_without_a_story_nothing_changes_to_the_last_bit():
    told = lived(PILE, Story())
    for name in ("out_of_reach", "sheltered", "open_sky"):
        assert np.array_equal(getattr(told, name), getattr(PILE, name))
    assert told.light is None


def test_a_side_stands_as_high_as_its_middle():
    """Outside check: the middles of five courses from the ground to the top, by hand."""
    for wall in (0, 2, 3):  # of the fourth what others cover does not count
        assert PILE.height[COLUMN, wall] == pytest.approx((4.8 + 9.6 * COLUMN) / 48.0, abs=1e-3)
    assert PILE.height[4, UP] == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize(("grip", "order"), [(1.0, 1), (-1.0, -1)])
def test_a_grip_gathers_reach_at_its_end(grip, order):
    left = lived(PILE, Story(grip=grip)).reach[COLUMN, WALLS[0]][::order] / PILE.reach[COLUMN, WALLS[0]][::order]
    assert (np.diff(left) >= 0.0).all()
    assert (left[0], left[-1]) == (0.0, 1.0)
    half = lived(PILE, Story(grip=0.5 * grip)).reach
    assert half == pytest.approx(0.5 * (PILE.reach + lived(PILE, Story(grip=grip)).reach))


def test_grips_at_both_ends_are_mirrored():
    """A wall of equal courses, seen upside down."""
    walls = PILE.reach[COLUMN][:, 2:4] > 0.99
    top, base = (lived(PILE, Story(grip=grip)).reach[COLUMN][:, 2:4][walls].reshape(5, 2) for grip in (1.0, -1.0))
    assert top == pytest.approx(base[::-1], abs=1e-3)


def test_play_gets_to_every_side_and_display_spares_all_alike():
    assert (lived(PILE, Story(played=1.0)).out_of_reach == 0.0).all()
    assert lived(PILE, Story(played=-1.0)).reach == pytest.approx(0.2 * PILE.reach)
    for played in (-1.0, 1.0):
        assert np.array_equal(lived(PILE, Story(played=played)).sheltered, PILE.sheltered)
    reach = [lived(PILE, Story(played=played)).reach for played in np.linspace(-1.0, 1.0, 9)]
    assert (np.diff(reach, axis=0) >= 0.0).all()


def test_dusting_leaves_what_no_cloth_gets_to():
    before, after = 1.0 - PILE.sheltered, 1.0 - lived(PILE, Story(dusted=1.0)).sheltered
    hidden, wiped = (PILE.reach == 0.0) & (before > 0.0), (PILE.reach == 1.0) & (PILE.open_sky > 0.0)
    assert hidden.any()
    assert wiped.any()
    assert np.array_equal(after[hidden], before[hidden])
    assert after[wiped] == pytest.approx(0.05 * before[wiped])
    dust = [1.0 - lived(PILE, Story(dusted=dusted)).sheltered for dusted in np.linspace(0.0, 1.0, 5)]
    assert (np.diff(dust, axis=0) <= 0.0).all()
    assert np.array_equal(lived(PILE, Story(dusted=1.0)).reach, PILE.reach)


@pytest.mark.parametrize("story", [Story(g, p, d) for g in (-1.0, 0.3, 1.0) for p in (-1.0, 1.0) for d in (0.0, 1.0)])
def test_shares_stay_shares(story):
    told = lived(PILE, story)
    for share in (told.reach, told.out_of_reach, told.sheltered):
        assert (share.min(), share.max()) >= (0.0, 0.0)
        assert share.max() <= 1.0


def test_a_preset_without_a_story_is_as_before_and_one_with_it_keeps_it():
    old = '{"format": 2, "name": "old", "wear": {"dust": {"amount": 0.5}}}'
    read = presets.parse(old, "old.json")
    assert read.story == Story()
    told = presets.changed(read, {"story.grip": -0.5, "story.dusted": 1.0}, "--set")
    assert presets.parse(presets.dump(told), "told.json").story == Story(-0.5, 0.0, 1.0)
    assert presets.dialled(told, 1.0, 0.5).story == told.story
    with pytest.raises(presets.PresetProblem, match=r"story\.dusted is -0\.5"):
        presets.changed(read, {"story.dusted": -0.5}, "--set")


@pytest.mark.parametrize(("degrees", "side"), [(0.0, 1), (90.0, 3), (180.0, 0), (270.0, 2)])
def test_the_side_that_stood_to_a_wall_was_not_touched_and_not_lit(degrees, side):
    bricks = build(((16.0, 16.0, 9.6), (0.0, 0.0, 4.8)))
    told = walled(placed(bricks), bricks.turn, degrees)
    expected = np.ones(6)
    expected[side] = 0.0
    assert told.reach[0] == pytest.approx(expected)
    assert told.light is not None
    assert told.light[0] == pytest.approx(expected)
    assert np.array_equal(told.sky, placed(bricks).sky)
    assert walled(PILE, np.broadcast_to(np.eye(3), (len(PILE), 3, 3)), None) is PILE


def test_a_wall_dims_a_window_by_the_cosine():
    """Lambert: a brick turned by 30 degrees shows a wall at 0 the cosine of 30 on one side, of 60 on the next."""
    turn = rigid.rotation(np.array([0.0, 0.0, np.pi / 6.0]))
    bricks = build(((16.0, 16.0, 9.6), (0.0, 0.0, 4.8)), turns=[turn])
    lit = placed(bricks, 0.0)
    told = walled(lit, bricks.turn, 0.0)
    assert told.reach[0] == pytest.approx([1.0, 1.0 - np.sqrt(0.75), 0.5, 1.0, 1.0, 1.0])
    assert lit.light is not None
    assert told.light == pytest.approx(lit.light * told.reach)
