"""A node tree as readable text: every node with every setting and default, every link with its state."""

import bpy

_MOMENTARY = {"rna_type", "select", "internal_links", "inputs", "outputs", "dimensions", "is_inspect_output"}


def text_of(tree: bpy.types.NodeTree) -> str:
    """All that makes the tree what it is, sorted, nested groups by name; equal text means an equal tree."""
    lines = [f"tree {tree.name}"]
    for node in sorted(tree.nodes, key=lambda node: node.name):
        lines.append(f"node {node.name} {node.bl_idname}")
        lines += [f"  {key} = {value}" for key, value in _settings(node)]
        lines += [f"  key {key} = {node[key]}" for key in sorted(node.keys())]
        for side in ("inputs", "outputs"):
            for socket in getattr(node, side):
                lines.append(f"  {side[:-1]} {socket.identifier} {socket.hide} {_default(socket)}")
    links = [
        f"link {w.from_node.name}.{w.from_socket.identifier} > {w.to_node.name}.{w.to_socket.identifier}"
        f" muted {w.is_muted} valid {w.is_valid}"
        for w in tree.links
    ]
    return "\n".join(lines + sorted(links))


def text_of_file() -> str:
    """Every material's tree and every node group, and the names of all images."""
    trees = [material.node_tree for material in bpy.data.materials if material.node_tree]
    texts = [text_of(tree) for tree in [*trees, *bpy.data.node_groups]]
    return "\n\n".join([*texts, f"images {sorted(image.name for image in bpy.data.images)}"])


def _settings(node):
    for prop in node.bl_rna.properties:
        if prop.identifier not in _MOMENTARY:
            yield prop.identifier, _plain(getattr(node, prop.identifier))


def _default(socket):
    return _plain(getattr(socket, "default_value", None))


def _plain(value):
    if isinstance(value, bpy.types.ID):
        return value.name
    if isinstance(value, bpy.types.bpy_struct):
        return value.bl_rna.identifier
    if hasattr(value, "__len__") and not isinstance(value, (str, set)):
        return [_plain(item) for item in value]
    return value
