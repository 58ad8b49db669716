"""Apply again, after an artist's hand was on the wear's nodes: it is as the first Apply made it, never more."""

from collections.abc import Callable

import bpy
import pytest

from addon import usecases
from addon.nodes import builder, hand, insertion
from tests.blender import scenes
from tests.blender.build import versions

pytestmark = pytest.mark.usefixtures("extension")

PASSED = ("Base Color", "Roughness", "Normal", "IOR")
Tree, Node = bpy.types.NodeTree, bpy.types.Node


@pytest.fixture(scope="module")
def dials(tmp_path_factory) -> usecases.Dials:
    return usecases.Dials(textures=scenes.textures(tmp_path_factory.mktemp("textures")))


def nothing(tree: Tree, node: Node) -> None:
    pass


def type_values(tree, node) -> None:
    for entry in node.inputs:
        if entry.type == "VALUE" and entry.name not in (*PASSED, *hand.THEIRS):
            entry.default_value = 0.123


def unplug(tree, node) -> None:
    for wire in [each for each in tree.links if each.from_node == node]:
        tree.links.remove(wire)


def unplug_one(tree, node) -> None:
    tree.links.remove(next(each for each in tree.links if each.from_node == node))


def feed(tree, node) -> None:
    """Leads a number into an amount."""
    entry = next(each for each in node.inputs if each.name not in PASSED)
    tree.links.new(tree.nodes.new("ShaderNodeValue").outputs[0], entry)


def mute(tree, node) -> None:
    node.mute = True


def mute_links(tree, node) -> None:
    for wire in tree.links:
        wire.is_muted = wire.from_node == node


def delete(tree, node) -> None:
    tree.nodes.remove(node)


def double(tree, node) -> None:
    tree.nodes.new("ShaderNodeGroup").node_tree = node.node_tree


def rename(tree, node) -> None:
    node.name = node.label = "mine"


def key(tree, node) -> None:
    next(each for each in node.inputs if each.name not in PASSED).keyframe_insert("default_value", frame=1)


def single_user(tree, node) -> None:
    node.node_tree = node.node_tree.copy()


def of_kind(kind: str) -> Tree:
    return next(tree for tree in bpy.data.node_groups if builder.stamp(tree) == kind)


def type_in_group(tree, node) -> None:
    """Types over a number within the scratches."""
    group = of_kind("dull scratches")
    entry = next(each for node in group.nodes for each in node.inputs if each.type == "VALUE" and not each.is_linked)
    entry.default_value += 0.25


def set_in_group(tree, node) -> None:
    next(node for node in of_kind("rub").nodes if node.bl_idname == "ShaderNodeMath").operation = "SINE"


def unplug_in_group(tree, node) -> None:
    links = node.node_tree.links
    links.remove(next(wire for wire in links if wire.to_node.bl_idname == "NodeGroupOutput"))


def change_a_copy(tree, node) -> None:
    single_user(tree, node)
    unplug_in_group(tree, node)


def delete_in_group(tree, node) -> None:
    nodes = of_kind("even dust").nodes
    nodes.remove(next(each for each in nodes if each.bl_idname == "ShaderNodeMath"))


def copy_material(tree, node) -> None:
    """A brick gets a copy of the worn material."""
    slot = bpy.context.view_layer.objects["part.0000"].material_slots[0]
    copied = slot.material.copy()
    slot.link, slot.material = "OBJECT", copied


def type_stamps(tree, node) -> None:
    thing = bpy.context.view_layer.objects["part.0000"]
    thing["playworn_share"], thing["playworn_turn"] = [0.1, 0.1, 0.1], 0.3


ON_NODE = (
    nothing,
    type_values,
    unplug,
    unplug_one,
    feed,
    mute,
    mute_links,
    delete,
    double,
    rename,
    key,
    copy_material,
    type_stamps,
)
IN_GROUP = (single_user, type_in_group, set_in_group, unplug_in_group, change_a_copy, delete_in_group)
TOLD = {"type_in_group": "dull scratches", "set_in_group": "rub", "unplug_in_group": "wear", "change_a_copy": "wear",
        "delete_in_group": "even dust"}  # fmt: skip


def seen(tree: Tree) -> list[str]:
    """What a tree shows: its nodes as they are met on the way back from where it ends, groups with what is in them."""
    number: dict[str, int] = {}
    lines = []

    def meet(node: Node) -> int:
        if node.name not in number:
            number[node.name] = len(number)
            settings = [str(getattr(node, each, "")) for each in ("operation", "blend_type", "attribute_name", "mute")]
            entries = [_entry(entry) for entry in node.inputs if entry.enabled]
            inner = seen(node.node_tree) if getattr(node, "node_tree", None) else ""
            lines.append(f"{number[node.name]} {node.bl_idname} {settings} {entries} {inner}")
        return number[node.name]

    def _entry(entry):
        wires = [each for each in tree.links if each.to_socket == entry and not each.is_muted]
        if wires:
            return entry.identifier, meet(wires[0].from_node), wires[0].from_socket.identifier
        return entry.identifier, builder.constant(entry)

    for node in tree.nodes:
        if node.bl_idname in ("ShaderNodeOutputMaterial", "NodeGroupOutput"):
            meet(node)
    return lines


@pytest.mark.shared_out
@pytest.mark.parametrize("did", [*ON_NODE, *IN_GROUP])
def test_apply_again_is_as_the_first_time_and_clear_leaves_nothing(dials, did: Callable[[Tree, Node], None]):
    build = scenes.wall(1, 2)
    tree = bpy.data.materials["red"].node_tree
    clean = seen(tree)
    usecases.apply(build, scenes.PRESET, dials)
    first, sat = seen(tree), versions.all_of(build.objects, versions.sat)
    did(tree, *insertion.ours(tree))
    told = usecases.apply(build, scenes.PRESET, dials)
    assert seen(tree) == first
    assert versions.all_of(build.objects, versions.sat) == sat
    assert {len(insertion.ours(each.node_tree)) for each in bpy.data.materials} == {1}
    wanted = [f"Playworn {TOLD[did.__name__]}"] if did.__name__ in TOLD else []
    assert [each.object.split(".")[0] for each in told.skipped if "by hand" in each.reason] == wanted
    usecases.clear(build)
    assert seen(tree) == clean
    assert not [each for each in bpy.data.node_groups if builder.stamp(each)]


def test_a_dial_leaves_what_was_changed_by_hand(dials):
    build = scenes.wall(1, 2)
    tree = bpy.data.materials["red"].node_tree
    usecases.apply(build, scenes.PRESET, dials)
    for did in (type_values, type_in_group):
        did(tree, *insertion.ours(tree))
    changed = seen(tree)
    usecases.dial(build, scenes.PRESET, dials)
    assert seen(tree) == changed


def test_a_constant_that_came_through_ours_stays_with_the_node_that_was_put_behind(dials):
    build = scenes.wall(1, 2)
    tree = bpy.data.materials["red"].node_tree
    shader = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    shader.inputs["Base Color"].default_value = (0.5, 0.1, 0.2, 1.0)
    usecases.apply(build, scenes.PRESET, dials)
    between = tree.nodes.new("ShaderNodeHueSaturation")
    (ours,) = insertion.ours(tree)
    tree.links.new(ours.outputs["Base Color"], between.inputs["Color"])
    tree.links.new(between.outputs["Color"], shader.inputs["Base Color"])
    usecases.apply(build, scenes.PRESET, dials)
    usecases.clear(build)
    assert tuple(between.inputs["Color"].default_value) == pytest.approx((0.5, 0.1, 0.2, 1.0))
    assert [(wire.from_node, wire.to_node) for wire in tree.links if wire.to_node == shader] == [(between, shader)]


def test_our_node_in_a_group_of_the_artists_leaves_what_shades_as_before(dials):
    """Make Group over our node alone: what led through it leads through the group."""
    build = scenes.wall(1, 2)
    tree = bpy.data.materials["red"].node_tree
    shader = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    shader.inputs["Base Color"].default_value = (0.5, 0.1, 0.2, 1.0)
    usecases.apply(build, scenes.PRESET, dials)
    (ours,) = insertion.ours(tree)
    group = bpy.data.node_groups.new("mine", "ShaderNodeTree")
    inner, ends = group.nodes.new("ShaderNodeGroup"), group.nodes.new("NodeGroupOutput")
    inner.node_tree = ours.node_tree
    for name, value in ours.items():
        inner[name] = value
    for entry in ours.inputs:
        if entry.type != "VECTOR":
            inner.inputs[entry.identifier].default_value = entry.default_value
    outer = tree.nodes.new("ShaderNodeGroup")
    for end in ours.outputs:
        group.interface.new_socket(end.name, in_out="OUTPUT", socket_type=end.bl_idname)
        group.links.new(inner.outputs[end.name], ends.inputs[end.name])
    outer.node_tree = group
    for end in ours.outputs:
        tree.links.new(outer.outputs[end.name], shader.inputs[end.name])
    tree.nodes.remove(ours)
    usecases.apply(build, scenes.PRESET, dials)
    usecases.clear(build)
    assert not insertion.ours(group)
    assert [wire.to_socket.name for wire in tree.links if wire.from_node == outer] == ["Base Color", "Roughness", "IOR"]
    assert tuple(ends.inputs["Base Color"].default_value) == pytest.approx((0.5, 0.1, 0.2, 1.0))


def test_wear_that_was_taken_apart_is_not_worn_twice(dials):
    """Ungroup leaves the nodes of a group in the material."""
    build = scenes.wall(1, 2)
    tree = bpy.data.materials["red"].node_tree
    usecases.apply(build, scenes.PRESET, dials)
    (ours,) = insertion.ours(tree)
    for node in list(ours.node_tree.nodes):
        if node.bl_idname == "ShaderNodeGroup":
            tree.nodes.new("ShaderNodeGroup").node_tree = node.node_tree
    tree.nodes.remove(ours)
    told = usecases.apply(build, scenes.PRESET, dials)
    assert "taken apart" in next(each.reason for each in told.skipped if each.object == "red")
    assert not insertion.ours(tree)
