"""The box of the passes in the panel."""

import bpy
import pytest

from addon.core.wear.names import PASSES
from addon.ui.shots import passes
from tests.blender.ui.drawing import drawn

OPERATORS = bpy.ops.playworn


def test_the_box_puts_passes_on_and_takes_them_off(build):
    scene = bpy.context.scene
    layer = scene.view_layers[0]
    assert not any(words.startswith("On ") for words in drawn(passes.PassesPanel))
    with pytest.raises(RuntimeError, match="No view layer of the scene has passes"):
        OPERATORS.take_passes_off()
    assert OPERATORS.put_passes_on() == {"FINISHED"}
    assert layer.aovs.keys() == list(PASSES)
    assert f"On {layer.name}" in drawn(passes.PassesPanel)
    assert OPERATORS.take_passes_off() == {"FINISHED"}
    assert not layer.aovs


def test_an_aov_of_ones_own_with_such_a_name_is_told(build):
    bpy.context.scene.view_layers[0].aovs.add().name = PASSES[0]
    with pytest.raises(RuntimeError, match="give yours another name"):
        OPERATORS.put_passes_on()
