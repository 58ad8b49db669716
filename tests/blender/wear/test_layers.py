"""How far the dials take each layer, held against presets that say so themselves; and layers that are no layer's."""

from dataclasses import replace

import bpy
import numpy as np
import pytest

from addon.core.wear.layers import Fade, Tint, Wear
from addon.core.wear.names import SHARES_OF
from addon.nodes import builder
from addon.nodes.attach import attach
from addon.scene.wear import stamps
from tests.blender.wear.renders import glossy, pictures, render, stage
from tests.blender.wear.test_wear_attach import constant, wear_nodes
from tests.blender.wear.torture import material
from tests.core.wear.by_hand import BY_HAND, WORN

WITH_SHARES = [name for name, each in BY_HAND.items() if each.share]
OTHERS = {"fade": Fade(29.0), "tint": Tint(0.6)}  # where a row's own reaches no full amount, or goes past black
ALONE = {name: replace(Wear(0.4), **{name: OTHERS.get(name, each.record)}) for name, each in BY_HAND.items()}


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
    alike = np.array_equal(seen(layer, 1.0, 11.0), seen(layer, 1.0, 23.0))
    assert alike == BY_HAND[layer].clips


@pytest.mark.parametrize("layer", ALONE)
def test_the_dial_over_all_takes_a_layer_past_its_preset_or_not(layer, seen):
    alike = np.array_equal(seen(layer, 1.0, 0.0), seen(layer, 1.6, 0.0))
    assert alike != BY_HAND[layer].past_the_preset
    assert not np.array_equal(seen(layer, 0.4, 0.0), seen(layer, 1.0, 0.0))


@pytest.mark.parametrize("layer", ALONE)
def test_a_brick_has_its_own_share_of_some_layers(layer, seen):
    brick = bpy.context.scene.objects["cube"]
    as_it_is = seen(layer, 0.5, 0.0)
    stamp(brick, {name: 1.0 if name == layer else 0.37 for name in WITH_SHARES})
    assert np.array_equal(seen(layer, 0.5, 0.0), as_it_is)
    stamp(brick, {name: 0.37 if name == layer else 1.0 for name in WITH_SHARES})
    assert np.array_equal(seen(layer, 0.5, 0.0), as_it_is) == (BY_HAND[layer].share is None)


def stamp(brick, shares):
    """Gives a brick these shares, three to a raw property; what is over is 1."""
    row = [*(shares[name] for name in WITH_SHARES), 1.0, 1.0]
    for n, name in enumerate(SHARES_OF):
        brick[name] = row[3 * n : 3 * n + 3]
    brick.update_tag()


def test_a_coat_has_no_finish_of_a_mould_and_glass_no_dust():
    coated, tree = material("coated")
    shader = tree.shader(**{"Coat Weight": 0.7})
    tree.surface(shader.outputs[0])
    attach([coated], WORN, pictures(), 0.001)
    nodes = {wire.to_socket.identifier: wire.from_node for wire in tree.tree.links if wire.to_node == shader}
    finish = {name: value(nodes[name], "Finish amount") for name in ("Roughness", "Coat Roughness")}
    assert finish == pytest.approx({"Roughness": 0.27, "Coat Roughness": 0.0})
    assert value(nodes["Coat Roughness"], "Dust amount") == pytest.approx(0.23)


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
