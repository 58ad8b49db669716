"""Materials written again for each brick become one, where nothing that shows tells them apart."""

import bpy
import pytest

from addon import compat
from addon.scene.exports import doubles


def material(name, colour=(0.8, 0.1, 0.1, 1.0), picture=None):
    made = bpy.data.materials.new(name)
    tree = compat.node_tree(made)
    shader = next(node for node in tree.nodes if node.type == "BSDF_PRINCIPLED")
    shader.inputs["Base Color"].default_value = colour
    if picture is not None:
        node = tree.nodes.new("ShaderNodeTexImage")
        node.image = picture
        tree.links.new(node.outputs["Color"], shader.inputs["Base Color"])
    return made


def shown(*materials):
    """An object for each material."""
    objects = []
    for one in materials:
        mesh = bpy.data.meshes.new("brick")
        mesh.materials.append(one)
        objects.append(bpy.data.objects.new("brick", mesh))
    return objects


def names(objects):
    return [obj.data.materials[0].name for obj in objects]


def test_numbered_ones_of_one_look_become_the_first():
    made = [material(name) for name in ("red", "red.001", "red_2", "red 17")]
    objects = shown(*made)
    assert doubles.drop(objects, made) == 3
    assert names(objects) == ["red"] * 4


def test_another_name_or_look_or_picture_keeps_its_own():
    print_, other = (bpy.data.images.new(name, 4, 4) for name in ("print", "other"))
    made = [
        material("red"), material("rust"), material("red.001", (0.8, 0.1, 0.11, 1.0)),
        material("tile", picture=print_), material("tile.001", picture=print_), material("tile.002", picture=other),
    ]  # fmt: skip
    made.append(material("red.003"))
    made[-1].node_tree.nodes[0].inputs["Roughness"].default_value = 0.2
    objects = shown(*made)
    assert doubles.drop(objects, made) == 1
    assert names(objects) == ["red", "rust", "red.001", "tile", "tile", "tile.002", "red.003"]


@pytest.mark.parametrize("bl_idname", ["ShaderNodeValToRGB", "ShaderNodeRGBCurve"])
def test_ramps_and_curves_are_not_compared(bl_idname):
    made = [material("red"), material("red.001")]
    for one in made:
        one.node_tree.nodes.new(bl_idname)
    assert doubles.drop(shown(*made), made) == 0


def test_what_was_there_before_stays():
    before, new = material("red"), material("red.001")
    objects = shown(before, new)
    assert doubles.drop(objects, [new]) == 0
    assert names(objects) == ["red", "red.001"]


def test_of_those_that_nothing_shows_none_stands_in_for_another():
    made = [material("red"), material("red.001"), material("red.002"), material("blue"), material("blue.001")]
    objects = shown(*made[1:3])
    assert doubles.drop(objects, made) == 1
    assert names(objects) == ["red.001"] * 2
    assert {one.name for one in made[:2] + made[3:]} == {"red", "red.001", "blue", "blue.001"}


def test_where_none_are_alike_no_object_is_asked():
    def objects():
        raise AssertionError
        yield

    assert doubles.drop(objects(), [material("red"), material("rust")]) == 0
