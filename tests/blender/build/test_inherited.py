"""Which brick is the one that the export put somewhere, where an artist has made copies of it."""

import bpy
import pytest

from addon.blender import context
from addon.scene.build import inherited
from tests.blender import scenes
from tests.blender.wear import hands


def copied(thing: bpy.types.Object) -> bpy.types.Object:
    hands.select(thing)
    bpy.ops.object.duplicate()
    return context().view_layer.objects.active


def test_of_copies_the_one_nearest_to_where_the_export_put_it_is_the_brick():
    build = scenes.wall(1, 1)
    thing = build.objects[0]
    inherited.keep_place([thing])
    (stood,) = inherited.placed([thing])
    copy = copied(thing)
    copy.location.z += 0.1
    both = inherited.placed([copy, thing])
    assert both[1] == pytest.approx(stood)
    assert both[0][2] == pytest.approx(copy.location.z)
    thing.location.z -= 0.2
    both = inherited.placed([copy, thing])
    assert both[0] == pytest.approx(stood)
    assert both[1][2] == pytest.approx(thing.location.z)
