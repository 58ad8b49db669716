"""Materials that an export wrote again for each brick: of one look and one name but for its number, they are one."""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import Any, cast

import bpy

from ...blender import links_of
from ..wear import slots

_NUMBER = re.compile(r"[\s._-]*\d*$")
_PLAIN = {"BOOLEAN", "INT", "FLOAT", "STRING", "ENUM"}


def drop(objects: Iterable[bpy.types.Object], made: Iterable[bpy.types.Material]) -> int:
    """Lets objects show the first of the materials in `made` that are alike; how many others that removes."""
    alike: dict[tuple, list[bpy.types.Material]] = defaultdict(list)
    for material in made:
        if (look := _look(material)) is not None:
            alike[_NUMBER.sub("", material.name), look].append(material)
    groups = [group for group in alike.values() if len(group) > 1]
    if not groups:  # objects by the thousand need not be asked
        return 0
    gone = []
    shown = set(slots.materials(objects))
    for group in groups:
        used = [material for material in group if material in shown]
        for material in used[1:]:
            material.user_remap(used[0])
        gone += used[1:]
    bpy.data.batch_remove(gone)
    return len(gone)


def _look(material: bpy.types.Material) -> tuple | None:
    """All that a material shows; None where it has curves or ramps."""
    tree = material.node_tree
    nodes = list(tree.nodes) if tree else []
    if any(hasattr(node, "color_ramp") or hasattr(node, "mapping") for node in nodes):
        return None
    place = {node: n for n, node in enumerate(nodes)}
    wires = sorted(
        (place[link.from_node], link.from_socket.identifier, place[link.to_node], link.to_socket.identifier)
        for link in (links_of(tree) if tree else ())
    )
    looks = [(node.bl_idname, *_values(node, bpy.types.Node), *_entries(node)) for node in nodes]
    return tuple(_values(material, bpy.types.ID)), tuple(looks), tuple(wires)


def _values(thing: bpy.types.bpy_struct, base: type) -> Iterator[tuple]:
    """The settings that a thing has beyond its base's, those of its parts, and the data-blocks that it shows."""
    for prop in thing.bl_rna.properties:
        name = prop.identifier
        if name in base.bl_rna.properties or name == "rna_type" or getattr(prop, "is_deprecated", False):
            continue
        value = getattr(thing, name)
        if prop.type in _PLAIN and not prop.is_readonly:
            yield name, tuple(value) if getattr(prop, "is_array", False) else value
        elif isinstance(value, bpy.types.ID) and not value.is_embedded_data:
            yield name, value.session_uid
        elif prop.type == "POINTER" and value is not None and base is bpy.types.Node:
            yield name, tuple(_values(value, bpy.types.PropertyGroup))


def _entries(node: bpy.types.Node) -> Iterator[tuple]:
    for entry in node.inputs:
        value = cast(Any, getattr(entry, "default_value", None))
        yield entry.identifier, tuple(value) if hasattr(value, "__len__") and not isinstance(value, str) else value
