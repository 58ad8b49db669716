"""How far the dials take each layer, held against presets that say so themselves; and layers that are no layer's."""

from dataclasses import replace

import bpy
import numpy as np
import pytest

from addon.core.wear.layers import LAYERS, Dust, Fade, Finish, Rub, Scratches, Smudges, Tint, Wear
from addon.nodes import builder
from addon.nodes.attach import attach
from addon.scene.wear import stamps
from tests.blender.wear.test_wear_attach import constant, wear_nodes
from tests.blender.wear.test_wear_render import glossy, pictures, render, stage
from tests.blender.wear.torture import material

ROUND = Wear(0.4)
ALONE = {
    "scratches": replace(ROUND, scratches=Scratches(0.35, 37.0, 6.0)),
    "smudges": replace(ROUND, smudges=Smudges(0.35, 57.0)),
    "dust": replace(ROUND, dust=Dust(0.35, 27.0)),
    "rub": replace(ROUND, rub=Rub(0.35)),
    "tint": replace(ROUND, tint=Tint(1.3)),
    "fade": replace(ROUND, fade=Fade(29.0)),
    "finish": replace(ROUND, finish=Finish(0.35)),
}
# Of the layers, those that end at a full amount, and those that no dial takes past what the preset says. By hand.
CLIPPED = {"scratches", "smudges", "dust", "fade", "finish"}
AS_DECLARED = {"finish"}


@pytest.fixture
def seen(tmp_path):
    """The picture of a brick with one layer alone, at the dial over all and with so much more of that layer."""
    worn = glossy()
    stage(worn)
    drawn = pictures()

    def look(layer, dial, more):
        attach([worn], ALONE[layer], drawn, 0.001)
        bpy.context.scene["playworn_wear"], bpy.context.scene[stamps.MORE[layer]] = dial, more
        return render(tmp_path, 24, 4)

    return look


@pytest.mark.parametrize("layer", ALONE)
def test_a_layer_ends_at_a_full_amount_or_goes_on(layer, seen):
    assert list(ALONE) == list(LAYERS)
    alike = np.array_equal(seen(layer, 1.0, 11.0), seen(layer, 1.0, 23.0))
    assert alike == (layer in CLIPPED)


@pytest.mark.parametrize("layer", ALONE)
def test_the_dial_over_all_takes_a_layer_past_its_preset_or_not(layer, seen):
    alike = np.array_equal(seen(layer, 1.0, 0.0), seen(layer, 1.6, 0.0))
    assert alike == (layer in AS_DECLARED)
    assert not np.array_equal(seen(layer, 0.4, 0.0), seen(layer, 1.0, 0.0))


@pytest.mark.parametrize(("layer", "place"), [("scratches", 0), ("rub", 1), ("fade", 2)])
def test_a_brick_has_its_own_share_of_some_layers(layer, place, seen):
    brick = bpy.context.scene.objects["cube"]
    shares = [1.0, 1.0, 1.0]
    as_it_is = seen(layer, 0.5, 0.0)
    brick["playworn_share"] = [share if n == place else 0.37 for n, share in enumerate(shares)]
    brick.update_tag()
    assert np.array_equal(seen(layer, 0.5, 0.0), as_it_is)
    brick["playworn_share"] = [0.37 if n == place else share for n, share in enumerate(shares)]
    brick.update_tag()
    assert not np.array_equal(seen(layer, 0.5, 0.0), as_it_is)


@pytest.mark.parametrize("layer", [name for name in ALONE if name not in ("scratches", "rub", "fade")])
def test_and_of_the_others_each_brick_has_as_much(layer, seen):
    as_it_is = seen(layer, 0.5, 0.0)
    bpy.context.scene.objects["cube"]["playworn_share"] = (0.37, 0.37, 0.37)
    assert np.array_equal(seen(layer, 0.5, 0.0), as_it_is)


def test_a_coat_has_no_finish_of_a_mould_and_glass_no_dust():
    coated, tree = material("coated")
    shader = tree.shader(**{"Coat Weight": 0.7})
    tree.surface(shader.outputs[0])
    worn = replace(ALONE["dust"], finish=Finish(0.61))
    attach([coated], worn, pictures(), 0.001)
    nodes = {wire.to_socket.identifier: wire.from_node for wire in tree.tree.links if wire.to_node == shader}
    finish = {name: value(nodes[name], "Finish amount") for name in ("Roughness", "Coat Roughness")}
    assert finish == pytest.approx({"Roughness": 0.61, "Coat Roughness": 0.0})
    assert value(nodes["Coat Roughness"], "Dust amount") == pytest.approx(0.35)


def value(node, name):
    return builder.group_socket(node, "INPUT", name).default_value


def test_a_group_whose_sockets_are_not_those_asked_for_is_made_anew():
    """As an earlier version, which knew fewer layers, left it in a file, of the same number."""
    one = constant()
    drawn = pictures()
    attach([one], ALONE["rub"], drawn, 0.001)
    old = next(tree for tree in bpy.data.node_groups if builder.stamp(tree) == "coordinates")
    old.interface.remove(next(item for item in old.interface.items_tree if item.name == "Share of fade"))
    attach([one], ALONE["rub"], drawn, 0.001)
    (node,) = wear_nodes(one.node_tree)
    space = next(
        each for each in node.node_tree.nodes if builder.stamp(getattr(each, "node_tree", None)) == "coordinates"
    )
    assert builder.has_socket(space.node_tree, "OUTPUT", "Share of fade")
