"""What follows reach and sky: marks end where no finger gets to, dust where no sky is seen."""

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.wear.names import SHELTERED, UNREACHED
from addon.scene.build.build import read
from tests.blender.scenes import PRESET, wall
from tests.blender.wear.renders import (
    BLUE,
    ONLY_DUSTY,
    ONLY_RUBBED,
    ONLY_SCRATCHED,
    ONLY_SMUDGED,
    across_the_edge,
    look,
    render,
    shining,
)

PLACED = (*UNREACHED, *SHELTERED)
OPEN, COVERED = (0.0, 0.0, 0.0), (1.0, 1.0, 1.0)


def shaded(tmp_path):
    return render(tmp_path, 16, 4)[..., :3]


@pytest.mark.parametrize(
    ("wear", "names", "what"),
    [
        (ONLY_DUSTY, SHELTERED, "Base Color"),
        (ONLY_SCRATCHED, UNREACHED, "Roughness"),
        (ONLY_SMUDGED, UNREACHED, "Roughness"),
    ],
    ids=["dust", "scratches", "smudges"],
)
def test_a_side_that_is_covered_is_clean_and_half_covered_half_as_worn(wear, names, what, tmp_path):
    brick = shining(BLUE, wear, what)
    look(10.0)
    before = shaded(tmp_path)
    for name in PLACED:
        brick[name] = OPEN
    assert np.array_equal(shaded(tmp_path), before)  # a file of an older version is open all over
    brick[names[1]] = (0.0, 0.0, 1.0)
    clean = shaded(tmp_path)
    assert clean.std(axis=(0, 1)) == pytest.approx(0.0, abs=1e-6)
    assert not np.array_equal(clean, before)
    brick[names[1]] = (0.0, 0.0, 0.5)
    half = shaded(tmp_path)
    assert (half - clean).mean() == pytest.approx(0.5 * (before - clean).mean(), rel=0.03)
    brick[names[0]], brick[names[1]] = COVERED, (1.0, 1.0, 0.0)  # all sides but the one that is seen
    assert shaded(tmp_path) == pytest.approx(before, abs=1e-6)


def test_the_sides_are_those_of_the_brick_and_not_of_the_world(tmp_path):
    brick = shining(BLUE, ONLY_DUSTY)
    brick.rotation_euler = (0.0, np.pi / 2, 0.0)  # its -x looks up
    look(10.0)
    before = shaded(tmp_path)
    brick[SHELTERED[1]] = COVERED
    brick[SHELTERED[0]] = (0.0, 1.0, 1.0)
    assert shaded(tmp_path) == pytest.approx(before, abs=1e-6)
    brick[SHELTERED[0]] = (1.0, 0.0, 0.0)
    assert shaded(tmp_path) == pytest.approx(np.broadcast_to(BLUE, before.shape), abs=1e-6)


def test_an_edge_that_no_finger_gets_to_is_not_rubbed(tmp_path):
    brick = shining(BLUE, ONLY_RUBBED)
    assert across_the_edge(tmp_path)[-1, 0] > BLUE[0] + 0.03
    brick[UNREACHED[0]] = brick[UNREACHED[1]] = COVERED
    assert across_the_edge(tmp_path)[:, 0] == pytest.approx(BLUE[0], abs=1e-6)


@pytest.mark.usefixtures("extension")
def test_apply_tells_each_brick_and_clear_takes_it_off_again():
    build = wall()
    things = read(build).objects
    usecases.apply(build, PRESET, usecases.Dials(seed=7))
    told = {thing.name: [list(thing[name]) for name in PLACED] for thing in things}
    top = [thing for thing in things if thing[SHELTERED[1]][2] == 0.0]
    assert 0 < len(top) < len(things)
    highest = max(thing.matrix_world.translation.z for thing in things)
    assert all(thing in top for thing in things if thing.matrix_world.translation.z > highest - 1e-6)
    usecases.dial(build, PRESET, usecases.Dials(seed=3, looseness=2.0))
    usecases.apply(build, PRESET, usecases.Dials(seed=9, looseness=0.5))
    assert {thing.name: [list(thing[name]) for name in PLACED] for thing in things} == told  # of the build alone
    usecases.clear(build)
    assert not any(name.startswith("playworn") for thing in things for name in thing.keys())  # noqa: SIM118  an object is no dict


@pytest.mark.usefixtures("extension")
def test_what_raises_on_the_way_leaves_no_brick_told(monkeypatch):
    build = wall()
    before = {thing.name: dict(thing.items()) for thing in read(build).objects}
    monkeypatch.setattr(usecases.wear.look, "_remember", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        usecases.apply(build, PRESET, usecases.Dials(seed=7))
    assert {thing.name: dict(thing.items()) for thing in bpy.data.collections["build"].all_objects} == before
