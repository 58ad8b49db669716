"""What an artist gave the wear's nodes of a tree, kept while ours are made anew: the amount and the masks, typed or
linked.

Kept by the shader that a node leads to, and by names: nodes of ours come and go, and what is linked may be anything.
"""

from collections.abc import Collection
from dataclasses import dataclass

import bpy

from ..blender import links_of
from ..core.wear.names import AMOUNT, MASK
from . import builder, shaders, wires

USUAL = 1.0
THEIRS = (AMOUNT, *MASK.values())

Place = tuple[str, int]  # a shader's name, and which of its passages


@dataclass(frozen=True)
class Given:
    """What one socket was given."""

    value: float
    links: tuple[tuple[str, str, bool], ...]  # a node's name, its socket's identifier, whether the link is muted


Hand = dict[Place, dict[str, Given]]


def read(tree: bpy.types.NodeTree, ours: Collection[bpy.types.ShaderNodeGroup]) -> Hand:
    """What the artist gave our nodes of a tree. One that leads to no shader any more stands for the first that none of
    the others leads to."""
    found, lost = Hand(), []
    for node in ours:
        place, given = _place(tree, node, ours), of_node(tree, node, ours)
        if place is None:
            lost += [given] if given else []
        else:
            found[place] = given | found.get(place, {})
    if lost:
        places = [(each.name, n) for each in shaders.shaders(tree) for n, _ in enumerate(shaders.passages(tree, each))]
        found.update(zip([place for place in places if place not in found], lost, strict=False))
    return found


def of_node(
    tree: bpy.types.NodeTree, node: bpy.types.ShaderNodeGroup, ours: Collection[bpy.types.Node]
) -> dict[str, Given]:
    """What the artist gave one of our nodes, by the sockets' names."""
    found = {}
    for name in THEIRS:
        if builder.has_socket(node.node_tree, "INPUT", name):  # older versions had none
            entry = builder.group_socket(node, "INPUT", name)
            links = tuple(
                (wire.from_node.name, wire.from_socket.identifier, wire.is_muted)
                for wire in wires.into(tree, entry)
                if wire.from_node not in ours
            )
            if links or entry.default_value != USUAL:
                found[name] = Given(entry.default_value, links)
    return found


def put_back(tree: bpy.types.NodeTree, node: bpy.types.ShaderNodeGroup, given: dict[str, Given]) -> None:
    """Gives one of our nodes what the artist gave the one before it."""
    for name, each in given.items():
        entry = builder.group_socket(node, "INPUT", name)
        entry.default_value = each.value
        for source, identifier, muted in each.links:
            outputs = tree.nodes[source].outputs
            wires.lead(tree, next(end for end in outputs if end.identifier == identifier), entry, muted)


def _place(tree: bpy.types.NodeTree, node: bpy.types.Node, ours: Collection[bpy.types.ShaderNodeGroup]) -> Place | None:
    """The shader that a node of ours leads to, through whatever was put between; None where it leads to none."""
    able, waiting, seen = shaders.shaders(tree), [node], {node}
    while waiting:
        here = waiting.pop(0)
        for wire in [each for each in links_of(tree) if each.from_node == here]:
            goal = wire.to_node
            if goal in able:
                passages = shaders.passages(tree, goal)
                entry = wire.to_socket.identifier
                return goal.name, next((n for n, way in enumerate(passages) if entry in way.values()), 0)
            if goal not in seen and goal not in ours:
                seen.add(goal)
                waiting.append(goal)
    return None
