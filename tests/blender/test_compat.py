"""Each difference between Blender versions, tried out in the Blender at hand."""

import bpy
import pytest

from addon import compat


def test_the_eevee_engine_can_be_chosen(empty_scene):
    empty_scene.render.engine = compat.eevee()
    assert empty_scene.render.engine.startswith("BLENDER_EEVEE")


@pytest.mark.parametrize("kind", ["materials", "worlds"])
def test_a_new_material_or_world_gets_its_tree_once(kind: str):
    owner = getattr(bpy.data, kind).new("anything")
    tree = compat.node_tree(owner)
    assert len(tree.nodes) == 2  # a shader and an output: Blender's own start
    tree.nodes.clear()
    assert compat.node_tree(owner) == tree
    assert len(tree.nodes) == 0


def test_a_tree_shades_unless_it_is_switched_off():
    material = bpy.data.materials.new("anything")
    compat.node_tree(material)
    assert compat.shades_with_nodes(material)
    if not getattr(material.bl_rna.properties["use_nodes"], "is_deprecated", False):
        material.use_nodes = False
        assert not compat.shades_with_nodes(material)


@pytest.mark.parametrize("file_format", ["PNG", "OPEN_EXR_MULTILAYER", "OPEN_EXR"])
def test_any_file_format_can_follow_any_other(empty_scene, file_format: str):
    settings = empty_scene.render.image_settings
    for before in ("PNG", "OPEN_EXR", "OPEN_EXR_MULTILAYER"):
        compat.set_file_format(settings, before)
        compat.set_file_format(settings, file_format)
        assert settings.file_format == file_format
