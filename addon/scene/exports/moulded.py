"""What an export does not say of its materials is moulded plastic: an importer's default is nobody's word."""

from collections.abc import Iterator, Sequence
from pathlib import Path

import bpy

from ... import compat
from ...blender import choose, inputs_of, meshes_of
from ...core.exports import stated as words
from ...core.exports.stated import IOR, METALLIC, ROUGHNESS, SPECULAR, TRANSMISSION, Stated, Surface
from ...core.wear import kinds
from ..build import looks
from ..wear import slots
from .formats import Format

_SOCKETS = {
    ROUGHNESS: "Roughness",
    METALLIC: "Metallic",
    IOR: "IOR",
    TRANSMISSION: "Transmission Weight",
    SPECULAR: "Specular IOR Level",
}
_PRINCIPLED = "ShaderNodeBsdfPrincipled"
_COLOURED = "vertex colours"


def finish(
    path: Path,
    form: Format,
    objects: Sequence[bpy.types.Object],
    stated: Stated | None = None,
    keep_alpha: bool = False,
) -> tuple[str, ...]:
    """Gives new materials plastic's values for what the file does not state; returns the sentences that tell of it.
    What it states is read off the file, unless that is known. What it makes see-through is clear plastic, for most
    exports have no other word for that, unless alpha is to be kept.

    Objects that have vertex colours and no material get one that shows them; other bare ones are given theirs when a
    preset is put on.
    """
    _show_colours(objects)
    if stated is None:
        stated = _stated(path, form)
    if stated is None:
        return ()
    shaders = {one: list(_shaders(one)) for one in slots.materials(objects)}
    left_out = {one: frozenset(_SOCKETS) - _said(stated, one.name) for one, found in shaders.items() if found}
    for material, lacking in left_out.items():
        for shader in shaders[material]:
            _mould(material, shader, lacking)
    clear = sum(_cleared(one, shaders[one], form.has_glass) for one in left_out if not keep_alpha)
    surfaces = [_surface(shaders[material][0]) for material in left_out]
    told = words.taken([left_out[one] for one in left_out])
    cleared = words.made_clear(clear, len(left_out))
    return (*filter(None, (told, cleared)), *words.unlike_plastic(surfaces, "the export"))


def _stated(path: Path, form: Format) -> Stated | None:
    """What the file states; None where no one reads that of its format, or it cannot be told."""
    if form.stated is None:
        return None
    try:
        return form.stated(path)
    except Exception:  # the bricks are in: no fault in what is read of their materials may lose them
        return None


def _said(stated: Stated, name: str) -> frozenset[str]:
    """What the file says of a material; Blender ends or cuts a name that is taken or too long."""
    if name in stated:
        return stated[name]
    bare = looks.bare(name)
    cut = (said for full, said in stated.items() if len(bare.encode()) > 50 and full.startswith(bare))
    return stated[bare] if bare in stated else next(cut, frozenset())


def _shaders(material: bpy.types.Material) -> Iterator[bpy.types.Node]:
    if material.node_tree is not None:
        yield from (node for node in material.node_tree.nodes if node.bl_idname == _PRINCIPLED)


def _mould(material: bpy.types.Material, shader: bpy.types.Node, lacking: frozenset[str]) -> None:
    entries = {field: inputs_of(shader)[name] for field, name in _SOCKETS.items()}
    if TRANSMISSION in lacking and not inputs_of(shader)["Alpha"].is_linked:
        inputs_of(shader)["Alpha"].default_value = 1.0
    values = words.moulded(kinds.kind(_shading(shader, lacking)))
    for field in lacking:
        if not entries[field].is_linked:
            entries[field].default_value = values[field]
    if not entries[ROUGHNESS].is_linked:
        material.roughness = entries[ROUGHNESS].default_value
    if not entries[METALLIC].is_linked:
        material.metallic = entries[METALLIC].default_value


def _cleared(material: bpy.types.Material, shaders: Sequence[bpy.types.Node], has_glass: bool) -> bool:
    """Lets light through those shaders that are see-through; whether there are any."""
    opacities = {shader: opacity for shader in shaders if (opacity := _opacity(shader, has_glass))}
    for shader, opacity in opacities.items():
        entries = inputs_of(shader)
        entries["Alpha"].default_value, entries["Transmission Weight"].default_value = 1.0, 1.0
        colour = entries["Base Color"]
        if not colour.is_linked:
            colour.default_value = (*words.seen_through(tuple(colour.default_value)[:3], opacity), 1.0)
    if opacities:
        choose(material, surface_render_method="DITHERED")  # as what is blended, EEVEE bends no light in it
        material.use_raytrace_refraction = True
    return bool(opacities)


def _opacity(shader: bpy.types.Node, has_glass: bool) -> float:
    """How opaque see-through plastic is; 0 where it is solid, metal, unseen, or glass by the file's own word.

    Importers make alpha of an opacity, or a transmission where the format has no other use for that.
    """
    alpha, through, metal = (_value(shader, name, None) for name in ("Alpha", "Transmission Weight", "Metallic"))
    if alpha is None or through is None or metal != 0.0 or (has_glass and through > 0.0):
        return 0.0
    is_clear = kinds.kind(_shading(shader, frozenset())) == kinds.TRANSPARENT
    return alpha * (1.0 - through) if is_clear else 0.0


def _shading(shader: bpy.types.Node, lacking: frozenset[str]) -> kinds.Shading:
    """The shader's values with those that no one stated put to plain plastic's."""
    return kinds.Shading(
        transmission=_value(shader, "Transmission Weight", 0.0 if TRANSMISSION in lacking else None),
        alpha=_value(shader, "Alpha", None),
        metallic=_value(shader, "Metallic", 0.0 if METALLIC in lacking else None),
        roughness=None if ROUGHNESS in lacking else _value(shader, "Roughness", None),
    )


def _surface(shader: bpy.types.Node) -> Surface:
    return Surface(_value(shader, "Roughness", None), _value(shader, "Metallic", None))


def _value(shader: bpy.types.Node, name: str, instead: float | None) -> float | None:
    """`instead`, or the shader's constant where there is none; None where nodes feed it."""
    entry = inputs_of(shader)[name]
    if entry.is_linked:
        return None
    return entry.default_value if instead is None else instead


def _show_colours(objects: Sequence[bpy.types.Object]) -> None:
    bare = {mesh for mesh in meshes_of(objects) if not mesh.materials and len(mesh.color_attributes)}
    if not bare:
        return
    material = bpy.data.materials.new(_COLOURED)
    tree = compat.node_tree(material)
    shader = next(_shaders(material))
    colours = tree.nodes.new("ShaderNodeVertexColor")  # without a name it shows the one that renders
    colours.location = shader.location.x - 300.0, shader.location.y
    tree.links.new(colours.outputs["Color"], shader.inputs["Base Color"])
    for mesh in bare:
        mesh.materials.append(material)
        if mesh.color_attributes.render_color_index < 0:
            mesh.color_attributes.render_color_index = 0
