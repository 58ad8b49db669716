"""Depth of field as it is told against a defocused speck as Cycles renders it."""

import bpy
import pytest

from addon.scene.build.build import read
from addon.scene.shots import lenses
from bench.defocus import CASES, blurs
from tests.blender import scenes
from tests.blender.shots.test_shots import camera


@pytest.mark.shared_out
@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.unit:.3g}-{case.lens:g}mm-f{case.f_stop:g}")
def test_a_point_out_of_focus_blurs_as_told(extension, case, tmp_path):
    told, rendered = blurs(case, tmp_path)
    assert told == pytest.approx(rendered, rel=0.05)


def test_the_focus_may_be_on_an_object_or_on_one_of_its_bones(extension):
    build, scene = scenes.wall(), bpy.context.scene
    eye = camera("eye", (0.06, -0.5, 0.02))
    rig = bpy.data.objects.new("rig", bpy.data.armatures.new("rig"))
    scene.collection.objects.link(rig)
    rig.location = (0.2, -0.3, 0.1)
    bpy.context.view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="EDIT")
    bone = rig.data.edit_bones.new("finger")
    bone.head, bone.tail = (0.0, 0.1, 0.0), (0.0, 0.1, 0.1)
    bpy.ops.object.mode_set(mode="OBJECT")
    eye.data.dof.use_dof, eye.data.dof.focus_object = True, rig

    def focus_mm() -> float | None:
        bpy.context.view_layer.update()
        return lenses.lens(read(build), scene, eye).focus_mm

    assert focus_mm() == pytest.approx(200.0, rel=1e-5)
    eye.data.dof.focus_subtarget = "finger"
    assert focus_mm() == pytest.approx(300.0, rel=1e-5)
    eye.data.dof.focus_object, eye.data.dof.focus_distance = None, 0.0
    assert focus_mm() is None
