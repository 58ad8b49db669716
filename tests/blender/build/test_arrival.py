"""Which brick is the one that the export put somewhere, where an artist has made copies of it."""

import bpy
import pytest

from addon.blender import context
from addon.scene.build import arrival
from tests.blender import scenes
from tests.blender.wear import hands


def copied(thing: bpy.types.Object) -> bpy.types.Object:
    hands.select(thing)
    bpy.ops.object.duplicate()
    return context().view_layer.objects.active


def came(*names: str) -> tuple[bpy.types.Collection, list[bpy.types.Object]]:
    """A wall that came with an export, its bricks called so."""
    build = scenes.wall(len(names), 1)
    things = list(build.objects)[: len(names)]
    for thing, name in zip(things, names, strict=True):
        thing.name = name
    arrival.keep(things, arrival.begin(build))
    return build, things


def test_of_copies_the_one_that_goes_by_the_exports_name_is_the_brick_wherever_they_stand():
    build, (thing,) = came("slope")
    (stood,) = arrival.placed([thing])
    copy = copied(thing)
    thing.location.z -= 0.2
    both = arrival.placed([copy, thing])
    assert both[1] == pytest.approx(stood)
    assert both[0] == pytest.approx([value for name in arrival.CHANNELS for value in getattr(copy, name)])
    assert arrival.added(build, [copy, thing]).tolist() == [True, False]


def test_of_copies_that_all_go_by_other_names_the_one_nearest_to_its_place_is_the_brick():
    _, (thing,) = came("slope")
    (stood,) = arrival.placed([thing])
    copy = copied(thing)
    thing.name = "the artist's"
    copy.location.z += 0.1
    both = arrival.placed([copy, thing])
    assert both[1] == pytest.approx(stood)
    assert both[0][2] == pytest.approx(copy.location.z)
    thing.location.z -= 0.2
    both = arrival.placed([copy, thing])
    assert both[0] == pytest.approx(stood)
    assert both[1][2] == pytest.approx(thing.location.z)


def test_a_copy_that_outlived_its_brick_is_none_of_the_exports():
    build, things = came("a", "b", "c")
    copy = copied(things[0])
    copy.location.z += 0.1
    bpy.data.objects.remove(things[0])
    assert arrival.added(build, [copy, *things[1:]]).tolist() == [True, False, False]


def test_a_brick_that_was_moved_and_renamed_is_still_the_exports():
    build, things = came("a", "b", "c")
    things[0].name, things[0].location.z = "the artist's", 0.3
    assert not arrival.added(build, things).any()


def test_in_a_copy_of_a_whole_build_its_bricks_are_the_exports_wherever_they_stand():
    build, things = came("a", "b", "c")
    copies = [copied(thing) for thing in things]
    for copy in copies:
        copy.location.x += 1.0
    assert not arrival.added(build.copy(), copies).any()


def test_what_was_modelled_or_brought_from_another_build_is_none_of_the_exports():
    build, things = came("a", "b", "c")
    other = bpy.data.collections.new(build.name)
    assert arrival.begin(other) != arrival.begin(build)
    moved = bpy.data.objects.new("d", things[0].data)
    arrival.keep([moved], arrival.begin(other))
    made = bpy.data.objects.new("e", things[0].data)
    assert arrival.added(build, [*things, moved, made]).tolist() == [False] * 3 + [True] * 2


def test_in_a_build_that_nothing_is_known_of_all_is_the_exports_but_what_came_with_another():
    _, things = came("a", "b", "c")
    plain = scenes.wall(4, 1)
    inside = list(plain.objects)
    assert arrival.added(plain, [*inside, copied(things[0])]).tolist() == [False] * len(inside) + [True]


def test_where_all_stand_read_in_one_go_is_what_each_tells():
    build, things = came("slope", "arch", "wedge")
    inner = bpy.data.collections.new("inner")
    build.children.link(inner)
    inner.objects.link(things[1])  # in two collections
    things[2].rotation_mode = "QUATERNION"
    things[2].rotation_quaternion = 0.1, 0.7, -0.2, 0.3
    things[0].rotation_euler.z, things[1].location.x = 1e-7, -123.456
    told = arrival.standing(build)
    assert [told[thing] for thing in things] == [
        [value for name in arrival.CHANNELS for value in getattr(thing, name)] for thing in things
    ]
