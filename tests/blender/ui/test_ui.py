"""The panel, its operators and its dials, on a small wall of bricks."""

from types import SimpleNamespace

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.report import Skipped
from addon.scene import files
from addon.ui import panels, registration, told
from addon.ui.build import updating
from addon.ui.presets import choices
from addon.ui.presets import library as ui_library
from tests.blender.ui.drawing import drawn
from tests.blender.ui.walls import deltas, wall

PANELS = [cls for cls in registration.CLASSES if issubclass(cls, bpy.types.Panel)]
OPERATORS = [cls for cls in registration.CLASSES if issubclass(cls, bpy.types.Operator)]


def test_without_a_build_the_panel_says_how_to_get_one(settings):
    shown = drawn(panels.BuildPanel)
    assert shown[:2] == ["build", "playworn.bring_in"]
    assert "or choose the collection" in " ".join(shown)
    assert "playworn.apply" not in shown
    assert not any(drawn(panel) for panel in PANELS if panel not in (panels.BuildPanel, ui_library.LibraryPanel))


def test_with_a_build_the_panel_offers_everything(build):
    shown = drawn(panels.BuildPanel)
    assert {"build", "preset", "playworn.bring_in", "playworn.save_preset", "playworn.apply", "playworn.clear"} <= set(
        shown
    )
    assert "16 bricks of 1 part, 14 × 2 × 4 cm, 1 colour" in " ".join(shown)
    assert {"looseness", "seed"} <= set(drawn(panels.FitPanel))
    assert {"wear", "textures"} <= set(drawn(panels.WearPanel))
    assert drawn(panels.LeftAlonePanel) == []


def test_once_applied_the_panel_tells_what_was_done(build):
    assert bpy.ops.playworn.apply() == {"FINISHED"}
    shown = " ".join(drawn(panels.FitPanel))
    for words in ("Median shift 0.0", "turned over 1°", "mm at the top", "at their play"):
        assert words in shown
    skipped = (*(Skipped(f"brick {n}", "is linked") for n in range(9)), Skipped("door", "has a constraint"))
    told.applied(build, SimpleNamespace(effect="", warning="", dry="", skipped=skipped))
    shown = " ".join(drawn(panels.LeftAlonePanel))
    for words in ("9 × is linked", "brick 5", "and 3 more", "1 × has a constraint", "door"):
        assert words in shown
    assert "brick 6" not in shown


def test_rounding_is_said_to_need_cycles(build):
    scene = bpy.context.scene
    words = "Rounded and rubbed edges show in Cycles only"
    scene.render.engine = "BLENDER_WORKBENCH"
    assert words not in " ".join(drawn(panels.WearPanel)), "the meshes are rounded unless an artist wants otherwise"
    scene.playworn.rounding = "shading"
    scene.render.engine = "CYCLES"
    assert words not in " ".join(drawn(panels.WearPanel))
    scene.render.engine = "BLENDER_WORKBENCH"
    assert words in " ".join(drawn(panels.WearPanel))
    scene.playworn.quality = "draft"
    assert words not in " ".join(drawn(panels.WearPanel))


def test_another_quality_is_put_on_at_once_and_remembered(build, settings):
    bpy.ops.playworn.apply()
    settings.quality = "draft"
    assert usecases.recall(build).quality == "draft"
    assert not any(node.bl_idname == "ShaderNodeBevel" for group in bpy.data.node_groups for node in group.nodes)
    settings.build = None
    settings.quality = "close-up"
    settings.build = build
    assert settings.quality == "draft"


def test_what_is_drawn_survives_a_forgotten_session(build):
    bpy.ops.playworn.apply()
    told.forget()
    assert all(drawn(panel) for panel in PANELS[:-1] if panel is not updating.ChangesPanel)  # nothing was updated
    shift = usecases.find_preset("well-loved").fit.shift_mm
    assert f"At most {shift:.3f} mm sideways" in " ".join(drawn(panels.FitPanel))


def test_everything_has_a_tooltip_without_a_full_stop(extension):
    for cls in OPERATORS:
        tooltip = getattr(bpy.ops.playworn, cls.bl_idname.split(".")[1]).get_rna_type().description
        assert tooltip
        assert "\n" not in tooltip
        assert not tooltip.endswith(".")
    for prop in bpy.types.Scene.bl_rna.properties["playworn"].fixed_type.properties:
        if prop.identifier not in ("rna_type", "name") and not prop.is_hidden:
            assert prop.description, prop.identifier
            assert not prop.description.endswith(".")
    assert not any(tooltip.endswith(".") for _, _, tooltip in choices.items("fresh"))


def test_operators_say_why_they_cannot_run(settings):
    for operator in (bpy.ops.playworn.apply, bpy.ops.playworn.clear):
        assert not operator.poll()
        with pytest.raises(RuntimeError, match="Choose a build or bring one in first"):
            operator()
    settings.build = wall()
    assert bpy.ops.playworn.apply.poll()
    with pytest.raises(RuntimeError, match="Nothing is applied to this build"):
        bpy.ops.playworn.clear()


def test_apply_and_clear_give_back_every_bit(build):
    before = deltas().tobytes()
    assert bpy.ops.playworn.apply() == {"FINISHED"}
    assert deltas().tobytes() != before
    assert bpy.ops.playworn.clear() == {"FINISHED"}
    assert deltas().tobytes() == before
    assert told.of(build).inspection.bricks == 16
    assert not bpy.ops.playworn.clear.poll()


def test_dials_act_at_once_on_an_applied_build_only(build, settings):
    settings.looseness = 1.5
    assert not deltas().any()
    bpy.ops.playworn.apply()
    first = deltas()
    settings.seed = 7
    assert not np.array_equal(deltas(), first)
    settings.seed = 0
    assert np.array_equal(deltas(), first)
    settings.looseness = 0.0
    assert np.abs(deltas()).max() < np.abs(first).max() / 3
    settings.wear = 0.25
    assert bpy.context.scene["playworn_wear"] == 0.25
    recalled = usecases.recall(build)
    assert (recalled.seed, recalled.looseness, recalled.wear) == (0, 0.0, 0.25)


def test_choosing_a_build_brings_its_own_dials_back(build, settings):
    settings.preset, settings.seed, settings.looseness, settings.wear = "attic", 11, 0.5, 0.75
    bpy.ops.playworn.apply()
    worn = deltas()
    settings.build = None
    settings.preset, settings.seed, settings.looseness, settings.wear = "fresh", 1, 2.0, 2.0
    settings.build = build
    assert (settings.preset, settings.seed, settings.looseness, settings.wear) == ("attic", 11, 0.5, 0.75)
    assert np.array_equal(deltas(), worn)


def test_apply_is_one_undo_step(build):
    scene = bpy.context.scene.name
    before = deltas()
    bpy.ops.ed.undo_push(message="wall")
    bpy.ops.playworn.apply("EXEC_DEFAULT", True)
    after = deltas()
    bpy.ops.ed.undo()
    assert np.array_equal(deltas(), before)
    build = bpy.data.scenes[scene].playworn.build
    assert build.name == "wall"
    assert usecases.recall(build) is None
    assert "Median shift" not in " ".join(drawn(panels.FitPanel))
    bpy.ops.ed.redo()
    assert np.array_equal(deltas(), after)
    assert "Median shift" in " ".join(drawn(panels.FitPanel))
    bpy.data.scenes[scene].playworn.looseness = 0.5
    assert not np.array_equal(deltas(), after)


def test_an_empty_build_is_told_in_a_sentence(settings):
    empty = bpy.data.collections.new("nothing")
    bpy.context.scene.collection.children.link(empty)
    settings.build = empty
    assert 'The collection "nothing" holds no mesh' in " ".join(drawn(panels.BuildPanel))
    with pytest.raises(RuntimeError, match='the collection "nothing" holds no mesh'):
        bpy.ops.playworn.apply()


def test_a_missing_export_is_told_and_changes_nothing(settings, tmp_path):
    with pytest.raises(RuntimeError, match=r"gone\.glb"):
        bpy.ops.playworn.bring_in(filepath=str(tmp_path / "gone.glb"))
    assert settings.build is None
    assert not bpy.data.objects


def test_an_export_is_brought_in_and_chosen(settings, tmp_path):
    wall()
    path = tmp_path / "wall.obj"
    bpy.ops.wm.obj_export(filepath=str(path), export_materials=False)
    files.new()
    assert bpy.ops.playworn.bring_in(filepath=str(path)) == {"FINISHED"}
    build = bpy.context.scene.playworn.build
    assert told.of(build).inspection.bricks == 16
    assert bpy.ops.playworn.apply() == {"FINISHED"}


def test_the_joints_picture_is_saved(build, tmp_path):
    path = tmp_path / "wall.svg"
    before = deltas()
    assert bpy.ops.playworn.save_picture(filepath=str(path.with_suffix(""))) == {"FINISHED"}
    assert "16 bricks" in path.read_text()
    assert np.array_equal(deltas(), before)
    with pytest.raises(RuntimeError, match="cannot be written"):
        bpy.ops.playworn.save_picture(filepath=str(tmp_path / "nowhere" / "wall.svg"))
