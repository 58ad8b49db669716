"""The lattice is looked for in walls drawn at random, whose scale and axis the test knows because it chose them.

Pitch 8.0, plate 3.2, stud 1.7, clearance 0.1 mm per side: common practice of the trade, no published source.
"""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from addon.core.build import lattice
from addon.core.build.boxes import Boxes, box
from addon.core.build.lattice import NOMINAL_MM, at, find

PARTS = ((1, 1, 3), (1, 2, 3), (2, 2, 3), (2, 4, 3), (1, 1, 1), (1, 2, 1), (2, 4, 1), (2, 8, 1), (1, 4, 3))
INCH = 25.4


def wall(seed, count, clearance=0.1, stud=1.7, parts=PARTS, extent=(12, 12, 20)):
    """Boxes in mm of a random build, up along z: (low, high, body low, body high)."""
    rng = np.random.default_rng(seed)
    wide, deep, plates = np.array(parts)[rng.integers(len(parts), size=count)].T
    turned = rng.random(count) < 0.5
    studs = np.stack([np.where(turned, deep, wide), np.where(turned, wide, deep)], axis=1)
    low = np.concatenate(
        [rng.integers(0, extent[:2], size=(count, 2)) * 8.0, rng.integers(0, extent[2], (count, 1)) * 3.2], axis=1
    )
    high = low + np.concatenate([studs * 8.0, plates[:, None] * 3.2], axis=1)
    side = np.array([clearance, clearance, 0.0])
    return low + side, high - side + [0, 0, stud], low + side, high - side


def placed(corners, mm_per_unit, up=2, sign=1, origin=(311.7, -92.4, 1234.5), dtype=np.float64):
    """The same boxes as a file would hold them: turned so that z becomes `up`, shifted, in its units."""
    low, high, body_low, body_high = (corner + origin for corner in corners)
    if sign < 0:
        low, high, body_low, body_high = -high, -low, -body_high, -body_low
    order = np.roll(np.arange(3), up - 2)
    turned = [
        (corner[:, order] / mm_per_unit).astype(dtype).astype(float) for corner in (low, high, body_low, body_high)
    ]
    return Boxes(*turned)


def joined(first, second):
    return Boxes(
        *(np.concatenate([getattr(b, n) for b in (first, second)]) for n in ("low", "high", "body_low", "body_high"))
    )


def recovered(scale):
    """The scale itself; one that lies within 5 µm over the build of a named unit may be taken for that unit."""
    near_a_named_unit = any(abs(scale / named - 1) < 2e-4 for named in NOMINAL_MM.values())
    return pytest.approx(scale, rel=2e-4 if near_a_named_unit else 1e-6)


scales = st.one_of(st.sampled_from([*NOMINAL_MM.values(), 0.4, 1 / 0.4, 1000 / 1.7, 304.8]), st.floats(1e-3, 1e3))


@settings(max_examples=300, deadline=None)
@given(
    seed=st.integers(0, 2**32),
    count=st.integers(5, 120),
    scale=scales,
    up=st.integers(0, 2),
    sign=st.sampled_from([1, -1]),
    clearance=st.sampled_from([0.0, 0.05, 0.1, 0.2]),
)
@example(seed=0, count=5, scale=1.0, up=0, sign=-1, clearance=0.2)
def test_any_scale_and_any_axis_is_recovered(seed, count, scale, up, sign, clearance):
    found = find(placed(wall(seed, count, clearance), scale, up, sign))
    assert (found.up, found.sign) == (up, sign)
    assert found.mm_per_unit == recovered(scale)
    assert found.share_on_lattice == 1


@settings(max_examples=100, deadline=None)
@given(seed=st.integers(0, 2**32), scale=scales, up=st.integers(0, 2), sign=st.sampled_from([1, -1]))
def test_at_a_scale_that_is_known_the_upright_axis_is_found(seed, scale, up, sign):
    found = at(placed(wall(seed, 60), scale, up, sign), scale)
    assert (found.mm_per_unit, found.up, found.sign, found.share_on_lattice) == (scale, up, sign, 1)
    assert at(placed(wall(seed, 60), scale, up, sign), 1.37 * scale, 1).share_on_lattice < 0.9


def test_at_a_scale_that_nothing_fits_that_scale_is_kept():
    rng = np.random.default_rng(5)
    low = rng.uniform(0.0, 300.0, (40, 3))
    high = low + rng.uniform(3.0, 30.0, (40, 3))
    found = at(Boxes(low, high, low, high), 25.4, 1)
    assert (found.mm_per_unit, found.up, found.sign, found.share_on_lattice) == (25.4, 1, 1, 0.0)
    assert "No scale" in found.warnings[0]


@settings(max_examples=150, deadline=None)
@given(seed=st.integers(0, 2**32), count=st.integers(25, 120), scale=scales, up=st.integers(0, 2))
def test_without_a_single_stud(seed, count, scale, up):
    """Tiles only: the axis must come from the spacing, the scale from spacing and sizes."""
    found = find(placed(wall(seed, count, stud=0.0), scale, up))
    assert found.up == up
    assert found.mm_per_unit == recovered(scale)


@pytest.mark.parametrize("name", NOMINAL_MM)
def test_a_named_unit_is_found_exactly_whatever_the_format_says(name):
    found = find(placed(wall(3, 60), NOMINAL_MM[name], dtype=np.float32), expected_mm=1000.0)
    assert found.mm_per_unit == NOMINAL_MM[name]
    assert bool(found.warnings) == (name != "metres")


def test_single_precision_far_from_the_origin():
    found = find(placed(wall(4, 200), 1000 / 1.7, origin=(5000, 5000, 0), dtype=np.float32))
    assert found.mm_per_unit == pytest.approx(1000 / 1.7, rel=1e-5)


@pytest.mark.parametrize(
    "parts",
    [[(2, 4, 1)], [(1, 1, 3)], [(1, 1, 1)], [(2, 2, 3)], [(1, 2, 3), (2, 2, 1)], [(4, 4, 3)]],
    ids=["all plates", "only 1x1 bricks", "only 1x1 plates", "only 2x2", "two parts", "only 4x4"],
)
@pytest.mark.parametrize("scale", [1000.0, 1.0, INCH, 0.4, 588.2])
def test_false_friends(parts, scale):
    found = find(placed(wall(5, 40, parts=parts), scale, up=1), expected_mm=scale if scale == 1 else 1000.0)
    assert (found.mm_per_unit, found.up) == (pytest.approx(scale, rel=1e-6), 1)


@pytest.mark.parametrize("scale", [1000.0, 1.0, 0.4, 588.2])
def test_a_plain_stack_of_2x2(scale):
    """One position sideways: only heights and sizes tell."""
    count = 12
    low = np.outer(np.arange(count), [0, 0, 9.6]) + np.array([0.1, 0.1, 0])
    body = low + np.array([15.8, 15.8, 9.6])
    found = find(placed((low, body + np.array([0, 0, 1.7]), low, body), scale, up=0))
    assert (found.mm_per_unit, found.up) == (pytest.approx(scale, rel=1e-6), 0)


def test_one_brick_is_read_off_its_size_and_says_so():
    found = find(placed(wall(6, 1), 10.0), expected_mm=1000.0)
    assert found.mm_per_unit == 10.0
    assert "one brick" in found.warnings[0]


@pytest.mark.parametrize("seed", range(5))
def test_a_third_at_odd_angles_and_junk_are_outvoted(seed):
    rng = np.random.default_rng(seed)
    low = rng.uniform(0, 100, (30, 3))
    high = low + rng.uniform(3, 40, (30, 3))
    crooked = placed((low, high, low, high), INCH, up=1)
    found = find(joined(placed(wall(seed, 60), INCH, up=1), crooked))
    assert (found.mm_per_unit, found.up, found.sign) == (INCH, 1, 1)
    assert found.share_on_lattice == pytest.approx(2 / 3, abs=0.05)
    assert any("off the brick lattice" in warning for warning in found.warnings)


@pytest.mark.parametrize(("scale", "near"), [(1000.0, 0), (10.0, 0), (588.2, 1e-4)])
def test_a_build_already_shaken_is_still_read(scale, near):
    """Shifts of 0.03 mm about the lattice, as a hand leaves them."""
    boxes = placed(wall(11, 80), 1.0)
    shift = np.random.default_rng(0).normal(0, 0.03, (80, 3))
    shaken = Boxes(*((getattr(boxes, n) + shift) / scale for n in ("low", "high", "body_low", "body_high")))
    assert find(shaken, expected_mm=scale if near else 1.0).mm_per_unit == pytest.approx(scale, rel=near)


def test_a_third_on_their_side_are_outvoted():
    found = find(joined(placed(wall(7, 60), 1.7), placed(wall(8, 30), 1.7, up=0)))
    assert (found.mm_per_unit, found.up, found.sign) == (pytest.approx(1.7, rel=1e-6), 2, 1)


@pytest.mark.parametrize("seed", range(20))
def test_things_that_are_no_bricks_keep_the_formats_unit_with_a_word(seed):
    rng = np.random.default_rng(seed)
    low = rng.uniform(0, 200, (40, 3))
    high = low + rng.uniform(2, 90, (40, 3))
    found = find(Boxes(low, high, low, high), expected_mm=1000.0, up=1)
    assert (found.mm_per_unit, found.up, found.share_on_lattice) == (1000.0, 1, 0.0)
    assert "No scale" in found.warnings[0]


def test_no_object_and_flat_objects():
    nothing = np.empty((0, 3))
    assert find(Boxes(*[nothing] * 4)).warnings
    flat = np.zeros((4, 3))
    wide = np.tile([1.0, 1.0, 0.0], (4, 1))
    assert find(Boxes(flat, wide, flat, wide)).warnings


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 2**32),
    scale=scales,
    up=st.integers(0, 2),
    sign=st.sampled_from([1, -1]),
    foot=st.sampled_from([0.4, 0.9, 1.6]),
    footed=st.floats(0.3, 1.0),
    studded=st.floats(0.2, 1.0),
)
@example(seed=0, scale=1000.0, up=2, sign=1, foot=0.5, footed=1.0, studded=0.0)
def test_feet_and_grooves_are_no_studs(seed, scale, up, sign, foot, footed, studded):
    """Tiles with a groove around their foot, round bricks and plates on a narrower one."""
    low, high, body_low, body_high = wall(seed, 80)
    draws = np.random.default_rng(seed).random((2, len(low)))
    body_low = body_low + np.outer(draws[0] < footed, [0, 0, foot])
    high = np.where((draws[1] < studded)[:, None], high, body_high)
    found = find(placed((low, high, body_low, body_high), scale, up, sign), up=up)
    assert found.mm_per_unit == recovered(scale)
    assert found.share_on_lattice == 1
    feet, studs = (draws < [[footed], [studded]]).sum(axis=1)
    if studs and (foot < 1.4 or feet < studs):  # feet of a stud's height under all are as good as studs
        assert (found.up, found.sign) == (up, sign)


def test_the_body_leaves_the_stud_out():
    corners = np.array([[x, y, z] for x in (0.1, 7.9) for y in (0.1, 7.9) for z in (0, 3.2)])
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    stud = np.array([[4 + 2.4 * np.cos(t), 4 + 2.4 * np.sin(t), z] for t in turn for z in (3.2, 4.9)])
    low, high, body_low, body_high = box(np.concatenate([corners, stud]))
    assert np.allclose(high, [7.9, 7.9, 4.9])
    assert np.allclose(body_high, [7.9, 7.9, 3.2])
    assert np.allclose(low, body_low)


def test_ten_thousand_bricks_cost_little():
    from time import perf_counter

    boxes = placed(wall(9, 10_000, extent=(200, 200, 100)), 588.2)
    began = perf_counter()
    found = find(boxes)
    assert found.mm_per_unit == pytest.approx(588.2, rel=1e-6)
    assert perf_counter() - began < 2


@given(
    seed=st.integers(0, 2**32),
    count=st.integers(1, 400),
    name=st.sampled_from(sorted(NOMINAL_MM)),
    up=st.integers(0, 2),
)
def test_the_short_way_finds_what_the_long_way_finds(seed, count, name, up):
    boxes, expected = placed(wall(seed, count), NOMINAL_MM[name], up), NOMINAL_MM[name]
    short = find(boxes, expected, up)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(lattice, "_plain", lambda *_: None)
        assert find(boxes, expected, up) == short


@pytest.mark.parametrize("apart", [304.3, 302.0, 301.3, 1203.1])
@pytest.mark.parametrize(("unit", "expected"), [(1.0, 1.0), (1000.0, 1000.0), (10.0, 1.0), (25.4, 1000.0)])
def test_two_builds_side_by_side_out_of_step(apart, unit, expected):
    one = wall(5, 120)
    both = tuple(np.concatenate([corner, corner + np.array([apart, 0, 0])]) for corner in one)
    assert find(placed(both, unit), expected).mm_per_unit == unit


@pytest.mark.parametrize("off", [1.0005, 0.998])
def test_a_scale_near_a_named_one_is_not_taken_for_it(off):
    found = find(placed(wall(6, 120), off), 1.0)
    assert found.mm_per_unit == pytest.approx(off, rel=1e-5)


@pytest.mark.parametrize("named", NOMINAL_MM.values(), ids=NOMINAL_MM)
def test_a_unit_in_single_precision_is_the_same_unit(named):
    """As a scene keeps its own: 0.001 is 0.0010000000475 there."""
    grown = (corner * [1.0, 1.0, 1.07] for corner in wall(5, 30))  # so that the file's own unit is not plainly true
    corners = [np.concatenate(pair) for pair in zip(wall(3, 40), grown, strict=True)]
    boxes = placed(corners, named)
    said = find(boxes, expected_mm=float(np.float32(named / 1000.0)) * 1000.0).warnings
    assert not any("believed" in sentence for sentence in said)
    assert any("believed" in sentence for sentence in find(boxes, expected_mm=1.1 * named).warnings)
