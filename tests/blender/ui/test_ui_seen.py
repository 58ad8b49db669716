"""What the artist sees of a build that was brought in: what was found, what is no brick, which brick is which."""

from pathlib import Path
from types import SimpleNamespace

import bpy
import pytest

from addon import usecases
from addon.scene import files
from addon.scene.exports.formats import FORMATS
from addon.scene.presets import library
from addon.ui import panels
from addon.ui.build import bringing, sight
from addon.ui.presets import choices
from tests.blender import scenes
from tests.blender.build.test_belonging import furnished
from tests.blender.ui.drawing import drawn


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


@pytest.fixture
def export(tmp_path) -> Path:
    """A wall of 17 bricks as a glTF file; the open file is Blender's first scene."""
    files.new()
    scenes.wall()
    path = tmp_path / "wall.glb"
    bpy.ops.export_scene.gltf(filepath=str(path))
    bpy.ops.wm.read_factory_settings(use_empty=False)
    return path


def test_after_bring_in_the_build_alone_is_selected_and_its_frame_active(settings, export):
    assert bpy.ops.playworn.bring_in(filepath=str(export)) == {"FINISHED"}
    build = bpy.context.scene.playworn.build
    assert {thing.name for thing in bpy.context.selected_objects} == {thing.name for thing in build.objects}
    assert bpy.context.view_layer.objects.active.type == "EMPTY"
    assert "Cube" in bpy.data.objects  # the artist's own stays


def test_the_frame_is_drawn_as_large_as_the_build(settings, export):
    bpy.ops.playworn.bring_in(filepath=str(export))
    frame = bpy.context.view_layer.objects.active
    assert 2.0 * frame.empty_display_size * frame.scale[0] == pytest.approx(0.144, abs=1e-4)  # 4.5 bricks of 32 mm


@pytest.mark.parametrize("scale_length", [1.0, 0.01])
def test_the_frame_is_so_in_every_unit(settings, tmp_path, scale_length):
    files.new()
    scenes.wall(unit=1.0)
    path = tmp_path / "wall.glb"  # its numbers are millimetres
    bpy.ops.export_scene.gltf(filepath=str(path))
    files.new()
    bpy.context.scene.unit_settings.scale_length = scale_length
    build = usecases.bring_in(path)
    frame = next(thing for thing in build.objects if thing.type == "EMPTY")
    assert 2.0 * frame.empty_display_size * frame.scale[0] * scale_length == pytest.approx(0.144, abs=1e-4)


def test_what_was_found_is_one_line(settings, export, capfd):
    bpy.ops.playworn.bring_in(filepath=str(export))
    line = "17 bricks of 2 parts, 14 × 2 × 4 cm, 1 colour"
    assert line in shown(panels.BuildPanel)
    assert line in capfd.readouterr().out


def test_several_files_are_brought_in_each(settings, export, tmp_path):
    (tmp_path / "tower.glb").write_bytes(export.read_bytes())
    (tmp_path / "empty.glb").write_bytes(b"")
    chosen = [{"name": name} for name in ("wall.glb", "empty.glb", "tower.glb")]
    assert bpy.ops.playworn.bring_in(directory=str(tmp_path), files=chosen) == {"FINISHED"}
    assert {"wall", "tower"} <= set(bpy.data.collections.keys())
    assert bpy.context.scene.playworn.build.name == "tower"
    assert len(bpy.context.selected_objects) == 2 * 18


def test_a_dropped_file_needs_no_file_browser(settings, export):
    assert bpy.ops.playworn.bring_in("INVOKE_DEFAULT", filepath=str(export)) == {"FINISHED"}


@pytest.mark.parametrize(("kind", "takes"), [("VIEW_3D", True), ("OUTLINER", False)])
def test_every_format_can_be_dropped_onto_a_3d_view_and_nowhere_else(extension, kind, takes):
    assert bringing.DropExport.bl_file_extensions.split(";") == list(FORMATS)
    assert bringing.DropExport.poll_drop(SimpleNamespace(area=SimpleNamespace(type=kind))) == takes


def test_a_model_that_is_no_build_is_brought_in_and_told(settings, tmp_path):
    files.new()
    bpy.ops.mesh.primitive_monkey_add()
    path = tmp_path / "head.glb"
    bpy.ops.export_scene.gltf(filepath=str(path))
    files.new()
    assert bpy.ops.playworn.bring_in(filepath=str(path)) == {"FINISHED"}
    assert "is no brick build" in shown(panels.BuildPanel)
    assert bpy.context.selected_objects


def test_objects_are_kept_as_they_are_on_request(settings, tmp_path):
    files.new()
    wall, path = scenes.wall(), tmp_path / "joined.glb"
    for thing in wall.objects:
        thing.select_set(True)
    bpy.context.view_layer.objects.active = wall.objects[0]
    bpy.ops.object.join()
    bpy.ops.export_scene.gltf(filepath=str(path))
    files.new()
    kept, apart = usecases.bring_in(path, keep_objects=True), usecases.bring_in(path)
    count, apart_count = (sum(thing.type == "MESH" for thing in room.objects) for room in (kept, apart))
    assert count == 1 < apart_count


@pytest.fixture
def screen(extension) -> bpy.types.Screen:
    bpy.ops.wm.read_factory_settings(use_empty=False)
    return next(screen for screen in bpy.data.screens if any(area.type == "VIEW_3D" for area in screen.areas))


def test_bricks_show_a_colour_of_their_own_and_go_back(screen):
    shading = next(area.spaces.active.shading for area in screen.areas if area.type == "VIEW_3D")
    shading.type, shading.color_type = "SOLID", "VERTEX"
    sight.colour(screen)
    assert sight.are_coloured(screen)
    assert (shading.type, shading.color_type) == ("SOLID", "RANDOM")
    sight.uncolour(screen)
    assert (shading.type, shading.color_type) == ("SOLID", "VERTEX")
    assert not sight.are_coloured(screen)


def test_a_view_that_was_shaded_otherwise_meanwhile_stays_so(screen):
    shading = next(area.spaces.active.shading for area in screen.areas if area.type == "VIEW_3D")
    sight.colour(screen)
    shading.type = "WIREFRAME"
    sight.uncolour(screen)
    assert shading.type == "WIREFRAME"
