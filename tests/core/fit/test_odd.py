"""Slopes, wedges, rounds, hinges, bars, balls: held on their true bodies, which the tool is told nothing of.

The builds and their judge are those of bench/odd, here a handful of the smallest; the judge itself is held against
scipy's Qhull, python-fcl, trimesh and manifold3d.
"""

from dataclasses import replace
from functools import cache

import fcl
import manifold3d
import numpy as np
import pytest
import trimesh
from scipy.spatial import ConvexHull
from scipy.spatial.transform import Rotation

from addon.core.fit.motions import Motions
from bench.odd import builds, judge, laying, parts, solids
from bench.odd.hulls import Hull, depth

STYLES = {
    "nominal": solids.Style(0.0, 16),
    "clear": solids.Style(0.1, 24),
    "coarse": solids.Style(0.0, 8, hollow=False),
}
SMALL = ("gable-25", "bay", "overhang-45", "wings", "arrows", "arcade-bow", "facade-askew", "rails", "masts", "crane")
SOUND = (*SMALL, "hips", "kites", "drums", "rounds", "brackets", "doors", "folds", "arms", "linkage", "offsets")


@cache
def court(name: str) -> judge.Court:
    return judge.Court(builds.build(name))


@pytest.mark.parametrize("name", SMALL)
def test_nothing_cuts_deeper_than_in_the_export(name):
    for seed, looseness in ((1, 1.0), (2, 2.0)):
        found = court(name).verdict(seed, looseness)
        assert found.cut <= judge.DEEPEST_MM, found.between
        assert found.step <= judge.LIMITS.play_mm + judge.DEEPEST_MM
        assert abs(found.check - found.cut) <= judge.AGREED_MM


@pytest.mark.parametrize("name", SOUND)
def test_builds_are_sound(name):
    """No two true bodies share anything in the export, and each stud stands in a brick whole or not at all."""
    whole = judge.still(np.ones((len(court(name).bricks), 3)))
    assert max([0.0, *court(name).depths(court(name).bodies(whole)).values()]) < 1e-9
    assert court(name).held


def test_builds_that_overlap_say_so():
    for name in builds.NAMES:
        if name.startswith("tight"):
            assert builds.build(name).overlaps
            bodies = court(name).bodies(judge.still(np.ones((len(court(name).bricks), 3))))
            assert 0.01 < max(court(name).depths(bodies).values()) < 0.31


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("name", parts.EXAMPLES)
def test_a_mesh_is_closed_and_around_its_pieces(name, style):
    made = parts.odd(name, STYLES[style])
    mesh = trimesh.Trimesh(made.vertices, made.triangles, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    body = manifold3d.Manifold.batch_boolean(
        [manifold3d.Manifold.hull_points(piece) for piece in made.pieces], manifold3d.OpType.Add
    )
    ring = solids.circle(solids.STUD_RADIUS, STYLES[style].facets)
    studs = len(made.studs) * ConvexHull(ring).volume * solids.STUD_HEIGHT
    if STYLES[style].hollow:
        assert mesh.volume < body.volume() + studs + 1e-6
    else:
        assert mesh.volume == pytest.approx(body.volume() + studs, abs=1e-4)


def test_the_depth_is_that_of_qhull_and_of_fcl():
    """The way out of a body is that to the nearest face of the differences of all their points, by scipy's Qhull;
    whether two meet at all is python-fcl's to say, but for what its tolerance leaves open."""
    rng = np.random.default_rng(3)
    made = [Hull.around(piece) for name in ("slope-45-2", "disc-2", "hip", "bow-4", "ball", "beam-3", "clip")
            for piece in parts.odd(name, STYLES["nominal"]).pieces]  # fmt: skip
    met = 0
    for n in range(200):
        one, other = (made[k] for k in rng.integers(len(made), size=2))
        apart = one.vertices.mean(axis=0) - other.vertices.mean(axis=0) + rng.normal(size=3)
        other = other.posed(Rotation.random(random_state=n).as_matrix(), apart)
        found = depth(one, other)
        out = -ConvexHull((one.vertices[:, None] - other.vertices[None]).reshape(-1, 3)).equations[:, 3].max()
        collides = fcl.collide(*(fcl.CollisionObject(judge.fcl_shape(each)) for each in (one, other)),
                               fcl.CollisionRequest(), fcl.CollisionResult()) > 0  # fmt: skip
        if abs(out) > 1e-4:
            assert collides == (out > 0) == (found > 0)
        if out > 0:
            assert found == pytest.approx(out, abs=1e-9)
            met += 1
    assert 30 < met < 170


@pytest.mark.parametrize("way", [0.1, 0.003, 2e-6])
def test_the_judge_sees_a_wedge_moved_into_its_neighbour(way):
    """Slant against slant: a wedge four studs long falls by one, so its slant looks along (1, 4)."""
    of = court("scarf")
    wing = next(n for n, brick in enumerate(of.build.laid) if brick.part.startswith("wing"))
    normal = of.bricks.turn[wing] @ np.array([-1.0 if of.build.laid[wing].part.endswith("1") else 1.0, 4.0, 0])
    table = np.zeros((len(of.bricks), 6))
    table[wing, :3] = way * normal / np.linalg.norm(normal)
    cuts, _ = of.cuts(Motions.packed(table, np.ones((len(of.bricks), 3))))
    assert max(cuts.values()) == pytest.approx(way, abs=1e-9)
    assert of.step(Motions.packed(table, np.ones((len(of.bricks), 3)))) == pytest.approx(way, abs=1e-9)


def test_what_the_export_holds_is_no_cut():
    of = court("tight-wings")
    cuts, pairs = of.cuts(judge.still(np.ones((len(of.bricks), 3))))
    assert pairs
    assert max(cuts.values()) == 0.0


def test_a_build_turned_as_a_whole_is_judged_alike():
    plain = builds.build("bay")
    turned = judge.Court(replace(plain, laid=tuple(laying.lying(plain.laid, builds.ASKEW))))
    table = np.random.default_rng(5).normal(size=(len(plain), 6)) * ([0.05] * 3 + [0.004] * 3)
    also = np.concatenate([table[:, :3] @ builds.ASKEW.T, table[:, 3:] @ builds.ASKEW.T], axis=1)
    shrink = np.ones((len(plain), 3))
    here, there = court("bay").cuts(Motions.packed(table, shrink))[0], turned.cuts(Motions.packed(also, shrink))[0]
    assert max(here.values()) == pytest.approx(max(there.values()), abs=1e-9)
