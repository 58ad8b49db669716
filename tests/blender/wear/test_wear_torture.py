"""The wear goes into materials of every shape and out of them without a trace."""

import re

import bpy
import pytest

from addon import compat
from addon.core.wear.layers import PICTURES
from addon.core.wear.quality import DRAFT
from addon.core.wear.texture import Texture
from addon.nodes import attach as module
from addon.nodes import builder
from addon.nodes.attach import attach, detach, is_attached
from tests.blender.wear import torture
from tests.blender.wear.node_text import text_of_file
from tests.blender.wear.test_wear_attach import LIGHT, WEAR, wear_nodes

UNWORN = {
    "glow": "no shader that can wear",
    "toon": "no shader that can wear",
    "wax of its own": "no shader that can wear",
    "nothing but a volume": "no shader that can wear",
    "no node at all": "no shader that can wear",
}
WITHOUT_NODES = ("never had nodes", "nodes switched off")


@pytest.fixture
def images():
    return {kind: Texture(bpy.data.images.new(f"my {kind}", 8, 8)) for kind in PICTURES}


def differences(before, after):
    return [pair for pair in zip(before.splitlines(), after.splitlines(), strict=False) if pair[0] != pair[1]]


def test_there_are_at_least_forty_shapes():
    assert len(torture.materials()) >= 40


@pytest.mark.shared_out
def test_all_trees_are_as_they_were_after_once_and_after_twice(images):
    named = torture.materials()
    before = text_of_file()
    attach(named.values(), WEAR, images, 0.001)
    once = text_of_file()
    attach(named.values(), LIGHT, images, 0.002)
    attach(named.values(), WEAR, images, 0.001)
    assert differences(once, text_of_file()) == []
    detach(named.values())
    assert differences(before, text_of_file()) == []
    assert before == text_of_file()


@pytest.mark.shared_out
def test_each_shape_by_itself_is_as_it_was(images):
    """One after the other, so that none hides what another leaves behind."""
    named = torture.materials()
    before = text_of_file()
    for name, one in named.items():
        attach([one], WEAR, images, 0.001)
        detach([one])
        assert text_of_file() == before, name


def test_all_wear_but_those_that_are_named_with_a_reason(images):
    named = torture.materials()
    skipped = attach(named.values(), WEAR, images, 0.001)
    reasons = {}
    for left in skipped:
        reasons.setdefault(left.object, []).append(left.reason)
    bare = {name for name in WITHOUT_NODES if not compat.shades_with_nodes(named[name])}
    unworn = {name for name, one in named.items() if not is_attached(one)}
    assert unworn == UNWORN.keys() | bare
    assert reasons.keys() == unworn | {"animated roughness, driven colour"}
    assert all(UNWORN[name] in reasons[name][0] for name in UNWORN)
    assert all("no nodes" in reasons[name][0] for name in bare)
    animated = " ".join(reasons["animated roughness, driven colour"])
    assert re.findall(r"animated (\w[\w ]*) in", animated) == ["Base Color", "Roughness"]


def test_what_is_animated_goes_on_moving(images):
    one = torture.materials()["animated roughness, driven colour"]
    attach([one], WEAR, images, 0.001)
    shader = one.node_tree.nodes["Shader"]
    assert {wire.to_socket.name for wire in one.node_tree.links if wire.to_node == shader} == {"Normal", "IOR"}


def test_a_shader_with_nothing_to_pass_gets_no_node(images):
    one, tree = torture.material("a matt shader in a draft, which leaves normals alone")
    shader = tree.shader(kind="BsdfDiffuse")
    tree.surface(shader.outputs[0])
    shader.inputs["Color"].keyframe_insert("default_value", frame=1)
    skipped = attach([one], WEAR, images, 0.001, DRAFT)
    assert not wear_nodes(one.node_tree)
    assert not any(map(builder.stamp, bpy.data.node_groups))
    assert ["animated Color" in left.reason for left in skipped] == [True]


def test_a_coat_is_worn_by_a_node_of_its_own_and_only_where_it_is(images):
    named = torture.materials()
    attach(named.values(), WEAR, images, 0.001)
    for name in ("coat", "coat over a normal map", "coat with a normal map", "coat by nodes"):
        tree = named[name].node_tree
        shader = tree.nodes["Shader"]
        feeders = {wire.to_socket.name: wire.from_node for wire in tree.links if wire.to_node == shader}
        assert feeders["Coat Normal"] == feeders["Coat Roughness"] != feeders["Normal"] == feeders["Roughness"]
        assert set(wear_nodes(tree)) == {feeders["Coat Normal"], feeders["Normal"]}
    bumped = {
        name: [
            wire.from_node.name
            for node in wear_nodes(named[name].node_tree)
            for wire in named[name].node_tree.links
            if wire.to_socket == builder.group_socket(node, "INPUT", "Normal")
        ]
        for name in ("coat over a normal map", "coat and base with one normal map", "coat")
    }
    assert [len(found) for found in bumped.values()] == [1, 2, 0]
    assert len(wear_nodes(named["normal map on no coat"].node_tree)) == 1


def test_only_sockets_in_use_are_fed(images):
    named = torture.materials()
    attach(named.values(), WEAR, images, 0.001)
    fed = {
        name: {wire.to_socket.name for wire in named[name].node_tree.links if wire.to_node.name == "Shader"}
        for name in ("diffuse", "glossy", "glass of its own", "metal of its own", "conductor")
    }
    assert fed["diffuse"] == {"Color", "Normal"}
    assert fed["glossy"] == fed["conductor"] == {"Roughness", "Normal"}
    assert fed["glass of its own"] == {"Color", "Roughness", "Normal", "IOR"}
    assert fed["metal of its own"] == {"Base Color", "Roughness", "Normal"}


def test_when_something_raises_nothing_is_left_behind(images, monkeypatch):
    named = torture.materials()
    before = text_of_file()
    putting_in, done = module.insertion.putting_in, []

    def fails_at_the_last(tree, *rest):
        done.append(tree)
        if len(done) == 30:
            raise MemoryError("on purpose")
        yield from putting_in(tree, *rest)

    monkeypatch.setattr(module.insertion, "putting_in", fails_at_the_last)
    with pytest.raises(MemoryError):
        attach(named.values(), WEAR, images, 0.001)
    assert len(done) == 30
    assert differences(before, text_of_file()) == []


def test_what_a_kept_material_shares_stays_worn(images):
    named = torture.materials()
    one, two = named["around a group"], named["around it twice, and around the inner one"]
    before = text_of_file()
    attach([one, two], WEAR, images, 0.001)
    both = text_of_file()
    detach([one], keep=[two])
    assert text_of_file() == both  # all its shaders stand in groups of the other's
    detach([one, two])
    assert text_of_file() == before


def linked_and_overridden(path):
    """A library of two materials and a group; one material overridden, and one of this file around the group."""
    inner, tree = torture.group("library group")
    tree.link(tree.shader().outputs[0], tree.tree.nodes.new("NodeGroupOutput").inputs[0])
    for name in ("linked", "overridden"):
        _, tree = torture.material(name)
        tree.surface(tree.shader().outputs[0])
    bpy.data.libraries.write(str(path), {*bpy.data.materials, inner})
    bpy.data.batch_remove([*bpy.data.materials, inner])
    with bpy.data.libraries.load(str(path), link=True) as (_, into):
        into.materials, into.node_groups = ["linked", "overridden"], ["library group"]
    linked, source = (next(one for one in bpy.data.materials if one.name == name) for name in ("linked", "overridden"))
    around, tree = torture.material("around the library")
    mix = tree.node("MixShader", "Mix")
    tree.link(tree.node("Group", "Theirs", node_tree=bpy.data.node_groups[0]).outputs[0], mix.inputs[1])
    tree.link(tree.shader().outputs[0], mix.inputs[2])
    tree.surface(mix.outputs[0])
    return linked, source.override_create(), around


def test_what_belongs_to_other_files_is_left_and_listed(images, tmp_path):
    linked, overridden, around = linked_and_overridden(tmp_path / "library.blend")
    before = text_of_file()
    skipped = attach([linked, overridden, around], WEAR, images, 0.001)
    assert [left.object for left in skipped] == ["linked", "overridden", "around the library"]
    assert all("linked from another file" in left.reason for left in skipped)
    assert [is_attached(one) for one in (linked, overridden, around)] == [False, False, True]
    assert len(wear_nodes(around.node_tree)) == 1
    detach([linked, overridden, around])
    assert text_of_file() == before
