"""A node tree as it was before ours were put in or taken out."""

from collections.abc import Callable, Sequence
from typing import cast

import bpy

from .. import raw
from ..blender import Socket, inputs_of, links_of
from ..transaction import Back
from . import shaders, wires
from .builder import constant

_SETTINGS = ("node_tree", "parent", "label", "width", "hide", "mute", "use_custom_color", "color", "select", "location")

Nodes = Callable[[bpy.types.NodeTree], Sequence[bpy.types.Node]]


def of_tree(tree: bpy.types.NodeTree, ours: Nodes) -> Back:
    """How our nodes, the links and what leads into shaders stand now."""
    there = set(tree.nodes.keys())
    nodes = [_Node(node) for node in ours(tree)]
    links = [(_end(wire.from_socket), _end(wire.to_socket), wire.is_muted) for wire in links_of(tree)]
    entries = [(entry, constant(entry), entry.hide) for shader in shaders.shaders(tree) for entry in inputs_of(shader)]

    def back() -> None:
        half_made = [node for node in tree.nodes if node.name not in there]
        for node in {*ours(tree), *half_made}:
            tree.nodes.remove(node)
        for node in nodes:
            node.put_into(tree)
        wanted = [(_found(tree, source, True), _found(tree, target, False), muted) for source, target, muted in links]
        for wire in [each for each in links_of(tree) if wires.ends(each) not in wanted]:
            tree.links.remove(wire)
        wires.make(tree, wanted)
        for entry, value, hide in entries:
            if value is not None and constant(entry) != value:
                entry.default_value = value
            entry.hide = hide  # a link shows what it leads into

    return back


def of_constants(tree: bpy.types.NodeTree, entries: Sequence[Socket]) -> Back:
    """What some sockets of a tree are set to now."""
    were = [(_end(entry), constant(entry)) for entry in entries]

    def back() -> None:
        for address, value in were:
            cast(Socket, _found(tree, address, False)).default_value = value

    return back


class _Node:
    """All of one of our nodes but its links."""

    def __init__(self, node: bpy.types.Node):
        self.name, self.kind = node.name, node.bl_idname
        self.settings = {name: getattr(node, name) for name in _SETTINGS}
        self.settings["location"] = node.location[:]
        self.settings["color"] = node.color[:]
        self.raw = {name: raw.plain(value) for name, value in node.items()}
        self.values = {entry.identifier: (constant(entry), entry.hide) for entry in node.inputs}

    def put_into(self, tree: bpy.types.NodeTree) -> None:
        node = tree.nodes.new(self.kind)
        node.name = self.name
        for name, value in self.settings.items():
            setattr(node, name, value)
        for name, value in self.raw.items():
            node[name] = value
        for entry in inputs_of(node):
            value, hide = self.values[entry.identifier]
            if value is not None:
                entry.default_value = value
            entry.hide = hide


Address = tuple[str, str]  # a node's name, a socket's identifier


def _end(socket: bpy.types.NodeSocket) -> Address:
    return socket.node.name, socket.identifier


def _found(tree: bpy.types.NodeTree, address: Address, is_output: bool) -> bpy.types.NodeSocket:
    node = tree.nodes[address[0]]
    return next(each for each in (node.outputs if is_output else node.inputs) if each.identifier == address[1])
