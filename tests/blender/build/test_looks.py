"""What a build that was put together by hand shows after the next version of its export: the materials that it had."""

from dataclasses import replace

import bpy
import pytest

from addon import compat, usecases
from addon.scene.build import looks
from bench.ways.workshop import workshop
from tests.blender import scenes
from tests.blender.build import versions

BUILD = workshop(10)[4:]  # without the ground


@pytest.fixture(scope="module")
def export(tmp_path_factory):
    return versions.export(tmp_path_factory.mktemp("looks"), "build", BUILD)


def by_hand(path) -> bpy.types.Collection:
    """A build that tells nothing of an export, its materials called otherwise than there."""
    room = usecases.bring_in(path)
    for thing in room.all_objects:
        if looks.LOOK in thing:
            del thing[looks.LOOK]
    for material in bpy.data.materials:
        material.name = f"my {material.name}"
    return room


def without_nodes(room) -> None:
    """Blender 4.5 has such materials; of 5.0 on they show their nodes all the same."""
    for material in {each for thing in room.all_objects if thing.type == "MESH" for each in thing.data.materials}:
        nodes = compat.node_tree(material).nodes
        shader = next(node for node in nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
        material.diffuse_color = shader.inputs["Base Color"].default_value
        if not compat.shades_with_nodes(bpy.data.materials.new("bare")):
            material.use_nodes = False


def test_a_slot_that_ours_took_is_no_material_given_by_hand(extension, tmp_path):
    """A mesh that something outside shows too keeps its empty slot: the brick's own has our plain material."""
    room = usecases.bring_in(versions.export(tmp_path, "first", BUILD))
    thing = next(each for each in room.all_objects if each.type == "MESH")
    thing.data.materials[0] = None
    scenes.put(bpy.context.scene.collection, thing.data, "outside")
    usecases.apply(room, scenes.PRESET, usecases.Dials(textures=scenes.textures(tmp_path)))
    assert thing.material_slots[0].link == "OBJECT"
    number = int(thing.name.split()[-1])
    colour = "rust" if BUILD[number].colour != "rust" else "teal"
    build = [replace(brick, colour=colour) if n == number else brick for n, brick in enumerate(BUILD)]
    told, _ = usecases.update(room, versions.export(tmp_path, "next", build))
    assert told.recoloured
    assert not told.skipped
    usecases.clear(room)
    assert [(slot.link, slot.material.name) for slot in thing.material_slots] == [("DATA", colour)]


def shown(room) -> dict:
    things = [thing for thing in room.all_objects if thing.type == "MESH"]
    return {thing.name: (thing.data, [slot.material for slot in thing.material_slots]) for thing in things}


@pytest.mark.parametrize(("rounding", "how"), [("shading", None), ("geometry", without_nodes)])
def test_a_worn_build_takes_the_next_version_as_one_that_is_not_worn(extension, export, how, rounding):
    room = by_hand(export)
    if how:
        how(room)
    before = shown(room)
    usecases.apply(room, scenes.PRESET, usecases.Dials(rounding=rounding, quality="draft"))
    told, _ = usecases.update(room, export)
    assert told.kept == told.bricks
    usecases.clear(room)
    assert shown(room) == before


def test_what_an_update_brings_into_a_build_that_is_not_worn_shows_nothing_of_ours(extension, export, tmp_path):
    """Bricks without a material that wear another build's look were moved into it, and new ones look as they do."""
    room = usecases.bring_in(export)
    for material in list(bpy.data.materials):
        bpy.data.materials.remove(material)
    usecases.apply(room, scenes.PRESET, usecases.Dials(textures=scenes.textures(tmp_path)))
    other = scenes.collection("other")
    for thing in [each for each in room.all_objects if each.type == "MESH"][:4]:
        room.objects.unlink(thing)
        other.objects.link(thing)
    told, _ = usecases.update(other, export)
    assert told.added
    usecases.clear(room)
    assert not [material.name for material in bpy.data.materials if material.name.startswith("Playworn")]
