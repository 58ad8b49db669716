"""What the materials of a glTF document state: the defaults, rough metal, are not what an export means by silence.

Format: glTF 2.0 specification, sections 3.9 (materials) and 4.4 (GLB); extensions KHR_materials_*.
"""

import json
from typing import Any

from .stated import IOR, METALLIC, ROUGHNESS, SPECULAR, TRANSMISSION, Stated

HEADER, CHUNK = 12, 8  # bytes; the JSON chunk comes first
MAGIC = b"glTF"


def document(data: bytes) -> dict[str, Any]:
    """The JSON of a .gltf or a .glb; ValueError where it is neither."""
    if data[: len(MAGIC)] == MAGIC:
        data = data[HEADER + CHUNK : HEADER + CHUNK + length(data)]
    found = json.loads(data.decode("utf-8-sig"))
    if not isinstance(found, dict):
        raise ValueError("it is no glTF document")
    return found


def length(head: bytes) -> int:
    """Bytes of the JSON chunk of a .glb, from the head of its file."""
    return int.from_bytes(head[HEADER : HEADER + 4], "little")


def stated(document: dict[str, Any]) -> Stated:
    """What each material states, by the name it comes in with; materials of one name share what any of them states."""
    found: dict[str, frozenset[str]] = {}
    for number, material in enumerate(document.get("materials", ())):
        name = material.get("name") or f"Material_{number}"  # as Blender calls those without a name
        found[name] = found.get(name, frozenset()) | _stated(material)
    return found


def _stated(material: dict[str, Any]) -> frozenset[str]:
    surface, extensions = material.get("pbrMetallicRoughness", {}), material.get("extensions", {})
    pictured = "metallicRoughnessTexture" in surface
    old = extensions.get("KHR_materials_pbrSpecularGlossiness")
    seen_through = material.get("alphaMode", "OPAQUE") != "OPAQUE"
    says = {
        ROUGHNESS: pictured or "roughnessFactor" in surface or (old is not None and "glossinessFactor" in old),
        METALLIC: pictured or "metallicFactor" in surface or old is not None,
        IOR: "KHR_materials_ior" in extensions,
        TRANSMISSION: seen_through or "KHR_materials_transmission" in extensions,
        SPECULAR: old is not None or "KHR_materials_specular" in extensions,
    }
    return frozenset(field for field, is_said in says.items() if is_said)
