"""Pinned bricks and bricks drawn anew, from the panel."""

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.ui import panels
from tests.blender.ui.drawing import drawn
from tests.blender.ui.walls import deltas, moved, selected


def test_pinned_bricks_go_back_and_stay(build, settings):
    settings.build = build
    assert bpy.ops.playworn.apply() == {"FINISHED"}
    thing = next(each for each in build.objects if each.delta_location.length > 0)
    name, before = thing.name, deltas()
    with bpy.context.temp_override(selected_objects=[thing]):
        assert bpy.ops.playworn.pin() == {"FINISHED"}
    assert bpy.data.objects[name].delta_location.length == 0.0
    settings.seed = 5
    assert bpy.data.objects[name].delta_location.length == 0.0
    assert bpy.ops.playworn.clear() == {"FINISHED"}
    assert bpy.data.objects[name]["playworn_pinned"]
    settings.seed = 0
    assert bpy.ops.playworn.apply() == {"FINISHED"}
    with bpy.context.temp_override(selected_objects=[bpy.data.objects[name]]):
        assert bpy.ops.playworn.unpin() == {"FINISHED"}
    assert np.array_equal(deltas(), before)
    assert "playworn_pinned" not in bpy.data.objects[name]


def test_pinning_needs_a_brick_of_the_build(build, settings):
    settings.build = build
    stranger = bpy.data.objects.new("stranger", None)
    bpy.context.scene.collection.objects.link(stranger)
    with bpy.context.temp_override(selected_objects=[stranger]), pytest.raises(RuntimeError, match="no brick of the"):
        bpy.ops.playworn.pin()
    with bpy.context.temp_override(selected_objects=[]), pytest.raises(RuntimeError, match="Select bricks first"):
        bpy.ops.playworn.pin()


def test_a_pin_is_no_reason_to_worry(build, capfd):
    with selected("brick.0.0"):
        bpy.ops.playworn.pin()
    capfd.readouterr()
    bpy.ops.playworn.apply()
    assert "left alone" not in capfd.readouterr().out
    assert "1 × is pinned" in " ".join(drawn(panels.LeftAlonePanel))


def test_a_brick_is_drawn_anew_and_the_others_give_way(build, settings):
    bpy.ops.playworn.apply()
    first = deltas()
    worn = {thing.name: list(thing["playworn_share"]) for thing in build.objects}
    with selected("brick.3.3"):
        assert bpy.ops.playworn.roll_again() == {"FINISHED"}
    second = deltas()
    assert "brick.3.3" in moved(first)
    with selected("brick.3.3"):
        bpy.ops.playworn.roll_again()
    assert "brick.3.3" in moved(first) & moved(second)
    assert {thing.name: list(thing["playworn_share"]) for thing in build.objects} == worn
    bpy.ops.playworn.clear()
    assert bpy.data.objects["brick.3.3"]["playworn_roll"] == 2
    bpy.ops.playworn.apply()
    with selected("brick.3.3"):
        assert bpy.ops.playworn.undo_rolls() == {"FINISHED"}
    assert moved(first) == set()
    assert "playworn_roll" not in bpy.data.objects["brick.3.3"]


def test_a_roll_that_is_no_whole_number_is_none(build):
    bpy.ops.playworn.apply()
    first = deltas()
    bpy.data.objects["brick.0.1"]["playworn_roll"] = "twice"
    bpy.ops.playworn.apply()
    assert moved(first) == set()


def test_what_the_panel_tells_of_pins_and_rolls_follows_undo(build, settings):
    scene = bpy.context.scene.name
    bpy.ops.playworn.apply()
    bpy.ops.ed.undo_push(message="applied")
    first, told_first = deltas(), drawn(panels.FitPanel)
    with selected(*(f"brick.{course}.1" for course in range(4))):
        bpy.ops.playworn.roll_again("EXEC_DEFAULT", True)
    with selected("brick.2.2"):
        bpy.ops.playworn.pin("EXEC_DEFAULT", True)
    assert drawn(panels.LeftAlonePanel)
    assert (usecases.recall(settings.build).pinned, usecases.recall(settings.build).rolled) == (1, 4)
    settings.wear = 0.5
    assert (usecases.recall(settings.build).pinned, usecases.recall(settings.build).rolled) == (1, 4)
    bpy.ops.ed.undo()
    assert drawn(panels.LeftAlonePanel) == []
    bpy.ops.ed.undo()
    assert np.array_equal(deltas(), first)
    assert drawn(panels.FitPanel) == told_first
    assert bpy.data.scenes[scene].playworn.build.name == "wall"
