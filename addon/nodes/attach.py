"""How the wear enters materials and leaves them again without a trace.

colour source    ─▶ ┌───────────────┐ ─▶ Base Color ┐
roughness source ─▶ │ Playworn wear │ ─▶ Roughness  ├ Principled
normal source    ─▶ └───────────────┘ ─▶ Normal     ┘
"""

from collections.abc import Iterable, Iterator
from functools import cache

import bpy

from .. import compat
from ..core import fade, tint
from ..core.kinds import RUBBED, TRANSPARENT
from ..core.preset import Wear
from ..core.quality import STANDARD, Quality
from ..core.report import Skipped
from ..core.texture import BROUGHT_IN, STAND_IN, WearImages
from . import builder, finish
from .groups import wear as worn

# What passes through us, and where a node keeps the constant it was given, to tell later whether the artist changed it.
_PASSED = {"Base Color": "playworn_copied_colour", "Roughness": "playworn_copied", "Normal": ""}
_PRINCIPLED = "ShaderNodeBsdfPrincipled"
_LABEL = "Playworn wear"
_LEFT, _BELOW = 240.0, 240.0


def attach(
    materials: Iterable[bpy.types.Material | None],
    wear: Wear,
    images: WearImages,
    metres_per_mm: float,
    quality: Quality = STANDARD,
) -> tuple[Skipped, ...]:
    """Puts the wear before every Principled node of the materials; where it already is, it is put in anew.

    metres_per_mm: world units per millimetre. Returns the materials left alone, each with the reason.
    """
    skipped, entered = [], set()
    group = cache(
        lambda dusty: worn.wear(images, dusty, quality)
    )  # each asking for it makes Blender update all its users
    for material in _distinct(materials):
        reason = _reason_to_skip(material)
        if reason:
            skipped.append(Skipped(material.name, reason))
            continue
        for tree in _trees(material.node_tree):
            if tree.library:
                if _principled(tree):
                    skipped.append(
                        Skipped(material.name, f'has the node group "{tree.name}", which is linked from another file')
                    )
            elif tree not in entered:
                entered.add(tree)
                _take_out(tree)
                for shader in _principled(tree):
                    colour, kind = finish.colour(tree, shader), finish.kind(tree, shader)
                    values = _values(wear, colour, kind, metres_per_mm)
                    _dress(_insert(tree, shader, group(quality.dust and values["Dust amount"] > 0.0)), values)
    _sweep()
    return tuple(skipped)


def detach(materials: Iterable[bpy.types.Material | None]) -> None:
    """Takes the wear out: whatever feeds it goes back to wherever it led. Groups and pictures only it used go too."""
    for material in _distinct(materials):
        if not _is_foreign(material) and material.node_tree:
            for tree in _trees(material.node_tree):
                if not tree.library:
                    _take_out(tree)
    _sweep()


def is_attached(material: bpy.types.Material) -> bool:
    """Whether the wear stands anywhere in the material."""
    return bool(material.node_tree) and any(_ours(tree) for tree in _trees(material.node_tree))


def _distinct(materials: Iterable[bpy.types.Material | None]) -> list[bpy.types.Material]:
    return list(dict.fromkeys(material for material in materials if material))


def _reason_to_skip(material: bpy.types.Material) -> str:
    if _is_foreign(material):
        return "is linked from another file: make it local to wear it"
    if not compat.shades_with_nodes(material):
        return "has no nodes"
    if not any(_principled(tree) for tree in _trees(material.node_tree)):
        return "has no Principled BSDF"
    return ""


def _is_foreign(material: bpy.types.Material) -> bool:
    return bool(material.library or material.override_library)


def _trees(root: bpy.types.NodeTree) -> Iterator[bpy.types.NodeTree]:
    """The tree and every group nested in it, each once, ours left out."""
    waiting, seen = [root], set()
    while waiting:
        tree = waiting.pop()
        if tree in seen or builder.stamp(tree):
            continue
        seen.add(tree)
        yield tree
        waiting += [node.node_tree for node in tree.nodes if node.bl_idname == "ShaderNodeGroup" and node.node_tree]


def _principled(tree: bpy.types.NodeTree) -> list[bpy.types.Node]:
    return [node for node in tree.nodes if node.bl_idname == _PRINCIPLED]


def _ours(tree: bpy.types.NodeTree) -> list[bpy.types.Node]:
    return [
        node
        for node in tree.nodes
        if node.bl_idname == "ShaderNodeGroup" and builder.stamp(node.node_tree) == worn.KIND
    ]


def _values(wear: Wear, colour: tuple[float, ...], kind: str, metres_per_mm: float) -> dict[str, float]:
    ageing = fade.ageing(colour, wear.fade.delta_e)
    return {
        "Rounding": wear.rounding_mm,
        "Scratch amount": wear.scratches.amount,
        "Scratch size": wear.scratches.size_mm,
        "Scratch depth": wear.scratches.depth_um,
        "Smudge amount": wear.smudges.amount,
        "Smudge size": wear.smudges.size_mm,
        "Rub amount": wear.rub.amount,
        "Rub whitening": RUBBED[kind].whitening,
        "Rub finish": RUBBED[kind].roughness,
        "Lot spread": tint.spread(colour, wear.tint.delta_e),
        "Yellowing": ageing.yellowing,
        "Bleaching": ageing.bleaching,
        "Dust amount": 0.0 if kind == TRANSPARENT else wear.dust.amount,  # glass would be dusty inside
        "Dust size": wear.dust.size_mm,
        "Scale": metres_per_mm,
    }


def _insert(tree: bpy.types.NodeTree, shader: bpy.types.Node, group: bpy.types.NodeTree) -> bpy.types.Node:
    node = tree.nodes.new("ShaderNodeGroup")
    node.node_tree = group
    node.label = _LABEL
    node.location = shader.location_absolute[0] - _LEFT, shader.location_absolute[1] - _BELOW
    for name, kept in _PASSED.items():
        target = builder.socket(shader.inputs, name)
        entry = builder.group_socket(node, "INPUT", name)
        if kept:
            entry.default_value = node[kept] = target.default_value
        for wire in finish.wires_into(tree, target):
            _lead(tree, wire.from_socket, entry, wire.is_muted)
        builder.link(tree, builder.group_socket(node, "OUTPUT", name), target)
    return node


def _dress(node: bpy.types.Node, values: dict[str, float]) -> None:
    for name, value in values.items():
        if builder.has_socket(node, "INPUT", name):  # without dust, its sockets are not there
            builder.group_socket(node, "INPUT", name).default_value = value


def _take_out(tree: bpy.types.NodeTree) -> None:
    for node in _ours(tree):
        for name, kept in _PASSED.items():
            if builder.has_socket(node, "INPUT", name):  # an older version of ours passes less
                _bridge(tree, node, name, kept)
        tree.nodes.remove(node)


def _bridge(tree: bpy.types.NodeTree, node: bpy.types.Node, name: str, kept: str) -> None:
    """Leads what feeds one of our inputs on to where our output of that name leads, past us."""
    entry = builder.group_socket(node, "INPUT", name)
    sources = [(wire.from_socket, wire.is_muted) for wire in finish.wires_into(tree, entry)]
    leaving = builder.group_socket(node, "OUTPUT", name)
    wires = [wire for wire in tree.links if wire.from_socket == leaving]
    changed = kept and _plain(entry.default_value) != _plain(node.get(kept))
    for target, muted in [(wire.to_socket, wire.is_muted) for wire in wires]:
        if changed and target.type == entry.type:
            target.default_value = entry.default_value
        for source, source_muted in sources:
            _lead(tree, source, target, muted or source_muted)


def _plain(value) -> tuple[float, ...]:
    """A socket's constant, or a property that keeps one."""
    return tuple(value) if hasattr(value, "__len__") else (value,)


def _lead(tree: bpy.types.NodeTree, source, target, muted: bool) -> None:
    """A link of the artist's, valid or not, made again as it was."""
    tree.links.new(source, target).is_muted = muted


def _sweep() -> None:
    """Removes our groups, then our pictures, that nothing uses any more."""
    while unused := [tree for tree in bpy.data.node_groups if builder.stamp(tree) and not tree.users]:
        bpy.data.batch_remove(unused)
    ours = [image for image in bpy.data.images if image.get(STAND_IN) or image.get(BROUGHT_IN)]
    bpy.data.batch_remove([image for image in ours if not image.users])
