"""The links of a node tree: found by their ends, made again as they were, put back into their order."""

import bpy

from ..blender import Link, links_of

Ends = tuple[bpy.types.NodeSocket, bpy.types.NodeSocket, bool]  # from, to, whether it is muted


def into(tree: bpy.types.NodeTree, target: bpy.types.NodeSocket) -> list[Link]:
    """The links that lead to a socket; no cheaper way reads them while the tree is being changed."""
    return [wire for wire in links_of(tree) if wire.to_socket == target]


def out_of(tree: bpy.types.NodeTree, source: bpy.types.NodeSocket) -> list[Link]:
    """The links that leave a socket."""
    return [wire for wire in links_of(tree) if wire.from_socket == source]


def ends(wire: Link) -> Ends:
    """Where a link begins and ends, and whether it is muted."""
    return wire.from_socket, wire.to_socket, wire.is_muted


def lead(tree: bpy.types.NodeTree, source: bpy.types.NodeSocket, target: bpy.types.NodeSocket, muted: bool) -> None:
    """A link of the artist's, valid or not, made again as it was."""
    tree.links.new(source, target).is_muted = muted


def places(tree: bpy.types.NodeTree) -> dict[bpy.types.NodeSocket, int]:
    """Where in the order of a tree's links the one into each socket stands."""
    return {wire.to_socket: place for place, wire in enumerate(links_of(tree))}


def put_back(tree: bpy.types.NodeTree, wanted: dict[bpy.types.NodeSocket, int]) -> None:
    """Brings the links into some sockets back to their places; the others keep their order among themselves.

    A link made anew stands last, and Blender has no other way to move one.
    """
    now = [ends(wire) for wire in links_of(tree)]
    order = [each for each in now if each[1] not in wanted]
    for each in sorted((each for each in now if each[1] in wanted), key=lambda each: wanted[each[1]]):
        order.insert(wanted[each[1]], each)
    make(tree, order)


def make(tree: bpy.types.NodeTree, order: list[Ends]) -> None:
    """Makes links of a tree, those that it has among them, so that all stand in this order."""
    now = [ends(wire) for wire in links_of(tree)]
    kept = next((n for n, (was, goal) in enumerate(zip(now, order, strict=False)) if was != goal), len(now))
    for source, target, muted in order[kept:]:
        lead(tree, source, target, muted)
