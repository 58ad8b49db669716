"""Which brick of a new version is which of the old one, on a stranger's build whose truth is known."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from addon.core.build.matching import QUARTERS, match
from addon.core.parts.moments import Moments
from bench.ways.workshop import workshop
from tests.core.versions import COARSE, FINE, changed, found, lifted, moments, moved, shape, shuffled, version

COUNT = 600
BUILD = workshop(COUNT)
SAME = list(range(COUNT))
OLD = version(BUILD)


def after(build, truth=SAME, **how):
    build, truth = shuffled(build, truth)
    return match(OLD, version(build, **how)), truth


@pytest.mark.parametrize("way", [(37.3, 0.0, 0.0), (8.0, 0.0, 0.0), (-3.1, 20.0, 9.6)])
@pytest.mark.parametrize("degrees", [0.0, 90.0, 180.0, 270.0])
def test_another_origin_and_a_turn_change_nothing(way, degrees):
    told, truth = after(moved(BUILD, way, degrees))
    assert found(told, truth).all()
    assert not told.way.any()
    assert not told.turned.any()
    assert told.turn == pytest.approx(QUARTERS[int(degrees) // 90])
    assert told.shift == pytest.approx(way, abs=1e-6)


@pytest.mark.parametrize("how", [{"style": FINE}, {"noise": 0.01}, {"style": FINE, "noise": 0.01}])
def test_other_sides_noise_and_order_change_nothing(how):
    told, truth = after(BUILD, **how)
    assert found(told, truth).all()
    assert not told.way.any()


def test_a_section_goes_up_as_one():
    told, truth = after(lifted(BUILD))
    assert found(told, truth).all()
    went = np.array([brick.at[2] > 9.6 for brick in BUILD])
    assert (told.way[went] == [0.0, 0.0, 3.2]).all()
    assert not told.way[~went].any()


def test_what_stands_on_the_ground_stays_where_most_bricks_went_up():
    told, _ = after(lifted(BUILD, height=3.0))
    assert (told.way[:, 2] == 3.2).mean() > 0.5
    assert told.shift == pytest.approx(np.zeros(3), abs=1e-6)


def test_changes_are_told_and_all_else_is_kept():
    build, truth = changed(BUILD)
    told, truth = after(build, truth)
    taken_out = np.setdiff1d(SAME, truth)
    others = np.setdiff1d(truth[truth >= 0], [n for n in SAME if (BUILD[n].part, BUILD[n].colour) in likes(taken_out)])
    assert found(told, truth)[others].all()
    assert len(told.removed) - len(told.added) == len(taken_out) - (truth < 0).sum()


def likes(rows):
    return {(BUILD[n].part, BUILD[n].colour) for n in rows}


def test_a_brick_that_went_alone_is_found_with_its_turn():
    alone = next(n for n, b in enumerate(BUILD) if b.part == "slope-2-3")
    build, aside = list(BUILD), np.array([16.0, 0.0, 0.0])
    build[alone] = replace(build[alone], turn=QUARTERS[1] @ build[alone].turn, at=build[alone].at + aside)
    told, truth = after(build)
    assert found(told, truth).all()
    assert told.turned[alone] == 1
    assert np.count_nonzero(told.turned) == 1


def test_stacks_of_equal_plates_go_with_their_neighbours():
    # A plate slipped in at the bottom of one stack: of six equal ones in it the upper five went up.
    plate = replace(BUILD[0], part="plate-2-1", colour="moss")
    build = [BUILD[0], *(replace(plate, at=np.array([-20.0, 8.0, 3.2 * n])) for n in range(1, 7))]
    crown = [replace(plate, part=part, at=np.array([-20.0, 8.0, 22.4 + 9.6 * n]))
             for n, part in enumerate(("brick-2-1", "brick-1-1", "slope-2-3", "brick-2-1", "brick-1-1"))]  # fmt: skip
    old = [*build, *crown]
    up = np.array([0.0, 0.0, 3.2])
    new = [build[0], build[1], *(replace(b, at=b.at + up) for b in old[1:])]
    told = match(version(old), version(new))
    assert (told.partner[7:] == np.arange(8, 13)).all()
    assert (told.way[7:] == up).all()
    assert len(told.added) == 1
    assert not len(told.removed)


def test_as_good_as_the_best_assignment_of_all():
    # scipy's Hungarian method on the full table of distances knows no neighbours, but no assignment has less way to go.
    few = workshop(100)
    build, truth = shuffled(moved(few, (11.3, -4.0, 0.0)), list(range(100)), seed=7)
    old, new = version(few), version(build)
    told = match(old, new)
    far = np.linalg.norm(old.place[:, None] + told.shift - new.place, axis=2)
    for n, row in enumerate(far):
        alike = [new.moments.only(np.array([m])).is_like(old.moments.only(np.array([n])))[0] for m in range(100)]
        row[~np.array(alike)] = 1e6
    _, best = linear_sum_assignment(far)
    assert (told.partner == best).all()
    assert found(told, truth).all()


def test_nothing_in_common_is_all_new_and_all_gone():
    told = match(version(BUILD[:4]), version([replace(BUILD[0], part="slope-2-3")]))
    assert (told.partner < 0).all()
    assert len(told.added) == 1


def test_moments_are_those_of_the_surface():
    # A box's surface by hand: area 2 (ab + bc + ca), second moments by its six faces.
    box = np.array([[x, y, z] for x in (0.0, 2.0) for y in (0.0, 3.0) for z in (0.0, 5.0)])
    quads = np.array([(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)])
    told = Moments.of(box, np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]]))
    area = 2 * (2 * 3 + 3 * 5 + 5 * 2)
    assert told.size[0] ** 2 == pytest.approx(area)
    assert told.middle[0] == pytest.approx([1.0, 1.5, 2.5])
    across = 2 * 15 * 1.0**2 + 2 * (6 + 10) * 2.0**2 / 12
    assert told.spread[0, 0, 0] * told.size[0] == pytest.approx(across / area)
    assert told.skew[0] == pytest.approx(np.zeros(3), abs=1e-12)


def test_moments_do_not_ask_how_faces_are_cut():
    vertices, triangles = shape("slope-2-3", COARSE)
    middles = vertices[triangles].mean(axis=1)
    fan = np.arange(len(middles)) + len(vertices)
    a, b, c = triangles.T
    finer = np.concatenate([np.stack([a, b, fan], 1), np.stack([b, c, fan], 1), np.stack([c, a, fan], 1)])
    one, other = Moments.of(vertices, triangles), Moments.of(np.concatenate([vertices, middles]), finer)
    for name in ("middle", "size", "spread", "skew"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), abs=1e-9)


def test_parts_are_told_apart_and_mirror_images_too():
    names = sorted({brick.part for brick in BUILD} - {"print-2-1"})  # a print is a tile but for its colours
    all_of = Moments.joined([moments(name, COARSE) for name in names])
    for n, name in enumerate(names):
        one = all_of.only(np.full(len(names), n))
        assert [names[m] for m in np.flatnonzero(one.is_like(all_of))] == [name]
    fine = Moments.joined([moments(name, FINE) for name in names])
    assert all_of.is_like(fine).all()
