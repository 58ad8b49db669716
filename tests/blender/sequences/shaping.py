"""What an artist does to materials, meshes, the view and the file: on what is there by name, whatever is on it.

Each is what a click does: an operator, or what typing into a field writes. RuntimeError where Blender refuses.
"""

import tempfile
from pathlib import Path

import bpy
import numpy as np
from mathutils import Vector

from .builds import pitch
from .choices import (
    a_brick,
    a_material,
    a_modifier,
    a_name,
    a_shift,
    a_way,
    a_yes,
    all_of,
    an_axis,
    an_object,
    block,
    edit,
    select,
    some_bricks,
    thing,
    two_bricks,
)
from .hand import Actions, Nothing

SHAPING = Actions()

# What is done to materials and slots.


@SHAPING(a_brick, a_material)
def assign(name, material):
    each = thing(name)
    if not each.material_slots:
        each.data.materials.append(None)
    each.active_material_index = 0
    each.active_material = block(bpy.data.materials, material)


@SHAPING(a_brick, a_material)
def assign_to_object(name, material):
    each = thing(name)
    if not each.material_slots:
        each.data.materials.append(None)
    slot = each.material_slots[0]
    slot.link = "OBJECT"
    slot.material = block(bpy.data.materials, material)


@SHAPING(a_brick)
def link_slot_to_data(name):
    for slot in list(thing(name).material_slots)[:1]:
        slot.link = "DATA"


@SHAPING(a_brick, a_material)
def add_slot(name, material):
    thing(name).data.materials.append(block(bpy.data.materials, material))


@SHAPING(a_brick)
def remove_slot(name):
    select([name])
    bpy.ops.object.material_slot_remove()


@SHAPING(a_material, a_yes)
def copy_material(name, fake):
    block(bpy.data.materials, name).copy().use_fake_user = fake


@SHAPING(a_material)
def delete_material(name):
    """Of the outliner."""
    bpy.data.materials.remove(block(bpy.data.materials, name))


@SHAPING(a_material, an_axis)
def colour_material(name, channel):
    material = block(bpy.data.materials, name)
    material.diffuse_color[channel] = 0.5
    material.roughness = 0.25


@SHAPING(a_material)
def add_node(name):
    material = block(bpy.data.materials, name)
    if material.node_tree is None:
        raise Nothing
    node = material.node_tree.nodes.new("ShaderNodeValue")
    node.location, node.label = (-400, 300), "mine"


# What is done to meshes.


@SHAPING(a_brick, an_axis)
def pull_points(name, axis):
    """Edit mode: the points on one side, half a pitch outward."""
    mesh = thing(name).data
    points = np.empty(3 * len(mesh.vertices), np.float32)
    mesh.vertices.foreach_get("co", points)
    table = points.reshape(-1, 3)
    if not len(table):
        raise Nothing
    size = np.ptp(table, axis=0)
    table[table[:, axis] > table[:, axis].mean(), axis] += 0.25 * size[axis]
    mesh.vertices.foreach_set("co", points)
    mesh.update()


@SHAPING(a_brick)
def subdivide(name):
    def cut():
        bpy.ops.mesh.select_all(action="SELECT")
        bpy.ops.mesh.subdivide(number_cuts=1)

    edit(name, cut)


@SHAPING(a_brick, a_name)
def add_uv_map(name, called):
    thing(name).data.uv_layers.new(name=called)


@SHAPING(a_brick, a_name)
def add_attribute(name, called):
    mesh = thing(name).data
    made = mesh.attributes.new(called, "FLOAT", "POINT")
    made.data.foreach_set("value", np.full(len(mesh.vertices), 0.5, np.float32))


@SHAPING(a_brick)
def add_shape_key(name):
    each = thing(name)
    each.shape_key_add(name="Basis")
    key_ = each.shape_key_add(name="open")
    for point in list(key_.data)[:4]:
        point.co.z += pitch()


@SHAPING(a_brick)
def add_vertex_group(name):
    each = thing(name)
    each.vertex_groups.new(name="mine").add(range(min(4, len(each.data.vertices))), 0.5, "REPLACE")


@SHAPING(a_brick)
def shade_smooth(name):
    select([name])
    bpy.ops.object.shade_smooth()


@SHAPING(a_brick, a_yes)
def tell_mesh(name, number):
    """A custom property of the mesh's."""
    thing(name).data["mine"] = 7.5 if number else "word"


@SHAPING(an_object)
def tell_object(name):
    thing(name)["mine"] = 7.5


@SHAPING(a_brick, a_modifier)
def add_modifier(name, kind):
    thing(name).modifiers.new(kind.title(), kind)


@SHAPING(a_brick)
def apply_modifier(name):
    each = thing(name)
    if not each.modifiers:
        raise Nothing
    select([name])
    bpy.ops.object.modifier_apply(modifier=each.modifiers[0].name, single_user=True)


@SHAPING(two_bricks)
def join(names):
    select(names)
    bpy.ops.object.join()


@SHAPING(a_brick)
def separate(name):
    select([name])
    bpy.ops.mesh.separate(type="LOOSE")


@SHAPING(some_bricks, a_way, a_shift)
def duplicate(names, way, by):
    select(names)
    bpy.ops.object.duplicate(linked=way == "shared")
    for each in list(bpy.context.selected_objects):
        each.location = Vector(each.location) + pitch() * Vector(by)


@SHAPING(some_bricks)
def delete(names):
    select(names)
    bpy.ops.object.delete()


@SHAPING(a_brick)
def make_single_user(name):
    select([name])
    bpy.ops.object.make_single_user(object=True, obdata=True)


@SHAPING(two_bricks)
def link_data(names):
    """Ctrl-L, Link Object Data: the second shows the first's mesh."""
    select(names)
    bpy.ops.object.make_links_data(type="OBDATA")


@SHAPING()
def purge():
    bpy.data.orphans_purge(do_recursive=True)


# What is done to the view, and to the file.


@SHAPING(some_bricks, a_yes)
def hide(names, to):
    for each in all_of(names):
        each.hide_set(to)


@SHAPING(some_bricks)
def select_(names):
    select(names)


@SHAPING()
def reload():
    """Saves the file and opens it again."""
    with tempfile.TemporaryDirectory(prefix="playworn-sequence-") as folder:
        path = str(Path(folder) / "kept.blend")
        bpy.ops.wm.save_as_mainfile(filepath=path, check_existing=False)
        bpy.ops.wm.open_mainfile(filepath=path)
