"""The shaders that wear: what of each passes through us, and what it makes of a surface, its colour and its kind."""

from typing import Any

import bpy

from .. import compat
from ..core.exports.stated import Surface
from ..core.wear import kinds
from . import builder, wires

COLOUR, ROUGHNESS, NORMAL, IOR = "Base Color", "Roughness", "Normal", "IOR"  # the sockets of our group, in and out
_PRINCIPLED = "ShaderNodeBsdfPrincipled"

Passage = dict[str, str]  # our socket -> the shader's, by identifier

# A matt surface has no gloss to wear. The colour of a sheen is neither dyed nor bleached.
_SURFACE: dict[str, Passage] = {
    _PRINCIPLED: {COLOUR: "Base Color", ROUGHNESS: "Roughness", NORMAL: "Normal", IOR: "IOR"},
    "ShaderNodeBsdfDiffuse": {COLOUR: "Color", NORMAL: "Normal"},
    "ShaderNodeBsdfTranslucent": {COLOUR: "Color", NORMAL: "Normal"},
    "ShaderNodeBsdfAnisotropic": {ROUGHNESS: "Roughness", NORMAL: "Normal"},
    "ShaderNodeBsdfMetallic": {COLOUR: "Base Color", ROUGHNESS: "Roughness", NORMAL: "Normal"},
    "ShaderNodeBsdfGlass": {COLOUR: "Color", ROUGHNESS: "Roughness", NORMAL: "Normal", IOR: "IOR"},
    "ShaderNodeBsdfRefraction": {COLOUR: "Color", ROUGHNESS: "Roughness", NORMAL: "Normal", IOR: "IOR"},
}
_COAT: Passage = {ROUGHNESS: "Coat Roughness", NORMAL: "Coat Normal"}  # hands touch the coat too
_KINDS = {
    "ShaderNodeBsdfAnisotropic": kinds.METALLIC,
    "ShaderNodeBsdfMetallic": kinds.METALLIC,
    "ShaderNodeBsdfGlass": kinds.TRANSPARENT,
    "ShaderNodeBsdfRefraction": kinds.TRANSPARENT,
}
_GREY = (0.8, 0.8, 0.8)  # of a shader without a colour


def shaders(tree: bpy.types.NodeTree) -> list[bpy.types.Node]:
    """The nodes of a tree, without its groups, that can wear."""
    return [node for node in tree.nodes if node.bl_idname in _SURFACE]


def passages(tree: bpy.types.NodeTree, shader: bpy.types.Node) -> list[Passage]:
    """What goes through one wear node each: the surface, and the coat over it where there is one.

    Left out are sockets that the shader's own settings have put out of use, and constants that are animated.
    """
    left = _in_use(shader).keys() - animated(tree, shader)
    return [{ours: theirs for ours, theirs in way.items() if theirs in left} for way in _ways(tree, shader)]


def animated(tree: bpy.types.NodeTree, shader: bpy.types.Node) -> list[str]:
    """Which constants of a shader would pass through us but move with time: a copy of them would stand still."""
    paths, entries = _animated_paths(tree), _in_use(shader)
    names = [name for way in _ways(tree, shader) for name in way.values() if paths and name in entries]
    return [
        name
        for name in names
        if entries[name].path_from_id("default_value") in paths and not _is_fed(tree, entries[name])
    ]


def colour(tree: bpy.types.NodeTree, shader: bpy.types.Node) -> tuple[float, ...] | None:
    """The constant base colour, linear; None where nodes feed it, a pale grey where the shader has none that wears."""
    name = _SURFACE[shader.bl_idname].get(COLOUR)
    if name not in _in_use(shader):
        return _GREY
    constant = _constant(tree, shader, name, None)
    return None if constant is None else constant[:3]


def kind(tree: bpy.types.NodeTree, shader: bpy.types.Node, dull: bool = False) -> str:
    """One of `core.kinds`; where all of a build is `dull` roughness tells none."""
    if shader.bl_idname != _PRINCIPLED:
        return _KINDS.get(shader.bl_idname, kinds.OPAQUE)
    shading = kinds.Shading(
        transmission=_constant(tree, shader, "Transmission Weight", None),
        alpha=_constant(tree, shader, "Alpha", None),
        metallic=_constant(tree, shader, "Metallic", None),
        roughness=None if dull else _constant(tree, shader, "Roughness", None),
    )
    return kinds.kind(shading)


def surface(tree: bpy.types.NodeTree, shader: bpy.types.Node) -> Surface:
    """How dull and how metal it is; a shader for nothing but metal is."""
    if shader.bl_idname != _PRINCIPLED:
        return Surface(None, float(_KINDS.get(shader.bl_idname) == kinds.METALLIC))
    return Surface(*(_constant(tree, shader, name, None) for name in ("Roughness", "Metallic")))


def _ways(tree: bpy.types.NodeTree, shader: bpy.types.Node) -> list[Passage]:
    coated = shader.bl_idname == _PRINCIPLED and _constant(tree, shader, "Coat Weight", 1.0) > 0.0
    return [_SURFACE[shader.bl_idname], _COAT] if coated else [_SURFACE[shader.bl_idname]]


def _constant(tree: bpy.types.NodeTree, shader: bpy.types.Node, name: str, fed) -> Any:
    """What the shader's socket is set to; `fed` where nodes feed it."""
    entry = builder.socket(shader.inputs, name)
    if _is_fed(tree, entry):
        return fed
    return builder.constant(entry)


def _in_use(shader: bpy.types.Node) -> dict[str, bpy.types.NodeSocket]:
    return {entry.identifier: entry for entry in shader.inputs if entry.enabled and not entry.is_unavailable}


def _is_fed(tree: bpy.types.NodeTree, entry: bpy.types.NodeSocket) -> bool:
    return any(not wire.is_muted for wire in wires.into(tree, entry))


def _animated_paths(tree: bpy.types.NodeTree) -> set[str]:
    animation = tree.animation_data
    if animation is None:
        return set()
    curves = [curve for owner in (animation, *compat.nla_strips(animation)) for curve in compat.curves(owner)]
    return {curve.data_path for curve in (*curves, *animation.drivers)}
