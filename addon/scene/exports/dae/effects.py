"""Materials out of COLLADA's effects: a Principled surface on which only what the effect states is set."""

from pathlib import Path
from urllib.parse import unquote, urlsplit

import bpy
import numpy as np
from collada.material import Effect, Map, Material

from .... import compat
from ....blender import inputs_of
from .document import Document

LUMINANCE = (0.212671, 0.715160, 0.072169)  # how the standard weighs red, green and blue of a transparency


def name(material: Material) -> str:
    """What one of pycollada's materials is called in Blender."""
    return material.name or material.id or "material"


def stated(effect: Effect) -> frozenset[str]:
    """Which of "roughness", "ior" and "transmission" the effect says something about."""
    told = {"roughness": _roughness(effect), "ior": _ior(effect), "transmission": _clearness(effect)}
    return frozenset(word for word, value in told.items() if value is not None)


def material(document: Document, source: Material, folder: Path, uv: str | None) -> bpy.types.Material:
    """A new material; pictures beside the file are found from its folder, uv names the layer that they follow."""
    made = bpy.data.materials.new(name(source))
    tree = compat.node_tree(made)
    shader = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    effect = source.effect
    linear = _writes_linear(document)
    colour = effect.emission if effect.shadingtype == "constant" else effect.diffuse
    if isinstance(colour, Map):
        _textured(tree, shader, colour, effect, folder, uv)
    elif _is_colour(colour):
        inputs_of(shader)["Base Color"].default_value = made.diffuse_color = _rgba(colour, linear)
    if effect.shadingtype != "constant" and _is_colour(effect.emission) and any(effect.emission[:3]):
        inputs_of(shader)["Emission Color"].default_value = _rgba(effect.emission, linear)
        inputs_of(shader)["Emission Strength"].default_value = 1.0
    for socket, value in (
        ("Roughness", _roughness(effect)),
        ("IOR", _ior(effect)),
        ("Transmission Weight", _clearness(effect)),
    ):
        if value is not None:
            inputs_of(shader)[socket].default_value = value
    return made


def _writes_linear(document):
    """The standard names no colour space. Colours are taken as the numbers of a colour picker, which is what programs
    put there, but for Blender, which writes the linear numbers it computes with."""
    return any("blender" in (each.authoring_tool or "").lower() for each in document.assetInfo.contributors)


def _rgba(colour, linear):
    values = np.clip(np.array(colour[:3], dtype=float), 0, 1)
    if not linear:  # IEC 61966-2-1
        values = np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)
    return (*values.tolist(), 1.0)


def _is_colour(value):
    return isinstance(value, tuple | list) and len(value) >= 3 and bool(np.isfinite(value[:3]).all())


def _is_number(value):
    return isinstance(value, float) and bool(np.isfinite(value))


def _roughness(effect):
    """An exponent of Phong's or Blinn's highlight as the roughness of the microfacets that scatter alike (Walter et al.
    2007, equation 8.1 of its appendix: n = 2/α² - 2, and α is Blender's roughness squared). Of 0 there is no
    highlight: many programs write that where nobody chose it."""
    if effect.shadingtype not in ("phong", "blinn") or not _is_number(effect.shininess) or effect.shininess <= 0:
        return None
    return (2 / (effect.shininess + 2)) ** 0.25


def _ior(effect):
    """At 1 or below light would not bend nor anything shine: what programs write where nobody chose it."""
    ior = effect.index_of_refraction
    return ior if _is_number(ior) and ior > 1 else None


def _clearness(effect):
    """How much light goes through, 0 to 1, by the standard's section "Determining transparency".

    A surface that would let through everything is taken as solid: programs mix up the two ends, and nobody exports
    what cannot be seen.
    """
    told = {element.tag.rpartition("}")[2]: element for element in effect.xmlnode.iter()}
    if not {"transparent", "transparency"} & set(told):
        return None
    if isinstance(effect.transparent, Map):
        return None
    mode = told["transparent"].get("opaque", "A_ONE") if "transparent" in told else "A_ONE"
    colour = effect.transparent if _is_colour(effect.transparent) and len(effect.transparent) > 3 else (1, 1, 1, 1)
    amount = effect.transparency if "transparency" in told and _is_number(effect.transparency) else 1.0
    share = amount * (colour[3] if mode.startswith("A") else float(np.dot(LUMINANCE, colour[:3])))
    clear = min(max(1 - share if mode.endswith("ONE") else share, 0.0), 1.0)
    return clear if clear < 1 else 0.0


def _textured(tree, shader, texture, effect, folder, uv):
    path = _picture(texture, folder)
    if path is None:
        return
    node = tree.nodes.new("ShaderNodeTexImage")
    node.image = bpy.data.images.load(str(path), check_existing=True)
    tree.links.new(node.outputs["Color"], shader.inputs["Base Color"])
    if isinstance(effect.transparent, Map) and _picture(effect.transparent, folder) == path:
        tree.links.new(node.outputs["Alpha"], shader.inputs["Alpha"])
    if uv is not None:
        where = tree.nodes.new("ShaderNodeUVMap")
        where.uv_map = uv
        tree.links.new(where.outputs["UV"], node.inputs["Vector"])


def _picture(texture, folder):
    """The file of a texture, where it stands or beside the document, or None; nothing is fetched from elsewhere."""
    address = (texture.sampler.surface.image.path or "").strip().replace("\\", "/")
    parts = urlsplit(address)
    if parts.netloc or address.startswith("//") or (parts.scheme not in ("", "file") and len(parts.scheme) > 1):
        return None
    plain = unquote(parts.path) if parts.scheme == "file" else unquote(address)
    for name in (plain, address, plain.rpartition("/")[2]):
        try:
            if name and (folder / name).is_file():
                return folder / name
        except (OSError, ValueError):  # too long, or not a name here
            continue
    return None
