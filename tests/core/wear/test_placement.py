"""Reach and sky of the sides of bricks against closed forms, and rays and distances worked out one by one."""

import numpy as np
import pytest

from addon.core import draws, rigid
from addon.core.build.bricks import Bricks
from addon.core.parts.parts import Part
from addon.core.wear.placement.grid import Ruler
from addon.core.wear.placement.placement import placed
from addon.core.wear.placement.samples import samples
from addon.core.wear.placement.sky import Places, directions, openness
from addon.core.wear.placement.window import weights
from tests.core import sideways

DOWN, UP = 4, 5
WALLS = [0, 1, 2, 3]


def box(*size) -> Part:
    half = 0.5 * np.array(size, dtype=float)
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) * half
    return Part(corners, -half, half, np.array([[-half, half]]), -1, 0, np.zeros((0, 3)))


def build(*placed_at, turns=None) -> Bricks:
    """Boxes of some size (3,), each with its middle somewhere (3,)."""
    turn = np.broadcast_to(np.eye(3), (len(placed_at), 3, 3)).copy() if turns is None else np.asarray(turns)
    parts = tuple(box(*size) for size, _ in placed_at)
    at, number = np.array([where for _, where in placed_at], dtype=float), np.arange(len(placed_at))
    return Bricks(tuple(map(str, number)), parts, number, turn, at, draws.mixed(number.astype(np.uint64)))


def seen(bricks: Bricks, place, normal) -> np.ndarray:
    """The sky at places with normals, as shares of what open ground with that normal gets, times that."""
    pieces, place, normal = bricks.pieces(), np.atleast_2d(place).astype(float), np.atleast_2d(normal).astype(float)
    ruler = Ruler.around(pieces.low, pieces.high, 8.0)
    return openness(Places(ruler.at(place), normal), pieces, ruler)[0] * 0.5 * (1.0 + normal[:, 2])


def test_a_brick_alone_is_open_and_its_walls_see_half_the_sky():
    """Lambert: a level plane 1, an upright one on open ground 1/2, one that looks down none."""
    told = placed(build(((16, 32, 9.6), (0, 0, 4.8))))
    assert told.sky[0, UP] == pytest.approx(1.0, abs=1e-4)
    assert told.sky[0, WALLS] == pytest.approx(0.5, abs=1e-4)
    assert told.sky[0, DOWN] == pytest.approx(0.0, abs=1e-4)
    assert told.reach == pytest.approx(1.0)
    assert told.sheltered == pytest.approx(0.0)
    assert told.out_of_reach == pytest.approx(0.0)


@pytest.mark.shared_out
def test_the_foot_of_an_endless_wall_sees_half_the_sky():
    bricks = build(((8, 4000, 3000), (-4, 0, 1500)), ((400, 4000, 3.2), (200, 0, -1.6)))
    y = np.linspace(-10.0, 10.0, 9)
    foot = np.column_stack([np.full(9, 1.0), y, np.zeros(9)])
    assert seen(bricks, foot, np.tile([0, 0, 1.0], (9, 1))) == pytest.approx(0.5, abs=0.03)


@pytest.mark.parametrize("deep", [8.0, 16.0, 40.0])
def test_the_bottom_of_a_slot_sees_what_crossed_strings_tell(deep):
    """Hottel's crossed strings: an endless slot's bottom, w wide and d deep, sees sqrt(1 + (d / w)^2) - d / w."""
    wide = 16.0
    walls = [((8, 2000, deep), (sign * (0.5 * wide + 4.0), 0, 0.5 * deep)) for sign in (-1, 1)]
    bricks = build(*walls, ((wide + 16, 2000, 3.2), (0, 0, -1.6)))
    x, y = np.meshgrid((np.arange(10) + 0.5) / 10 * wide - 0.5 * wide, np.linspace(-8.0, 8.0, 11))
    bottom = np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])
    exact = np.hypot(1.0, deep / wide) - deep / wide
    assert seen(bricks, bottom, np.tile([0, 0, 1.0], (x.size, 1))).mean() == pytest.approx(exact, abs=0.03)


@pytest.mark.parametrize(("radius", "deep"), [(24.0, 24.0), (32.0, 64.0), (40.0, 20.0)])
def test_the_bottom_of_a_round_pit_sees_the_sine_squared_of_its_half_angle(radius, deep):
    """Lambert's view factor of a disk from the point under its middle: r^2 / (r^2 + d^2)."""
    number = 48
    turn = 2.0 * np.pi * np.arange(number) / number
    long = 2.0 * (radius + 8.0) * np.tan(np.pi / number) * 1.05
    turns = np.array([rigid.rotation(np.array([0.0, 0.0, t])) for t in turn])
    staves = [((8.0, long, deep), ((radius + 4.0) * np.cos(t), (radius + 4.0) * np.sin(t), 0.5 * deep)) for t in turn]
    bricks = build(*staves, turns=turns)
    bottom = np.array([[x, y, 0.0] for x in (-0.7, 0.1, 0.8) for y in (-0.6, 0.2, 0.9)])
    found = seen(bricks, bottom, np.tile([0, 0, 1.0], (9, 1))).mean()
    assert found == pytest.approx(radius**2 / (radius**2 + deep**2), abs=0.03)


def test_no_dust_falls_under_a_roof_as_near_as_a_third_of_a_millimetre():
    told = placed(build(((32, 32, 3.2), (0, 0, 1.6)), ((32, 32, 3.2), (0, 0, 3.2 + 0.3 + 1.6))))
    assert told.sky[0, UP] < 0.1
    assert told.sky[1, UP] == pytest.approx(1.0, abs=1e-4)
    assert told.reach[0, UP] == 0.0


@pytest.mark.parametrize(("gap", "expected"), [(14.0, 0.0), (16.0, 1.0)])
def test_a_finger_of_15_mm_goes_into_a_gap_of_16_and_not_of_14(gap, expected):
    told = placed(build(((32, 32, 32), (0, 0, 16)), ((32, 32, 32), (32 + gap, 0, 16))))
    assert told.reach[0, 1] == expected
    assert (
        placed(build(((32, 32, 32), (0, 0, 16)), ((32, 32, 32), (32 + gap, 0, 16))), fingertip_mm=2.0).reach[0, 1]
        == 1.0
    )


def test_a_wall_keeps_a_finger_off_the_ground_by_its_radius():
    """A ball that lies on a plane and against a wall touches the plane its radius from the wall."""
    told = placed(build(((32, 32, 32), (-16, 0, 16)), ((80, 32, 3.2), (40, 0, -1.6))))
    part = box(80, 32, 3.2)
    x = samples(part).place[samples(part).side == UP][:, 0] + 40.0
    assert told.reach[1, UP] == pytest.approx((x > 7.5).sum() / (x > 0.4).sum(), abs=1e-4)


def test_what_is_covered_of_a_side_says_nothing_of_the_rest():
    """A plate's end far from all that stands on it is as open as a plate alone."""
    covered, alone = ((160, 32, 3.2), (0, 0, -1.6)), ((16, 32, 9.6), (0, 0, 4.8))
    told = placed(build(covered, alone))
    x = samples(box(160, 32, 3.2)).place[samples(box(160, 32, 3.2)).side == UP][:, 0]
    free = np.abs(x) > 8.4
    assert told.reach[0, UP] == pytest.approx((np.abs(x) > 15.5).sum() / free.sum(), abs=0.02)
    assert told.sky[0, UP] > 0.95


def scattered(how: str) -> Bricks:
    """Boxes of a random town, upright on the grid, or lying on their sides, or tilted."""
    rng = np.random.default_rng(5)
    placed_at, turns = [], []
    for _ in range(40):
        size = np.array([8.0, 8.0, 3.2]) * rng.integers((1, 1, 1), (5, 3, 7))
        if how == "tilted":
            turns.append(rigid.rotation(rng.normal(size=3)))
        else:
            turns.append(np.eye(3) if how == "upright" else sideways.FORWARD)
        placed_at.append((size, rng.integers((0, 0, 0), (12, 12, 8)) * np.array([8.0, 8.0, 9.6]) + 0.5 * size))
    return build(*placed_at, turns=turns)


def boxes_met(bricks: Bricks, eye, way) -> np.ndarray:
    """Whether rays meet a box: by slabs (Kay and Kajiya 1986), box by box."""
    met = np.zeros(len(eye), dtype=bool)
    for turn, origin, part in zip(bricks.turn, bricks.origin, bricks.parts, strict=True):
        own, along = (eye - origin) @ turn, way @ turn
        with np.errstate(divide="ignore"):
            one, other = ((end - own) / along for end in (part.body_low, part.body_high))
        enter, leave = np.minimum(one, other).max(axis=1), np.maximum(one, other).min(axis=1)
        met |= leave > np.maximum(enter, 0.0)
    return met


def away_from_boxes(bricks: Bricks, places) -> np.ndarray:
    """How far places lie from the nearest box; 0 within one."""
    least = np.full(len(places), np.inf)
    for turn, origin, part in zip(bricks.turn, bricks.origin, bricks.parts, strict=True):
        own = (places - origin) @ turn
        out = np.maximum(np.maximum(part.body_low - own, own - part.body_high), 0.0)
        least = np.minimum(least, np.linalg.norm(out, axis=1))
    return least


@pytest.mark.shared_out
@pytest.mark.parametrize("how", ["upright", "on their sides", "tilted"])
def test_sky_and_reach_are_what_rays_and_distances_tell(how):
    """A cosine-weighted hemisphere of rays (Malley) from finer points; and the nearest of all boxes to a ball."""
    bricks = scattered(how)
    told = placed(bricks)
    rng = np.random.default_rng(0)
    off_sky, off_reach = [], []
    for n in range(0, 40, 3):
        own = samples(bricks.parts[n], finer=2)
        place = bricks.origin[n] + own.place @ bricks.turn[n].T
        normal = own.normal @ bricks.turn[n].T
        around = 100
        r, t = np.sqrt(rng.random((len(place), around))), 2.0 * np.pi * rng.random((len(place), around))
        first = np.cross(normal, np.where(np.abs(normal[:, :1]) < 0.6, [[1.0, 0, 0]], [[0, 1.0, 0]]))
        first /= np.linalg.norm(first, axis=1, keepdims=True)
        second = np.cross(normal, first)
        way = (r * np.cos(t))[..., None] * first[:, None] + (r * np.sin(t))[..., None] * second[:, None]
        way += np.sqrt(1.0 - r * r)[..., None] * normal[:, None]
        eye = np.repeat(place + 1e-3 * normal, around, axis=0)
        open_ = (way[..., 2] > 0.0) & ~boxes_met(bricks, eye, way.reshape(-1, 3)).reshape(len(place), around)
        centre = place + 7.5 * normal
        away = away_from_boxes(bricks, centre)
        bare = away_from_boxes(bricks, place + 0.4 * normal) > 0.39
        for side in range(6):
            mine = own.side == side
            mine &= bare if (bare & mine).any() else True
            off_sky.append(told.sky[n, side] - open_[mine].mean())
            off_reach.append(told.reach[n, side] - (away[mine] > 7.2).mean())
    assert np.abs(off_sky).mean() < 0.02
    assert np.sqrt(np.mean(np.square(off_sky))) < 0.03
    assert np.abs(off_reach).mean() < 0.03


def test_a_window_lights_what_faces_it_and_nothing_that_looks_away_or_is_covered():
    """An upright side that faces it gets the most; with no window nothing is told."""
    stack = ((16, 16, 9.6), (0, 0, 4.8)), ((16, 16, 9.6), (0, 0, 14.4))
    assert placed(build(*stack)).light is None
    for side, degrees in enumerate((180.0, 0.0, 270.0, 90.0)):  # -x, +x, -y, +y
        light = placed(build(*stack), degrees).light
        assert light[:, side] == pytest.approx(1.0, abs=0.02)
        away = side + 1 - 2 * (side % 2)
        assert light[:, away] == pytest.approx(0.1, abs=0.03)  # of the room alone
        beside = [each for each in WALLS if each not in (side, away)]
        assert (light[:, beside] < 0.45).all()
        assert light[:, beside[0]] == pytest.approx(light[:, beside[1]], abs=0.1)
        assert 0.4 < light[1, UP] < 0.8
        assert light[0, UP] == 0.0  # under the other
        assert light[1, DOWN] == 0.0


def test_a_window_turns_with_the_angle():
    for degrees in (30.0, 45.0, 77.0):
        light = placed(build(((16, 16, 9.6), (0, 0, 4.8))), degrees).light[0]
        there = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
        assert (light[1] > light[3]) == (there[0] > there[1]) or degrees == 45.0
        assert light[1] + light[3] > 1.1


def test_what_stands_before_a_side_keeps_the_window_off_it():
    """A wall 30 mm high to the east, a stud away and a hand away."""
    lone = ((16, 16, 9.6), (0, 0, 4.8))
    near, far = (placed(build(lone, ((16, 200, 30), (x, 0, 15))), 0.0).light[0, 1] for x in (24.0, 160.0))
    assert near < 0.2
    assert far > 0.85


@pytest.mark.parametrize(("away", "slack"), [(300.0, 0.04), (600.0, 0.04), (2000.0, 0.1)])
def test_a_wall_far_off_keeps_as_much_of_a_window_off_as_rays_tell(away, slack):
    """Ray by ray: what comes from a direction is kept off where it is under the wall's rim at the wall's place."""
    wall = (16.0, 2000.0, 120.0), (away, 0.0, 60.0)
    lone = (16.0, 16.0, 9.6), (0.0, 0.0, 4.8)
    found, free = (placed(build(*bricks), 0.0).light[0, 1] for bricks in ((lone, wall), (lone,)))
    way = directions()
    comes = weights(way, 0.0) * np.maximum(way[:, 0], 0.0)
    to = np.maximum(way, 1e-9) * ((away - 16.0) / np.maximum(way[:, :1], 1e-9))
    over = (to[:, 2] > 120.0 - 4.8) | (np.abs(way[:, 1]) * (away - 16.0) > 1000.0 * np.maximum(way[:, 0], 1e-9))
    expected = 0.9 * comes[over].sum() + 0.2 * 0.5 * np.maximum(way[:, 0], 0.0)[over].sum() / way[:, 0].clip(0).sum()
    assert found == pytest.approx(expected, abs=slack)
    assert found < free + 1e-9
