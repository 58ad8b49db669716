"""What a fit promises, judged by others: python-fcl and manifold3d on the moved bodies, stack-up formulae on towers."""

from dataclasses import replace
from functools import cache

import fcl
import numpy as np
import pytest
from scipy import stats
from scipy.spatial.transform import Rotation

from addon.core import draws, rigid
from addon.core.build.bricks import Bricks
from addon.core.build.contacts import contacts
from addon.core.build.touching import JOINT
from addon.core.fit import fit, targets
from addon.core.fit.limits import MARGIN_MM
from addon.core.fit.motions import Motions
from addon.core.parts.parts import Part
from addon.core.presets.preset import Fit
from bench import builds
from bench.interference import cuts, moved_boxes

manifold3d = pytest.importorskip("manifold3d")

DEEPEST = 1e-6  # mm; the judge's own accuracy
CARELESS = replace(builds.LIMITS, neatness=0.0)
ROUGH = Fit(
    shift_mm=0.3, lift_mm=0.1, twist_deg=10.0, tilt_deg=1.0, clearance_mm=0.1, play_mm=0.1, lean_mm=0.3, neatness=0.0
)
STIFF = Fit(
    shift_mm=0.3, lift_mm=0.0, twist_deg=3.0, tilt_deg=0.1, clearance_mm=0.0, play_mm=0.0, lean_mm=0.03, neatness=0.5
)


def deepest_cut(bricks: Bricks, motions: Motions) -> tuple[float, int]:
    """The deepest cut between two bricks' boxes by python-fcl, and how many pairs of boxes it looked at."""
    brick, centre, axes, half = moved_boxes(bricks, motions)
    bodies = [
        fcl.CollisionObject(fcl.Box(*(2 * h)), fcl.Transform(r, c)) for h, r, c in zip(half, axes, centre, strict=True)
    ]
    request, deepest = fcl.CollisionRequest(num_max_contacts=16, enable_contact=True), 0.0
    pairs = near(brick, centre, axes, half)
    for first, second in pairs:
        result = fcl.CollisionResult()
        fcl.collide(bodies[first], bodies[second], request, result)
        deepest = max([deepest, *(contact.penetration_depth for contact in result.contacts)])
    return deepest, len(pairs)


def near(brick, centre, axes, half) -> np.ndarray:
    """Pairs of boxes of two bricks whose upright boxes come within 0.3 mm: every pair is looked at."""
    reach = np.einsum("nij,nj->ni", np.abs(axes), half) + 0.15
    low, high = centre - reach, centre + reach
    overlap = brick[:, None] < brick[None]
    for n in range(3):
        overlap &= (low[:, None, n] <= high[None, :, n]) & (low[None, :, n] <= high[:, None, n])
    return np.argwhere(overlap)


def widest_step(bricks: Bricks, motions: Motions) -> float:
    """How far any stud has left the place in its socket where it stood, sideways; stud by stud."""
    rotation = Rotation.from_rotvec(motions.turn).as_matrix()
    widest = 0.0
    for lower, upper in fitted_joints(bricks):
        part = bricks.parts[bricks.part[lower]]
        studs = bricks.origin[lower] + part.studs @ bricks.turn[lower].T
        inside = (np.abs(studs - bricks.centre[upper])[:, :2] < bricks.half[upper][:2] - 2.0).all(axis=1)
        ways = [
            motions.shift[n] + (studs[inside] - bricks.centre[n]) @ (rotation[n] - np.eye(3)).T for n in (lower, upper)
        ]
        widest = max(widest, np.hypot(*(ways[1] - ways[0])[:, :2].T).max(initial=0.0))
    return widest


def fitted_joints(bricks: Bricks) -> list[tuple[int, int]]:
    """Pairs (lower, upper) of upright bricks whose faces meet with at least a stud's worth of overlap."""
    low, high = bricks.low, bricks.high
    pairs = []
    for lower in range(len(bricks)):
        seated = np.abs(low[:, 2] - high[lower, 2]) < 0.01
        overlap = np.minimum(high[seated], high[lower]) - np.maximum(low[seated], low[lower])
        pairs += [(lower, upper) for upper in np.flatnonzero(seated)[(overlap[:, :2] > 4.0).all(axis=1)]]
    return pairs


def arches() -> Bricks:
    """Arches and long bricks in turn, twenty high: two joints between the same two bricks."""
    plain = builds.brick(6, 1, 3)
    x, y, z = plain.body_high
    legs = np.array(
        [[[-x, -y, -z], [8.0 - x, y, z]], [[x - 8.0, -y, -z], [x, y, z]], [[8.0 - x, -y, z - 3.2], [x - 8.0, y, z]]]
    )
    arch = Part(plain.vertices, plain.body_low, plain.body_high, legs, 2, 1, plain.studs)
    number = np.arange(20)
    origin = np.column_stack([0.0 * number, 0.0 * number, 9.6 * number])
    key = draws.mixed(number.astype(np.uint64))
    return Bricks((), (plain, arch), number % 2, np.broadcast_to(np.eye(3), (20, 3, 3)).copy(), origin, key)


def turned(bricks: Bricks, vector: tuple[float, float, float]) -> Bricks:
    about = rigid.rotation(np.array(vector))[None]
    return replace(bricks, turn=rigid.product(about, bricks.turn), origin=rigid.turned(about, bricks.origin))


BUILDS = {
    "city": lambda: builds.city(2000),
    "city on plates": lambda: builds.city(1000, based=True),
    "block": lambda: builds.block(1000),
    "wall": lambda: builds.wall(1000),
    "tower": lambda: builds.tower(300),
    "stack": lambda: builds.stack(200),
    "arches": arches,
    "city at an angle": lambda: turned(builds.city(500), (0.0, 0.0, 0.3)),
    "block on its head": lambda: turned(builds.block(300), (3.141592653589793, 0.0, 0.0)),
}


@cache
def build(name: str) -> Bricks:
    return BUILDS[name]()


@cache
def fitted(name: str, limits: Fit, looseness: float) -> fit.Fitted:
    return fit.fitted(build(name), limits, 4, looseness)


def test_the_judge_sees_a_cut():
    bricks = build("stack")
    nothing = np.zeros((len(bricks), 3))
    sunk = nothing.copy()
    sunk[50, 2] = -0.01
    assert deepest_cut(bricks, Motions(sunk, nothing, np.ones_like(nothing)))[0] == pytest.approx(0.01, abs=1e-6)
    assert cuts(bricks, Motions(sunk, nothing, np.ones_like(nothing))).max() == pytest.approx(0.01, abs=1e-6)
    sunk[50] = [0.03, -0.02, 0.0]
    assert widest_step(bricks, Motions(sunk, nothing, np.ones_like(nothing))) == pytest.approx(np.hypot(0.03, 0.02))


@pytest.mark.parametrize("name", ["city", "block"])
def test_no_body_cuts_into_another_in_a_large_build(name):
    bricks = builds.KINDS[name](20_000)
    assert cuts(bricks, fit.fitted(bricks, builds.LIMITS, 4, 1.0).motions).max(initial=0.0) <= DEEPEST


@pytest.mark.parametrize("looseness", [1.0, 2.0])
@pytest.mark.parametrize("limits", [builds.LIMITS, CARELESS], ids=["usual", "careless"])
@pytest.mark.parametrize("name", BUILDS)
def test_no_body_cuts_into_another(name, limits, looseness):
    found = fitted(name, limits, looseness)
    depth, looked = deepest_cut(build(name), found.motions)
    assert looked > 0.9 * len(build(name))
    assert depth <= DEEPEST
    assert found.cut == 0


@pytest.mark.parametrize("name", ["city", "tower"])
def test_nor_under_the_roughest_hand(name):
    # A tenth of a millimetre of play, lift and lean, ten degrees of twist, a degree of tilt: still nothing cuts.
    rough = fit.fitted(builds.KINDS[name](300), ROUGH, 4, 2.0)
    assert np.degrees(np.abs(rough.motions.turn)).max() > 0.5
    assert deepest_cut(builds.KINDS[name](300), rough.motions)[0] <= DEEPEST
    assert rough.cut == 0


@pytest.mark.parametrize("name", ["city", "block", "tower", "arches"])
def test_no_volume_is_shared(name):
    # manifold3d: volumes of the intersections of the moved boxes, as meshes.
    bricks, motions = build(name), fitted(name, CARELESS, 2.0).motions
    brick, centre, axes, half = moved_boxes(bricks, motions)
    solids = [
        manifold3d.Manifold.cube(tuple(2 * h), True).transform(np.column_stack([r, c]))
        for h, r, c in zip(half, axes, centre, strict=True)
    ]
    pairs = near(brick, centre, axes, half)[:4000]
    shared = sum((solids[first] ^ solids[second]).volume() for first, second in pairs)
    assert len(pairs) > 30
    assert shared <= 1e-3  # mm³ in total


@pytest.mark.parametrize("looseness", [1.0, 2.0])
@pytest.mark.parametrize("name", ["city", "block", "wall", "tower", "stack"])
def test_every_stud_keeps_its_play(name, looseness):
    found = fitted(name, builds.LIMITS, looseness)
    step = widest_step(build(name), found.motions)
    assert step <= builds.LIMITS.play_mm + DEEPEST
    assert step > 0.9 * builds.LIMITS.play_mm  # and uses it


def standing_plates(bricks):
    return targets.base(bricks, targets.heights(bricks, contacts(bricks)))


def test_the_base_stays():
    bricks = build("city on plates")
    plates = standing_plates(bricks)
    assert plates.sum() >= 4
    motions = fitted("city on plates", CARELESS, 2.0).motions
    assert not motions.shift[plates].any()
    assert not motions.turn[plates].any()
    assert (motions.shift[~plates] != 0.0).any(axis=1).all()


@cache
def pinned(name: str, share: float, seed: int = 6) -> tuple[np.ndarray, fit.Fitted]:
    pins = np.random.default_rng(seed).random(len(build(name))) < share
    return pins, fit.fitted(build(name), CARELESS, 4, 1.0, pins)


@pytest.mark.parametrize("share", [0.01, 0.2])
@pytest.mark.parametrize("name", ["city on plates", "block", "tower"])
def test_pinned_bricks_stay_and_others_keep_clear_of_them(name, share):
    bricks, (pins, found) = build(name), pinned(name, share)
    assert not found.motions.shift[pins].any()
    assert not found.motions.turn[pins].any()
    assert deepest_cut(bricks, found.motions)[0] <= DEEPEST
    assert widest_step(bricks, found.motions) <= CARELESS.play_mm + DEEPEST
    assert found.cut == 0
    free = ~pins & ~standing_plates(bricks)
    assert (found.motions.shift[free, :2] != 0.0).any(axis=1).mean() > 0.95


def test_a_few_pins_high_up():
    assert pinned("city on plates", 0.05)[1].cut == 0


@pytest.mark.parametrize(("share", "seed"), [(0.01, 9), (0.02, 3), (0.02, 7)])
def test_a_few_pins_where_many_attempts_are_needed(share, seed):
    bricks, (_, found) = build("city on plates"), pinned("city on plates", share, seed)
    assert (found.cut, found.share.min()) == (0, 1.0)
    assert deepest_cut(bricks, found.motions)[0] <= DEEPEST


def test_a_few_pins_high_up_are_told():
    bricks, (_, found) = build("city on plates"), pinned("city on plates", 0.05)
    assert (deepest_cut(bricks, found.motions)[0] <= DEEPEST) == (found.cut == 0)


@pytest.mark.parametrize("looseness", [1.0, 2.0])
@pytest.mark.parametrize("name", ["city", "tower", "stack"])
def test_limits_that_leave_no_room_are_kept_all_the_same_and_who_goes_as_one_is_told(name, looseness):
    bricks = builds.KINDS[name](300)
    found = fit.fitted(bricks, STIFF, 4, looseness)
    assert found.cut == 0
    assert deepest_cut(bricks, found.motions)[0] <= DEEPEST
    assert widest_step(bricks, found.motions) <= MARGIN_MM + DEEPEST
    assert found.as_one > 0.9 * len(bricks)
    assert found.share.min() == 1.0


def test_limits_with_room_give_every_brick_all_it_wants():
    assert (fitted("city", CARELESS, 2.0).share == 1.0).all()


def test_the_formulae_of_a_stack_up():
    # Worst case and root sum of squares (Drake: Dimensioning and Tolerancing Handbook, McGraw-Hill 1999, ch. 9, from
    # memory); a published example: .005, .003, .002, .005 give .015 and .00794.
    assert worst_case([0.005, 0.003, 0.002, 0.005]) == pytest.approx(0.015)
    assert root_sum_square([0.005, 0.003, 0.002, 0.005]) == pytest.approx(0.00794, abs=5e-6)


def worst_case(contributions) -> float:
    return float(np.sum(np.abs(contributions)))


def root_sum_square(contributions) -> float:
    return float(np.sqrt(np.sum(np.square(contributions))))


def towers(height: int, across: int = 16) -> Bricks:
    """Towers of 2x2 bricks that stand alone, each on a corner of the patches that lean together."""
    place = np.stack(np.divmod(np.arange(across * across), across), axis=1) * 36 - 1  # 288 mm: three patches
    level = np.tile(np.arange(height), len(place))
    x, y = np.repeat(place, height, axis=0).T
    return builds.table(np.stack([x, y, 3 * level, *np.full((2, len(level)), 2), np.full(len(level), 3)], axis=1))


@cache
def tops(height: int, lean_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """How far (T, 2) the tops of towers shift, and the same of their lowest bricks."""
    limits = replace(builds.LIMITS, lean_mm=lean_mm)
    found = fit.fitted(towers(height), limits, 4, 1.0)
    assert found.cut == 0
    shift = found.motions.shift[:, :2].reshape(-1, height, 2)
    return shift[:, -1], shift[:, 0]


@pytest.mark.parametrize("height", [1, 10, 100])
def test_a_tower_never_shifts_more_than_its_joints_add_up_to(height):
    # Worst case: the lowest brick's own shift, then in each joint the play and what a tilt adds over a brick's height.
    limits = builds.LIMITS
    top, _ = tops(height, 0.5)
    tilt = 9.6 * np.radians(limits.tilt_deg)
    bound = worst_case([limits.shift_mm] + [limits.play_mm + tilt] * (height - 1))
    assert np.abs(top).max() <= bound
    # And far from it, as statistics say: no more than four times the root sum of squares.
    assert np.abs(top).max() <= 4.0 * root_sum_square([limits.shift_mm] + [limits.play_mm + tilt] * (height - 1))


def test_towers_lean_as_the_square_root_of_their_height():
    # Independent steps add up as a root sum of squares: ten times the joints, sqrt(10) times the shift. 256 towers in
    # two directions: a standard deviation is known to 1/sqrt(2 x 512) = 3 %, and four of these are allowed.
    spread = {height: np.sqrt((tops(height, 0.5)[0] ** 2).mean()) for height in (10, 100)}
    assert spread[100] / spread[10] == pytest.approx(np.sqrt(10.0), rel=0.18)


def test_a_preset_s_lean_is_that_of_towers_100_mm_high():
    limits = replace(builds.LIMITS, lean_mm=0.03)
    bricks = towers(12, across=24)
    lean = targets.leaning(bricks, bricks.low[:, 2] - bricks.low[:, 2].min(), limits, 4, 1.0)[:, :2].reshape(-1, 12, 2)
    height = 9.6 * np.arange(12)
    expected = 0.03 * np.sqrt(height[-1] / 100.0)
    # 1152 values: 2 % known, four times that allowed.
    assert lean[:, -1].std() == pytest.approx(expected, rel=0.08)


def test_sizes_decide_how_far_bricks_twist():
    # Kendall's rank correlation (scipy): the longer the line of studs that holds a brick, the less it turns.
    bricks, found = build("city"), fitted("city", builds.LIMITS, 1.0)
    joints = found.contacts.of_kind(JOINT)
    span = np.zeros(len(bricks))
    for ends in (joints.a, joints.b):
        np.maximum.at(span, ends, np.hypot(*joints.stud_half.T))
    twist = np.abs(found.motions.turn[:, 2])
    by_span = [np.sqrt((twist[span == each] ** 2).mean()) for each in np.unique(span) if (span == each).sum() > 40]
    assert len(by_span) >= 4
    assert stats.kendalltau(np.arange(len(by_span)), by_span).statistic < -0.6


@pytest.mark.parametrize("kind", ["city", "block", "wall"])
@pytest.mark.parametrize("limits", [builds.LIMITS, replace(builds.LIMITS, clearance_mm=0.02, play_mm=0.03)])
def test_more_looseness_is_more_motion(kind, limits):
    """In proportion while the joints leave room, by half at least up to 1; and never less, where they leave none."""
    bricks = builds.KINDS[kind](500)
    arm = np.linalg.norm(bricks.half, axis=1)

    def motion(looseness):
        found = fit.fitted(bricks, limits, 5, looseness).motions
        return np.median(np.hypot(*found.shift[:, :2].T) + np.linalg.norm(found.turn, axis=1) * arm)

    moved = np.array([motion(looseness) for looseness in (0.25, 0.5, 1.0, 1.5, 2.0, 3.0)])
    assert (np.diff(moved) > 0).all()
    assert moved[1] / moved[0] == pytest.approx(2.0, rel=0.1)
    assert moved[2] / moved[1] > 1.5
