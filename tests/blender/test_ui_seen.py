"""What the artist sees of a build that was brought in: what was found, what is no brick, each brick in its own colour."""

from pathlib import Path

import bpy
import pytest

from addon.scene import library
from addon.ui import choices, panels
from tests.blender.test_belonging import furnished
from tests.blender.test_ui import drawn


@pytest.fixture(autouse=True)
def own(tmp_path, monkeypatch) -> Path:
    """The user's presets of this test alone."""
    monkeypatch.setenv(library.FOLDER_VARIABLE, str(tmp_path / "presets"))
    choices.forget()
    return tmp_path / "presets"


@pytest.fixture
def settings(extension):
    return bpy.context.scene.playworn


def shown(panel) -> str:
    return " ".join(drawn(panel))


def test_what_is_no_brick_is_listed_before_anything_is_applied(settings):
    settings.build, others = furnished()
    assert "has no studs and no size of a brick" in shown(panels.LeftAlonePanel)
    assert all(thing.name in shown(panels.LeftAlonePanel) for thing in others)
    assert "17 bricks" in shown(panels.BuildPanel)


def test_a_thing_is_counted_in_and_left_out_from_the_panel(settings):
    settings.build, others = furnished()
    bpy.ops.playworn.apply()
    ball = others[4]
    with bpy.context.temp_override(selected_objects=[ball]):
        assert bpy.ops.playworn.count_in() == {"FINISHED"}
    assert "playworn_share" in ball
    assert "18 bricks" in shown(panels.BuildPanel)
    with bpy.context.temp_override(selected_objects=[ball]):
        assert bpy.ops.playworn.leave_out() == {"FINISHED"}
    assert "playworn_share" not in ball
    assert ball.delta_location.length == 0.0
    assert "is left out by hand" in shown(panels.LeftAlonePanel)
    with bpy.context.temp_override(selected_objects=[]), pytest.raises(RuntimeError, match="Select bricks first"):
        bpy.ops.playworn.leave_out()


def test_a_build_of_other_things_is_told_and_apply_refuses_it(settings):
    build, _ = furnished()
    bpy.data.batch_remove([thing for thing in build.objects if thing.name.startswith("part")])
    settings.build = build
    assert "is no brick build" in shown(panels.BuildPanel)
    with pytest.raises(RuntimeError, match="is no brick build"):
        bpy.ops.playworn.apply()
