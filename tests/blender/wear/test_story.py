"""A preset's story on a build: what bricks are told of their sides, and that it stays and goes with the rest."""

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.presets import preset as presets
from addon.core.wear.names import SHELTERED, UNLIT, UNREACHED
from addon.scene.build.build import read
from tests.blender import scenes


@pytest.fixture
def textures(tmp_path):
    return scenes.textures(tmp_path)


def told(build):
    """What kept hands and dust off each side, bricks from the ground up: (N, 12)."""
    rows = [
        (thing.location.z, *(x for name in (*UNREACHED, *SHELTERED) for x in thing[name])) for thing in bricks(build)
    ]
    return np.array(sorted(rows))[:, 1:]


def bricks(build):
    return [thing for thing in read(build).objects if UNREACHED[0] in thing]


def with_story(**values):
    return presets.changed(scenes.PRESET, {f"story.{name}": value for name, value in values.items()}, "--set")


def test_a_story_is_what_bricks_are_told_and_leaves_with_the_rest(extension, textures):
    build = scenes.wall(2, 6)
    dials = usecases.Dials(textures=textures)
    usecases.apply(build, scenes.PRESET, dials)
    bare = told(build)
    usecases.apply(build, with_story(grip=1.0), dials)
    top = told(build)
    assert (top[:, :6] >= bare[:, :6]).all()
    assert top[0, :2] == pytest.approx(1.0)  # the lowest brick's walls are out of reach
    assert np.array_equal(top[-1, 3:5], bare[-1, 3:5])
    assert np.array_equal(top[:, 6:], bare[:, 6:])  # dust does not ask where hands took hold
    usecases.dial(build, usecases.recall(build).preset, usecases.Dials(textures=textures, seed=3))
    assert np.array_equal(told(build), top)
    path = textures / "story.blend"
    usecases.save(path)
    build = usecases.open_build(path, build.name)
    assert usecases.recall(build).preset.story.grip == 1.0
    assert np.array_equal(told(build), top)
    usecases.apply(build, scenes.PRESET, dials)
    assert np.array_equal(told(build), bare)
    usecases.clear(build)
    assert not [thing for thing in build.all_objects if UNREACHED[0] in thing or SHELTERED[0] in thing]


def test_a_turned_story_is_as_one_that_was_applied(extension, textures):
    build = scenes.wall(2, 4)
    dials, story = usecases.Dials(textures=textures), with_story(grip=-0.5, played=0.5, dusted=1.0)
    usecases.apply(build, story, dials)
    applied = told(build)
    usecases.apply(build, scenes.PRESET, dials)
    groups = {tree.name for tree in bpy.data.node_groups}
    usecases.dial_wear(build, story, dials)
    assert np.array_equal(told(build), applied)
    assert {tree.name for tree in bpy.data.node_groups} == groups
    assert usecases.recall(build).preset == story


def test_the_panel_tells_it(extension, textures):
    build = scenes.wall(2, 4)
    settings = bpy.context.scene.playworn
    settings.build, settings.textures, settings.preset = build, str(textures), "display-shelf"
    bpy.ops.playworn.apply()
    bare = told(build)
    settings.story.grip = -1.0
    assert usecases.recall(build).preset.story.grip == -1.0
    assert (told(build) != bare).any()
    settings.looseness = 0.5
    settings.quality = "draft"
    assert usecases.recall(build).preset.story.grip == -1.0
    settings.preset = "fresh"  # another preset has a story of its own
    assert settings.story.grip == usecases.recall(build).preset.story.grip == 0.0
    settings.story.dusted = 1.0
    assert bpy.ops.playworn.reset_story() == {"FINISHED"}
    assert usecases.recall(build).preset.story.dusted == 0.0
    assert np.array_equal(told(build), bare)
    with pytest.raises(RuntimeError, match="preset's own"):
        bpy.ops.playworn.reset_story()


def test_a_wall_keeps_hands_and_light_off_and_is_remembered(extension, textures):
    build = scenes.wall(2, 4)
    dials = usecases.Dials(textures=textures, wall_deg=90.0)
    usecases.apply(build, scenes.PRESET, dials)
    for thing in bricks(build):
        assert (thing[UNREACHED[1]][1], thing[UNLIT[1]][1]) == pytest.approx((1.0, 1.0))  # +y
        assert thing[UNLIT[0]][1] == pytest.approx(0.0)  # -y
    path = textures / "wall.blend"
    usecases.save(path)
    build = usecases.open_build(path, build.name)
    assert usecases.recall(build).wall_deg == 90.0
    usecases.apply(build, scenes.PRESET, usecases.Dials(textures=textures))
    assert not [thing for thing in bricks(build) if UNLIT[0] in thing]


def test_the_panel_puts_the_wall_where_the_active_object_is(extension, textures):
    build = scenes.wall(2, 4)
    settings = bpy.context.scene.playworn
    settings.build, settings.textures, settings.preset = build, str(textures), "attic"
    bpy.ops.playworn.apply()
    board = bpy.data.objects.new("board", None)
    bpy.context.scene.collection.objects.link(board)
    board.location = (0.05, 10.0, 0.02)
    bpy.context.view_layer.update()
    bpy.context.view_layer.objects.active = board
    assert bpy.ops.playworn.wall_towards() == {"FINISHED"}
    assert settings.has_wall
    assert usecases.recall(build).wall_deg == pytest.approx(90.0, abs=1.0)
    assert usecases.recall(build).window_deg is None
    assert all(thing[UNREACHED[1]][1] == pytest.approx(1.0, abs=0.01) for thing in bricks(build))
    settings.has_wall = False
    assert usecases.recall(build).wall_deg is None
