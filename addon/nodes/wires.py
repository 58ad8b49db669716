"""The links of a node tree: found by their ends, made again as they were, put back into their order."""

import bpy

Ends = tuple[bpy.types.NodeSocket, bpy.types.NodeSocket, bool]  # from, to, whether it is muted


def into(tree: bpy.types.NodeTree, target: bpy.types.NodeSocket) -> list[bpy.types.NodeLink]:
    """The links that lead to a socket; no cheaper way reads them while the tree is being changed."""
    return [wire for wire in tree.links if wire.to_socket == target]


def out_of(tree: bpy.types.NodeTree, source: bpy.types.NodeSocket) -> list[bpy.types.NodeLink]:
    """The links that leave a socket."""
    return [wire for wire in tree.links if wire.from_socket == source]


def lead(tree: bpy.types.NodeTree, source: bpy.types.NodeSocket, target: bpy.types.NodeSocket, muted: bool) -> None:
    """A link of the artist's, valid or not, made again as it was."""
    tree.links.new(source, target).is_muted = muted


def places(tree: bpy.types.NodeTree) -> dict[bpy.types.NodeSocket | None, int]:
    """Where in the order of a tree's links the one into each socket stands."""
    return {wire.to_socket: place for place, wire in enumerate(tree.links)}


def put_back(tree: bpy.types.NodeTree, wanted: dict[bpy.types.NodeSocket | None, int]) -> None:
    """Brings the links into some sockets back to their places; the others keep their order among themselves.

    A link made anew stands last, and Blender has no other way to move one.
    """
    now = [(wire.from_socket, wire.to_socket, wire.is_muted) for wire in tree.links]
    order = [ends for ends in now if ends[1] not in wanted]
    for ends in sorted((ends for ends in now if ends[1] in wanted), key=lambda ends: wanted[ends[1]]):
        order.insert(wanted[ends[1]], ends)
    make(tree, order)


def make(tree: bpy.types.NodeTree, order: list[Ends]) -> None:
    """Makes links of a tree, those that it has among them, so that all stand in this order."""
    now = [(wire.from_socket, wire.to_socket, wire.is_muted) for wire in tree.links]
    kept = next((n for n, (was, goal) in enumerate(zip(now, order, strict=False)) if was != goal), len(now))
    for source, target, muted in order[kept:]:
        lead(tree, source, target, muted)
