"""Shots as data: found, named, dialled, and a dial turned to a target."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from addon.core.errors import ShotProblem
from addon.core.fit.motions import Motions
from addon.core.presets import preset
from addon.core.shots import reading, shot
from addon.core.shots.lens import Lens
from addon.core.shots.shot import Shot, ShotDials
from addon.core.wear.layers import Fade, Scratches, Smudges, Wear
from tests.core.builds import block, table


def test_a_marker_starts_a_shot_that_lasts_until_the_next():
    found = shot.from_markers([(50, "b", "two"), (1, "a", "one"), (50, "late", "three")], 120)
    assert [(each.name, each.camera, each.first, each.last) for each in found] == [
        ("a", "one", 1, 49),
        ("b", "two", 50, 120),
    ]


@given(st.lists(st.tuples(st.integers(-50, 500), st.text(max_size=80), st.just("camera"))), st.integers(0, 400))
def test_any_markers_give_shots_that_cover_each_frame_once(markers, last):
    found = shot.from_markers(markers, last)
    assert [each.first for each in found] == sorted({frame for frame, _, _ in markers})
    for before, after in pairwise(found):
        assert before.last == after.first - 1
    assert len({each.name for each in found}) == len(found)


@pytest.mark.parametrize("name", ["", " a", "a.b", "a=b", "a/b", "a\\b", "a,b", "a\nb", "x" * 61, "a\x07b"])
def test_a_name_that_cannot_be_typed_is_refused_in_one_sentence(name):
    with pytest.raises(ShotProblem, match="cannot be called") as told:
        shot.check(Shot(name, "camera", 1, 2))
    assert "\n" not in str(told.value) or "\n" in name


@pytest.mark.parametrize("value", [-0.1, 2.1, float("nan"), float("inf"), "1", True, None])
def test_a_dial_past_its_ends_is_refused(value):
    with pytest.raises(ShotProblem, match="looseness"):
        shot.check(Shot("a", "camera", 1, 2, dials=ShotDials(looseness=value)))


def test_finding_anew_keeps_dials_by_name_and_shots_made_by_hand():
    loose = ShotDials(looseness=0.5)
    kept = [Shot("a", "one", 1, 9, dials=loose), Shot("gone", "one", 10, 20), Shot("mine", "two", 5, 6, by_hand=True)]
    now = shot.found_anew(kept, [Shot("a", "other", 2, 30)])
    assert now == (Shot("a", "other", 2, 30, dials=loose), Shot("mine", "two", 5, 6, by_hand=True))


def test_a_change_names_its_shot_and_dial():
    shots = (Shot("a", "c", 1, 2), Shot("b", "c", 3, 4))
    now = shot.turned(shots, {("b", "dust"): 0.5, ("b", "seed"): 3.0})
    assert now == (shots[0], replace(shots[1], dials=ShotDials(dust=0.5, seed=3)))
    for wrong in (("c", "dust"), ("a", "grime")):
        with pytest.raises(ShotProblem):
            shot.turned(shots, {wrong: 1.0})
    with pytest.raises(ShotProblem, match="whole number"):
        shot.turned(shots, {("a", "seed"): 1.5})


def test_a_locked_shot_is_measured_as_one_that_is_not():
    one = Shot("a", "c", 1, 9, dials=ShotDials(dust=0.5))
    assert one.reads_as(replace(one, locked=True, note="approved", by_hand=True))
    for other in (replace(one, camera="d"), replace(one, last=8), replace(one, dials=ShotDials())):
        assert not one.reads_as(other)


@given(st.sets(st.sampled_from("abcd")), st.sets(st.sampled_from("abcd")))
def test_dials_go_to_all_that_are_named_or_to_none(locked, to):
    dials = {name: ShotDials(dust=0.1 * number) for number, name in enumerate("abcd")}
    shots = tuple(Shot(name, "c", 1, 2, dials=dials[name], locked=name in locked) for name in "abcd")
    if not to or "a" in to or to & locked:
        with pytest.raises(ShotProblem):
            shot.copied(shots, "a", to)
    else:
        now = shot.copied(shots, "a", to)
        assert [each.dials for each in now] == [dials["a" if name in to else name] for name in "abcd"]
        assert [replace(each, dials=dials[each.name]) for each in now] == list(shots)


@pytest.mark.parametrize("seed", [float("nan"), float("inf"), 1e300])
def test_a_seed_that_is_no_number_is_refused(seed):
    with pytest.raises(ShotProblem, match="seed"):
        shot.turned([Shot("a", "c", 1, 2)], {("a", "seed"): seed})


PRESET = preset.Preset(
    "test",
    "",
    preset.Fit(0.05, 0.03, 1.0, 0.1, 0.1, 0.05, 0.03, 0.5),
    Wear(0.2, Scratches(0.8, 40.0, 3.0), Smudges(0.5, 35.0), fade=Fade(4.0)),
)


def test_a_shot_multiplies_the_preset_and_stays_in_its_ranges():
    now = shot.over(ShotDials(scratches=2.0, smudges=0.5, fade=0.0, rounding=1.5), PRESET).wear
    assert (now.scratches.amount, now.smudges.amount, now.fade.delta_e) == (1.0, 0.25, 0.0)
    assert now.rounding_mm == pytest.approx(0.3)
    assert shot.over(ShotDials(), PRESET) == PRESET


@given(st.floats(0.01, 5.0), st.floats(0.05, 6.0), st.floats(0.0, 3.0))
def test_a_target_is_met_within_two_percent_or_the_most_is_told(target, slope, bend):
    def reads(looseness: float) -> float:
        return slope * looseness / (1.0 + bend * looseness)  # tolerances bind more and more

    found = shot.solved(target, reads)
    assert found.px == reads(found.dial)
    if reads(2.0) >= target:
        assert found.met
        assert found.px == pytest.approx(target, rel=0.02)
    elif reads(2.0) < 0.98 * target:
        assert not found.met
        assert found.px >= 0.98 * reads(2.0)  # and no more looseness than nearly all of it takes


def test_a_target_takes_the_least_looseness_that_gives_it():
    """Motion that grows in proportion up to 0.8 and by next to nothing from there on, as where play is used up."""

    def reads(looseness: float) -> float:
        return min(looseness, 0.8) + 0.002 * looseness

    for target in (0.8, 0.802, 0.803, 5.0):
        found = shot.solved(target, reads)
        assert found.met == (target < 5.0)
        assert 0.77 < found.dial < 0.85
    exact = shot.solved(0.4, reads)
    assert exact.px == pytest.approx(0.4, rel=0.003)  # where less looseness is less motion, nothing is given away


def facing(px_per_mm: float) -> Lens:
    """Looks down from 1 m, parallel, at so many pixels a millimetre."""
    view = ((1.0, 0.0, 0.0, 0.0), (0.0, -1.0, 0.0, 0.0), (0.0, 0.0, -1.0, 1000.0))
    return Lens(view, 1920, 1080, ortho_mm=1920 / px_per_mm)


def still(count: int) -> np.ndarray:
    return np.zeros((count, 6))


def looked_at(frame: int, lens: Lens, brick: list[int], place: np.ndarray, samples: int = 2) -> reading.View:
    return reading.View(frame, lens, np.array(brick, dtype=int), place.reshape(-1, 3), samples)


def test_a_motion_reads_as_the_way_of_its_farthest_point_that_is_seen():
    """By hand: a shift of 0.08 mm is 0.4 px at 5 px a mm; half a degree moves the corner of a 2x4 by the chord
    2 r sin(angle / 2), r half its diagonal, and a point at half that distance, where the corner is hidden, half as
    far."""
    bricks = table([(block(4, 2, 3), (0.0, 0.0, 0.0)), (block(4, 2, 3), (100.0, 0.0, 0.0))])
    moved = still(2)
    moved[0, 0], moved[1, 5] = 0.08, np.radians(0.5)
    motions = Motions.packed(moved, np.ones((2, 3)))
    corner = bricks.half_in_part[1] * (1.0, 1.0, 0.0)
    shift, twist = reading.motions_px(
        bricks,
        motions,
        looked_at(1, facing(5.0), [0, 1, 1], bricks.centre[[0, 1, 1]] + [0.0 * corner, corner, -0.5 * corner]),
    )
    radius = np.hypot(*bricks.half_in_part[1, :2])
    assert shift == pytest.approx(0.4, rel=1e-9)
    assert twist == pytest.approx(5.0 * 2.0 * radius * np.sin(np.radians(0.25)), rel=1e-6)
    (half,) = reading.motions_px(bricks, motions, looked_at(1, facing(5.0), [1], bricks.centre[1] - 0.5 * corner))
    assert half == pytest.approx(0.5 * twist, rel=1e-6)


def test_only_bricks_seen_count_and_those_off_their_studs_are_named():
    bricks = table([(block(2, 2, 3), (20.0 * n, 0.0, 0.0)) for n in range(4)])
    moved = still(4)
    moved[:, 0] = (0.1, 0.2, 1.0, 9.0)
    motions = Motions.packed(moved, np.ones((4, 3)))
    view = looked_at(7, facing(10.0), [0, 1, 1, 2], bricks.centre[[0, 1, 1, 2]], 99)
    way = reading.motions_px(bricks, motions, view)
    told = reading.reading(bricks, way, view, 0.2, {"dust": reading.Marks(0.05, 20.0)}, 3.0)
    assert (told.seen, told.samples, told.in_frame) == (3, 99, 1.0)
    assert told.missed == 0.5  # of four hits two met their brick alone
    assert (told.median_px, told.largest_px) == pytest.approx((2.0, 10.0))
    assert told.rounding_px == pytest.approx(2.0)
    assert (told.marks_px["dust"], told.texels_per_px["dust"]) == pytest.approx((0.5, 2.0))
    assert told.blur_px is None
    missed, warning = told.warnings
    assert "about 50%" in missed
    assert bricks.names[2] in warning
    assert bricks.names[3] not in warning


def test_a_frame_without_bricks_says_so():
    bricks = table([(block(2, 2, 3), (0.0, 0.0, 0.0))])
    view = looked_at(3, facing(10.0), [], np.zeros((0, 3)), 50)
    told = reading.reading(bricks, np.zeros(0), view, 0.2, {}, 3.0)
    assert (told.seen, told.median_px) == (0, 0.0)
    assert "shows no brick" in told.warnings[0]
