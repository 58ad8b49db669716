"""Light from one side: what faced the window fades, what looked away or was covered does not; and that it stays."""

from math import radians

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.errors import BuildProblem, DialProblem
from addon.core.wear.names import UNLIT
from addon.nodes import builder, window
from addon.nodes.groups import light
from addon.scene.build.build import read
from tests.blender import scenes
from tests.blender.wear.renders import ONLY_FADED, RED, apart, in_full_light, look, render, shining

# How each of the sides -x, +x, -y, +y is looked at, by a camera that looks down z first.
TOWARDS = ((90, 0, -90), (90, 0, 90), (90, 0, 0), (90, 0, 180))
UPRIGHT = 0.85  # what an upright side has of a level one's light, with a window or without


@pytest.fixture
def textures(tmp_path):
    return scenes.textures(tmp_path)


def test_each_side_of_a_brick_fades_by_its_own_light(tmp_path):
    """10 was asked; a side in half of the light fades as one at half of the dial."""
    brick = shining(RED, ONLY_FADED)
    window.lay(True)
    in_full_light(brick)
    seen = {}

    def of(side, dial=1.0):
        bpy.context.scene["playworn_wear"] = dial
        look(4.0, [radians(each) for each in TOWARDS[side]])
        return render(tmp_path, 8, 1)[..., :3].reshape(-1, 3).mean(axis=0)

    full, half = of(0), of(0, 0.5)
    brick[UNLIT[0]], brick[UNLIT[1]] = (0.0, 1.0, 1.0), (1.0, 0.5, 1.0)  # -x, -y, -z and x, y, z
    brick.update_tag()
    seen = [of(side) for side in range(4)]
    assert np.array_equal(seen[0], full)
    assert apart(RED, seen[1]) == pytest.approx(0.0, abs=1e-3)
    assert apart(RED, seen[2]) == pytest.approx(0.0, abs=1e-3)
    assert seen[3] == pytest.approx(half, abs=2e-3)
    assert apart(RED, full) > 7.0


def stamped(build):
    return [tuple(thing[name]) for thing in read(build).objects for name in UNLIT if name in thing]


def test_without_a_window_nothing_of_a_brick_is_asked(tmp_path):
    """What is asked for is a search in the renderer: the picture is the same, bit for bit."""
    brick = shining(RED, ONLY_FADED)
    bare = render(tmp_path, 16, 1)
    window.lay(True)
    assert asks() == [True]
    assert np.array_equal(render(tmp_path, 16, 1), bare)
    brick[UNLIT[0]] = brick[UNLIT[1]] = (1.0, 1.0, 1.0)
    brick.update_tag()
    assert not np.array_equal(render(tmp_path, 16, 1), bare)
    window.lay(False)
    assert asks() == [False]
    assert np.array_equal(render(tmp_path, 16, 1), bare)


def asks():
    return [light.falls(tree) for tree in bpy.data.node_groups if builder.stamp(tree) == light.KIND]


def test_a_wall_knows_its_window_and_forgets_it(extension, textures):
    build = scenes.wall(2, 2)
    dials = {"textures": textures, "rounding": "geometry"}
    usecases.apply(build, scenes.PRESET, usecases.Dials(**dials))
    assert (stamped(build), asks()) == ([], [False])
    usecases.apply(build, scenes.PRESET, usecases.Dials(**dials, window_deg=90.0))
    assert asks() == [True]
    assert usecases.recall(build).window_deg == 90.0
    for thing in read(build).objects:
        low, high = thing[UNLIT[0]], thing[UNLIT[1]]
        assert high[1] == pytest.approx(0.0, abs=0.03)  # +y
        assert low[1] == pytest.approx(0.9, abs=0.03)
    usecases.dial(build, scenes.PRESET, usecases.Dials(**dials, seed=3, window_deg=90.0))
    assert usecases.recall(build).window_deg == 90.0
    path = textures / "window.blend"
    usecases.save(path)
    build = usecases.open_build(path, build.name)
    told = stamped(build)
    usecases.apply(build, scenes.PRESET, usecases.Dials(**dials, window_deg=270.0))
    assert stamped(build) != told
    usecases.apply(build, scenes.PRESET, usecases.Dials(**dials))
    assert (stamped(build), asks()) == ([], [False])
    usecases.apply(build, scenes.PRESET, usecases.Dials(**dials, window_deg=10.0))
    usecases.clear(build)
    assert stamped(build) == []


def test_the_window_stands_where_an_object_does(extension, textures):
    build = scenes.wall(2, 2)
    lamp = bpy.data.objects.new("lamp", bpy.data.lights.new("lamp", "AREA"))
    bpy.context.scene.collection.objects.link(lamp)
    middle = np.mean([thing.location[:] for thing in build.objects], axis=0)
    for degrees in (0.0, 45.0, 200.0):
        lamp.location = middle + np.array([np.cos(radians(degrees)), np.sin(radians(degrees)), 0.3]) * 10.0
        bpy.context.view_layer.update()
        assert usecases.towards(build, lamp) == pytest.approx(degrees, abs=0.5)
    lamp.location = (*middle[:2], 1e5)
    bpy.context.view_layer.update()
    with pytest.raises(BuildProblem, match="right over or under"):
        usecases.towards(build, lamp)
    for wrong in (-1.0, 361.0, float("nan")):
        with pytest.raises(DialProblem, match=r"window .* from 0 to 360"):
            usecases.Dials(window_deg=wrong)
        with pytest.raises(DialProblem, match=r"wall .* from 0 to 360"):
            usecases.Dials(wall_deg=wrong)


def test_the_panel_turns_it(extension, textures):
    build = scenes.wall(2, 2)
    settings = bpy.context.scene.playworn
    settings.build, settings.textures, settings.preset = build, str(textures), "sun-window"
    bpy.ops.playworn.apply()
    assert stamped(build) == []
    lamp = bpy.data.objects.new("lamp", None)
    bpy.context.scene.collection.objects.link(lamp)
    lamp.location = (0.02, -10.0, 1.0)
    bpy.context.view_layer.update()
    bpy.context.view_layer.objects.active = lamp
    assert bpy.ops.playworn.window_towards() == {"FINISHED"}
    assert settings.has_window
    assert usecases.recall(build).window_deg == pytest.approx(270.0, abs=1.0)
    assert all(thing[UNLIT[0]][1] < 0.05 for thing in read(build).objects)  # -y
    settings.has_window = False
    assert usecases.recall(build).window_deg is None
    assert stamped(build) == []


def test_of_a_chosen_build_the_panel_shows_its_own_angles(extension, textures):
    """0 is one of them."""
    build = scenes.wall(2, 2)
    settings = bpy.context.scene.playworn
    settings.window_deg = settings.wall_deg = 120.0
    dials = usecases.Dials(textures=textures, window_deg=0.0, wall_deg=180.0)
    usecases.apply(build, usecases.find_preset("sun-window"), dials)
    settings.build = build
    assert (settings.has_window, settings.window_deg) == (True, 0.0)
    assert (settings.has_wall, settings.wall_deg) == (True, 180.0)
