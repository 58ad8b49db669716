"""Layers in the panel, and the amounts of single bricks and materials."""

import bpy
import pytest

from addon import usecases
from addon.core.wear.layers import LAYERS, SIZES
from addon.core.wear.names import AMOUNT, MORE, OWN_MORE
from addon.nodes import builder, insertion
from addon.scene.presets import library
from addon.scene.wear import stamps
from addon.ui import panels, told
from tests.blender.ui.drawing import drawn
from tests.blender.ui.walls import deltas


def socket(name):
    (node,) = insertion.ours(bpy.data.materials["sand"].node_tree)
    return builder.group_socket(node, "INPUT", name).default_value


def test_every_layer_is_told_in_plain_words_with_the_size_of_its_picture(build, settings):
    settings.preset = "toy-box"
    shown = [name for layer in LAYERS for name in ([layer, f"{layer}_mm"] if layer in SIZES else [layer])]
    assert [name for name in drawn(panels.LayersPanel) if name in shown] == shown
    for layer, about in LAYERS.items():
        prop = settings.layers.bl_rna.properties[layer]
        assert prop.description.startswith(about.meaning)
        assert (prop.hard_min, prop.hard_max, getattr(settings.layers, layer)) == (0.0, 2.0, 1.0)
    wear = library.find_preset("toy-box").wear
    assert settings.layers.dust_mm == pytest.approx(wear.dust.size_mm)


def test_what_no_dial_reaches_is_told(build, settings):
    settings.preset = "fresh"
    told_of = " ".join(drawn(panels.LayersPanel))
    for layer in LAYERS:
        record = getattr(library.find_preset("fresh").wear, layer)
        assert (f"Fresh has no {layer}" in told_of) == (not getattr(record, LAYERS[layer].strength))
    settings.preset, settings.quality = "attic", "draft"
    assert "Draft shows no dust" in " ".join(drawn(panels.LayersPanel))


def test_a_turned_layer_acts_at_once_and_stays_with_the_build(build, settings):
    settings.preset = "toy-box"
    settings.layers.dust = 1.5
    assert MORE["dust"] not in bpy.context.scene
    bpy.ops.playworn.apply()
    stood = deltas()
    assert bpy.context.scene[MORE["dust"]] == pytest.approx(0.5)
    settings.layers.scratches, settings.layers.scratches_mm = 0.25, 21.0
    assert bpy.context.scene[MORE["scratches"]] == pytest.approx(-0.75)
    assert socket("Scratch size") == pytest.approx(21.0)
    kept = usecases.recall(build)
    assert kept.layers == {"dust": 1.5, "scratches": 0.25}
    assert kept.preset.wear.scratches.size_mm == 21.0
    assert (deltas() == stood).all()
    bpy.ops.playworn.apply()
    assert socket("Scratch size") == pytest.approx(21.0)
    settings.build = None
    settings.preset = "fresh"
    settings.build = build
    assert (settings.layers.dust, settings.layers.scratches_mm) == pytest.approx((1.5, 21.0))
    assert bpy.ops.playworn.reset_layers() == {"FINISHED"}
    assert usecases.recall(build).layers == {}
    assert not [name for name in MORE.values() if name in bpy.context.scene]
    assert socket("Scratch size") == pytest.approx(library.find_preset("toy-box").wear.scratches.size_mm)
    with pytest.raises(RuntimeError, match="The layers are the preset's own"):
        bpy.ops.playworn.reset_layers()


def test_what_another_hand_keeps_on_the_scene_stays_until_a_layer_is_turned(build, settings):
    bpy.context.scene[MORE["rub"]] = 0.4
    bpy.ops.playworn.apply()
    settings.wear = 0.5
    assert bpy.context.scene[MORE["rub"]] == 0.4


def test_limits_and_sizes_are_reset_apart(build, settings):
    settings.limits.shift_mm, settings.layers.dust_mm = 0.01, 12.0
    bpy.ops.playworn.reset_limits()
    assert settings.layers.dust_mm == pytest.approx(12.0)
    settings.limits.shift_mm = 0.01
    bpy.ops.playworn.reset_layers()
    assert settings.limits.shift_mm == pytest.approx(0.01)


def test_a_saved_preset_holds_the_turned_layers(build, settings, own):
    settings.preset = "well-loved"
    before = library.find_preset("well-loved").wear
    settings.layers.rub, settings.layers.smudges_mm = 0.5, 44.0
    bpy.ops.playworn.apply()
    bpy.ops.playworn.save_preset(name="mine")
    made = library.find_preset("mine").wear
    assert (made.rub.amount, made.smudges.size_mm) == pytest.approx((0.5 * before.rub.amount, 44.0))
    assert (settings.layer_dials, settings.changes) == ("", "")


def test_shots_on_the_timeline_multiply_the_layers_of_the_build(build, settings):
    settings.layers.dust = 0.5
    bpy.ops.playworn.apply()
    shots = [
        usecases.OnFrame("one", 1, usecases.Dials()),
        usecases.OnFrame("two", 20, usecases.Dials(), {"dust": 0.4, "rub": 2.0}),
    ]
    usecases.on_timeline(build, shots)
    scene = bpy.context.scene

    def seen(frame):
        scene.frame_set(frame)
        return [scene.get(stamps.MORE[layer], 0.0) for layer in ("dust", "rub")]

    assert [*seen(1), *seen(20)] == pytest.approx([-0.5, 0.0, -0.8, 1.0])
    settings.layers.dust = 1.0
    assert [*seen(1), *seen(20)] == pytest.approx([0.0, 0.0, -0.6, 1.0])
    usecases.off_timeline(build)
    assert seen(1) == [0.0, 0.0]


def test_the_selected_bricks_get_an_amount_by_buttons_and_by_the_field(build, settings):
    bricks = [bpy.data.objects[name] for name in ("brick.0.0", "brick.1.1")]
    for brick in bricks:
        brick.select_set(True)
    bpy.context.view_layer.objects.active = bricks[0]
    assert settings.brick_amount == 1.0
    bpy.ops.playworn.give_amount(amount=0.0)
    assert [brick[OWN_MORE] for brick in bricks] == [-1.0, -1.0]
    assert settings.brick_amount == 0.0
    assert told.of(build).by_hand == "2 bricks new"
    settings.brick_amount = 0.25
    assert [brick[OWN_MORE] for brick in bricks] == [-0.75, -0.75]
    assert "2 bricks at an amount of their own" in " ".join(drawn(panels.ByHandPanel))
    bpy.ops.playworn.give_amount(amount=1.0)
    assert not [thing for thing in bpy.data.objects if OWN_MORE in thing]
    assert told.of(build).by_hand == ""


def test_the_active_bricks_material_gets_an_amount_once_it_is_worn(build, settings):
    bpy.context.view_layer.objects.active = bpy.data.objects["brick.0.0"]
    assert "material_amount" not in drawn(panels.ByHandPanel)
    bpy.ops.playworn.apply()
    assert "material_amount" in drawn(panels.ByHandPanel)
    settings.material_amount = 0.5
    assert (socket(AMOUNT), settings.material_amount) == (0.5, 0.5)
    assert told.of(build).by_hand == "amounts on sand"
    bpy.ops.playworn.apply()
    assert socket(AMOUNT) == 0.5


def test_a_thing_that_is_no_brick_gets_no_amount_and_the_panel_tells(build, settings):
    lamp = bpy.data.objects.new("lamp", None)
    bpy.context.scene.collection.objects.link(lamp)
    lamp.select_set(True)
    with pytest.raises(RuntimeError, match="no brick of the build"):
        bpy.ops.playworn.give_amount(amount=0.0)
    settings.brick_amount = 0.0
    assert OWN_MORE not in lamp
    assert "No brick of the build" in " ".join(drawn(panels.BuildPanel))
