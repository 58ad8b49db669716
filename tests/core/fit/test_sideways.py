"""What points to the side is held and measured as what points up; judged by python-fcl and scipy on the bodies."""

from dataclasses import replace
from functools import cache

import fcl
import numpy as np
import pytest
from scipy.spatial import ConvexHull
from scipy.spatial.transform import Rotation

from addon.core.build.contacts import contacts
from addon.core.build.cuts import cut_pairs
from addon.core.fit import clearance, fit, overlap, summary
from addon.core.fit.motions import Motions
from addon.core.presets.preset import Fit
from bench.interference import moved_boxes
from tests.core import sideways

LIMITS = Fit(
    shift_mm=0.06, lift_mm=0.04, twist_deg=1.5, tilt_deg=0.15, clearance_mm=0.1, play_mm=0.05, lean_mm=0.05,
    neatness=0.5,
)  # fmt: skip
BUILDS = {"bracketed": sideways.bracketed, "tiled": sideways.tiled, "yard": sideways.yard}
STYLES = {"nominal": sideways.NOMINAL, "clear": sideways.CLEAR}
DEEPEST, DEEP = 1e-6, 0.5


@cache
def build(name: str, style: str):
    return BUILDS[name](STYLES[style])


def depths(bricks, motions) -> dict[tuple[int, int], float]:
    """How deep (mm) each pair of solids of two bricks cuts, by python-fcl; by scipy where one is no box. What lies in
    an opening is left out: its play is looked at."""
    brick, centre, axes, half = moved_boxes(bricks, motions)
    pieces = bricks.pieces()
    bodies = [
        fcl.CollisionObject(fcl.Box(*(2 * h)), fcl.Transform(r, c)) for h, r, c in zip(half, axes, centre, strict=True)
    ]
    reach = np.einsum("nij,nj->ni", np.abs(axes), half)
    low, high = centre - reach, centre + reach
    meets = (brick[:, None] < brick[None]) & (low[:, None] <= high[None]).all(2) & (low[None] <= high[:, None]).all(2)
    request, found = fcl.CollisionRequest(num_max_contacts=16, enable_contact=True), {}
    for first, second in np.argwhere(meets).tolist():
        result = fcl.CollisionResult()
        fcl.collide(bodies[first], bodies[second], request, result)
        if result.contacts and "pin" not in {bricks.names[n].split()[0] for n in brick[[first, second]]}:
            found[first, second] = max(contact.penetration_depth for contact in result.contacts)
        deep = found.get((first, second), 0.0)
        if deep > DEEP or (deep > 0.0 and pieces.hull[[first, second]].any()):
            solids = (centre[n] + pieces.hulls[pieces.hull[n]].corners * half[n] @ axes[n].T for n in (first, second))
            found[first, second] = way_out(*solids)
    return found


def way_out(one, other) -> float:
    """How far (mm) one solid would have to move to leave another, 0 where they are apart: from the middle to the
    nearest face of all differences of their corners, by scipy's Qhull."""
    differences = (one[:, None] - other[None]).reshape(-1, 3)
    return float(max(-ConvexHull(differences).equations[:, 3].max(), 0.0))


def excess(bricks, motions, at_rest) -> float:
    """How much deeper (mm) a pair cuts than in the export."""
    return max([0.0, *(deep - at_rest.get(pair, 0.0) for pair, deep in depths(bricks, motions).items())])


def still(bricks):
    return Motions.packed(np.zeros((len(bricks), 6)), np.ones((len(bricks), 3)))


@cache
def at_rest(name: str, style: str):
    return depths(build(name, style), still(build(name, style)))


@pytest.mark.shared_out
@pytest.mark.parametrize("looseness", [1.0, 2.0])
@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("name", BUILDS)
def test_nothing_cuts_deeper_than_in_the_export(name, style, looseness):
    bricks = build(name, style)
    for seed in range(10 if len(bricks) < 20 else 2):
        found = fit.fitted(bricks, LIMITS, seed, looseness)
        assert found.cut == 0
        assert excess(bricks, found.motions, at_rest(name, style)) <= DEEPEST
        told = overlap.largest_interference(bricks, found.contacts, found.motions)
        assert told <= 1e-4
        assert widest_step(bricks, found) <= LIMITS.play_mm + DEEPEST


LYING = {
    "on its head": np.diag([1.0, -1.0, -1.0]),
    "on its side": Rotation.from_euler("x", 90, degrees=True).as_matrix(),
    "at an angle": Rotation.from_rotvec([0.7, -0.4, 1.1]).as_matrix(),
    "mirrored": np.diag([-1.0, 1.0, 1.0]),
}


@pytest.mark.parametrize("lies", LYING)
@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("name", BUILDS)
def test_however_the_build_lies(name, style, lies):
    plain, turn = build(name, style), LYING[lies]
    bricks = replace(plain, turn=turn @ plain.turn, origin=plain.origin @ turn.T)
    found = fit.fitted(bricks, LIMITS, 1, 2.0)
    assert found.cut == 0
    assert excess(bricks, found.motions, depths(bricks, still(bricks))) <= DEEPEST
    assert widest_step(bricks, found) <= LIMITS.play_mm + DEEPEST


def widest_step(bricks, found) -> float:
    """How far any stud that is held has left its place in the socket, across its own axis; stud by stud."""
    joints, motions = np.flatnonzero(found.contacts.held), found.motions
    rotation, widest = Rotation.from_rotvec(motions.turn).as_matrix(), 0.0
    for n in joints:
        a, b, axes = found.contacts.a[n], found.contacts.b[n], found.contacts.axes[n]
        corners = [(sx, sy) for sx in (-1, 1) for sy in (-1, 1)]
        at = found.contacts.stud_middle[n] + found.contacts.stud_half[n] * corners
        places = found.contacts.place[n] + at @ axes[:2]
        ways = [motions.shift[k] + (places - bricks.centre[k]) @ (rotation[k] - np.eye(3)).T for k in (a, b)]
        widest = max(widest, np.linalg.norm((ways[1] - ways[0]) @ axes[:2].T, axis=1).max())
    return widest


def test_studs_to_the_side_hold():
    held = {tuple(sorted((bricks.names[a], bricks.names[b]))) for bricks in [build("bracketed", "clear")]
            for a, b in contacts(bricks).joints}  # fmt: skip
    assert ("bracket-2 1", "plate-2-1 2") in held
    assert ("plate-2-1 2", "tile-2-1 3") in held
    assert ("bracket-2 1", "brick-2-2 0") in held
    tiled = build("tiled", "nominal")
    assert ("side 1", "tile-2-1 2") in {
        tuple(sorted((tiled.names[a], tiled.names[b]))) for a, b in contacts(tiled).joints
    }


@pytest.mark.parametrize("name", ["bracketed", "tiled"])
def test_nothing_is_told_of_a_sound_build(name):
    for style in STYLES:
        bricks = build(name, style)
        assert not len(cut_pairs(bricks))
        assert not summary.loose_bricks(bricks, contacts(bricks)).any()


@pytest.mark.parametrize("degrees", [0.0, 30.0, 44.0, 46.0, 90.0, 180.0])
def test_seams_are_those_of_the_part_at_any_angle(degrees):
    """Clearance is taken off the walls around a part's studs, however it lies; none off the faces that studs meet."""
    plain = build("bracketed", "nominal")
    turn = Rotation.from_euler("x", degrees, degrees=True).as_matrix()
    turned = replace(plain, turn=turn @ plain.turn, origin=plain.origin @ turn.T)
    assert clearance.shrinkage(turned, 0.1) == pytest.approx(clearance.shrinkage(plain, 0.1))
    plate = plain.names.index("plate-2-1 2")
    size = 2.0 * plain.half_in_part[plate]
    assert size * (1.0 - clearance.shrinkage(turned, 0.1)[plate]) == pytest.approx([0.2, 0.2, 0.0])


def test_what_lies_lower_lifts_nothing():
    bricks = build("tiled", "clear")
    alone = fit.fitted(bricks, LIMITS, 3, 1.0).motions
    far = replace(
        bricks,
        names=(*bricks.names, "low"),
        part=np.append(bricks.part, bricks.part[0]),
        turn=np.concatenate([bricks.turn, bricks.turn[:1]]),
        origin=np.concatenate([bricks.origin, bricks.origin[:1] - (0, 0, 300.0)]),
        key=np.append(bricks.key, np.uint64(7)),
    )
    with_it = fit.fitted(far, LIMITS, 3, 1.0).motions
    assert np.array_equal(with_it.shift[: len(bricks)], alone.shift)
    assert np.array_equal(with_it.turn[: len(bricks)], alone.turn)
