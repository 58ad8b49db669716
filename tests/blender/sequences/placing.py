"""What an artist does to where things are, and to names and collections: on what is there by name, whatever is on it.

Each is what a click does: an operator, or what typing into a field writes. RuntimeError where Blender refuses.
"""

from math import radians

import bpy
from mathutils import Vector

from .builds import pitch
from .choices import (
    a_brick,
    a_channel,
    a_factor,
    a_frame,
    a_material,
    a_name,
    a_nudge,
    a_room,
    a_shift,
    all_of,
    an_angle,
    an_axis,
    an_empty,
    an_object,
    block,
    select,
    some_bricks,
    thing,
    two_bricks,
)
from .hand import Actions, Nothing

PLACING = Actions()

# What is done to where things are.


@PLACING(some_bricks, a_shift)
def move(names, by):
    """G"""
    select(names)
    bpy.ops.transform.translate(value=pitch() * Vector(by))


@PLACING(some_bricks, an_axis, an_angle)
def rotate(names, axis, angle):
    """R, about the middle of all that are selected."""
    select(names)
    bpy.ops.transform.rotate(value=angle, orient_axis="XYZ"[axis], orient_type="GLOBAL")


@PLACING(some_bricks, a_factor)
def scale(names, by):
    """S"""
    select(names)
    bpy.ops.transform.resize(value=(by, by, by))


@PLACING(an_object, an_axis, a_factor)
def type_location(name, axis, to):
    thing(name).location[axis] = round(4.0 * to * pitch(), 4)


@PLACING(an_object, an_axis, a_factor)
def type_rotation(name, axis, to):
    each = thing(name)
    if each.rotation_mode == "QUATERNION":
        raise Nothing
    each.rotation_euler[axis] = radians(30.0 * to)


@PLACING(a_brick, an_axis, a_factor)
def type_scale(name, axis, to):
    thing(name).scale[axis] = to


@PLACING(a_brick, a_nudge)
def nudge_delta_location(name, by):
    each = thing(name)
    for n in range(3):
        if by[n]:
            each.delta_location[n] += pitch() * by[n]


@PLACING(a_brick, an_axis, an_angle)
def nudge_delta_rotation(name, axis, angle):
    each = thing(name)
    if each.rotation_mode == "QUATERNION":
        raise Nothing
    each.delta_rotation_euler[axis] += angle


@PLACING(a_brick, an_axis, a_factor)
def type_delta_location(name, axis, to):
    """A number with few digits, typed into the field."""
    thing(name).delta_location[axis] = round(0.5 * to * pitch(), 4)


@PLACING(some_bricks)
def clear_deltas(names):
    """Alt-G, Alt-R and Alt-S with Clear Delta."""
    select(names)
    bpy.ops.object.location_clear(clear_delta=True)
    bpy.ops.object.rotation_clear(clear_delta=True)
    bpy.ops.object.scale_clear(clear_delta=True)


@PLACING(some_bricks)
def zero_delta_location(names):
    for each in all_of(names):
        each.delta_location = (0.0, 0.0, 0.0)


@PLACING(some_bricks)
def transforms_to_deltas(names):
    select(names)
    bpy.ops.object.transforms_to_deltas(mode="ALL")


@PLACING(some_bricks)
def apply_transforms(names):
    """Ctrl-A, All Transforms, once Blender's question is answered: with a mesh of its own for each."""
    select(names)
    bpy.ops.object.make_single_user(object=True, obdata=True)
    bpy.ops.object.transform_apply(location=True, rotation=True, scale=True)


@PLACING(some_bricks)
def origin_to_geometry(names):
    select(names)
    bpy.ops.object.origin_set(type="ORIGIN_GEOMETRY", center="BOUNDS")


@PLACING(a_brick, a_channel, a_frame)
def key(name, channel, frame):
    thing(name).keyframe_insert(channel, frame=frame)


@PLACING(a_frame)
def go_to_frame(frame):
    bpy.context.scene.frame_set(frame)


@PLACING(a_brick, an_empty)
def parent(name, to):
    """Ctrl-P, Object (Keep Transform)."""
    child, above = thing(name), thing(to)
    if above in (child, *child.children_recursive):
        raise Nothing
    select([name])
    above.select_set(True)
    bpy.context.view_layer.objects.active = above
    bpy.ops.object.parent_set(type="OBJECT", keep_transform=True)


@PLACING(two_bricks)
def parent_to_brick(names):
    parent(*names)


@PLACING(some_bricks)
def unparent(names):
    """Alt-P, Clear and Keep Transformation."""
    select(names)
    bpy.ops.object.parent_clear(type="CLEAR_KEEP_TRANSFORM")


# What is done to names and rooms.


@PLACING(an_object, a_name)
def rename(name, to):
    thing(name).name = to


@PLACING(a_brick, a_name)
def rename_mesh(name, to):
    thing(name).data.name = to


@PLACING(a_material, a_name)
def rename_material(name, to):
    block(bpy.data.materials, name).name = to


@PLACING(a_room, a_name)
def rename_collection(name, to):
    block(bpy.data.collections, name).name = to


@PLACING(some_bricks, a_room)
def move_to_collection(names, to):
    room = block(bpy.data.collections, to)
    for each in all_of(names):
        for other in each.users_collection:
            other.objects.unlink(each)
        room.objects.link(each)


@PLACING(a_room)
def delete_collection(name):
    """Of the outliner: what stood in it stands in the scene."""
    room, top = block(bpy.data.collections, name), bpy.context.scene.collection
    for each in list(room.objects):
        if each.name not in top.objects:
            top.objects.link(each)
    for inner in list(room.children):
        top.children.link(inner)
    bpy.data.collections.remove(room)


@PLACING(a_room, a_shift)
def instance_collection(name, by):
    """Add, Collection Instance."""
    made = bpy.data.objects.new("instance", None)
    made.instance_type, made.instance_collection = "COLLECTION", block(bpy.data.collections, name)
    made.location = pitch() * Vector(by)
    bpy.context.scene.collection.objects.link(made)


@PLACING()
def make_instances_real():
    names = [each.name for each in bpy.context.view_layer.objects if each.instance_type == "COLLECTION"]
    if not names:
        raise Nothing
    bpy.context.view_layer.update()
    select(names)
    bpy.ops.object.duplicates_make_real()
