"""How many colours the bricks of a build have between them, as an artist would count them."""

from collections.abc import Iterable

import bpy
import numpy as np

from ... import compat
from ...blender import inputs_of, links_of, mesh_of, values_of
from ...core.wear.names import COPIED_COLOUR

_STEPS = 255  # of a channel: colours closer than one are one


def count(objects: Iterable[bpy.types.Object]) -> int:
    """Distinct base colours, as materials, vertices or, where there is neither, the objects themselves have them."""
    shown = {_look(thing): thing for thing in objects}
    return len({colour for thing in shown.values() for colour in _colours(thing)})


def _look(thing: bpy.types.Object) -> tuple:
    """What alone decides an object's colours."""
    own = tuple(slot.material for slot in thing.material_slots if slot.link == "OBJECT")
    return thing.data, own, None if thing.material_slots else _rounded(thing.color)


def _colours(thing: bpy.types.Object) -> set[tuple]:
    painted = mesh_of(thing).color_attributes.active_color if mesh_of(thing).color_attributes else None
    materials = [slot.material for slot in thing.material_slots if slot.material is not None]
    stated = {of_material(one) for one in materials}
    if painted is not None and (not stated or None in stated):
        return _of_vertices(painted)
    fed = {(one.name,) for one in materials if of_material(one) is None}  # by a picture, or nodes of another kind
    return fed | {each for each in stated if each is not None} or {_rounded(thing.color)}


def of_material(material: bpy.types.Material) -> tuple | None:
    """None where nodes or a picture feed the colour; the wear that it leads through feeds none."""
    tree = compat.node_tree(material) if compat.shades_with_nodes(material) else None
    shader = next((node for node in tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled"), None) if tree else None
    if tree is None or shader is None:
        return _rounded(material.diffuse_color)
    entry = inputs_of(shader)["Base Color"]
    source = next((wire.from_node for wire in links_of(tree) if wire.to_socket == entry), None)
    if source is not None and COPIED_COLOUR in source:
        entry = inputs_of(source).get("Base Color", entry)
    return None if entry.is_linked else _rounded(entry.default_value)


def _of_vertices(attribute: bpy.types.Attribute) -> set[tuple]:
    values = np.empty(4 * len(values_of(attribute)), dtype=np.float32)
    values_of(attribute).foreach_get("color", values)
    return set(map(tuple, np.unique(np.rint(values.reshape(-1, 4)[:, :3] * _STEPS), axis=0)))


def _rounded(colour) -> tuple:
    return tuple(round(_STEPS * value) for value in colour[:3])
