"""Node trees and material slots as readable text: all settings and defaults of nodes, all links with their state."""

import bpy

from addon import compat

_MOMENTARY = {"rna_type", "select", "internal_links", "inputs", "outputs", "dimensions", "is_inspect_output"}


def text_of(tree: bpy.types.NodeTree) -> str:
    """All that makes the tree what it is, in its own order, nested groups by name; equal text means an equal tree."""
    lines = [f"tree {tree.name} active {tree.nodes.active and tree.nodes.active.name}"]
    lines += [f"  key {key} = {tree[key]}" for key in sorted(tree.keys())]
    for node in tree.nodes:
        lines.append(f"node {node.name} {node.bl_idname} selected {node.select}")
        lines += [f"  {key} = {value}" for key, value in _settings(node)]
        lines += [f"  key {key} = {node[key]}" for key in sorted(node.keys())]
        for side in ("inputs", "outputs"):
            for socket in getattr(node, side):
                lines.append(f"  {side[:-1]} {socket.identifier} {socket.hide} {_default(socket)}")
    lines += [
        f"link {w.from_node.name}.{w.from_socket.identifier} > {w.to_node.name}.{w.to_socket.identifier}"
        f" muted {w.is_muted} valid {w.is_valid}"
        for w in tree.links
    ]
    if tree.animation_data:
        curves = [*compat.curves(tree.animation_data), *tree.animation_data.drivers]
        lines += [f"animated {curve.data_path} {curve.array_index}" for curve in curves]
    return "\n".join(lines)


def text_of_file() -> str:
    """Every material with its tree, every node group, the names of all images."""
    texts = [_text_of_material(material) for material in bpy.data.materials]
    texts += [text_of(tree) for tree in bpy.data.node_groups]
    return "\n\n".join([*texts, f"images {sorted(image.name for image in bpy.data.images)}"])


def text_of_slots() -> str:
    """Every mesh and object with its slots and raw properties, and what an object's own slots hold, shown or not."""
    lines = []
    for mesh in bpy.data.meshes:
        lines.append(f"mesh {mesh.name} {[_plain(one) for one in mesh.materials]} {_raw(mesh)}")
    for thing in bpy.data.objects:
        slots = [(slot.link, _plain(slot.material)) for slot in thing.material_slots]
        lines.append(f"object {thing.name} {slots} {_held(thing)} {_raw(thing)}")
    return "\n".join(lines)


def _raw(block):
    """Raw properties by name, as plain values."""
    return {
        key: value.to_dict() if hasattr(value, "to_dict") else _plain(value) for key, value in sorted(block.items())
    }


def _held(thing):
    """What the slots of an object itself hold; looked at by showing them for a moment."""
    held = []
    for slot in thing.material_slots:
        link, slot.link = slot.link, "OBJECT"
        held.append(_plain(slot.material))
        slot.link = link
    return held


def _text_of_material(material):
    shown = (*material.diffuse_color, material.roughness, material.metallic)
    keys = sorted(material.keys())
    about = f"material {material.name} users {material.users} nodes {compat.shades_with_nodes(material)} {shown} {keys}"
    return f"{about}\n{text_of(material.node_tree)}" if material.node_tree else about


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
