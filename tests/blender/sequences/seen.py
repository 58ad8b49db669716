"""All that an artist can see of the open file, as plain values, and in what two of them differ."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from hashlib import sha1
from typing import Any

import bpy
import numpy as np

from addon import compat
from tests.blender.shots.walls import curve_text
from tests.blender.wear.node_text import text_of

NEAR = 1e-4  # of a pitch, 0.8 µm of a brick: what float32 makes of a few transforms one after the other
_SIZES = {"FLOAT": 1, "INT": 1, "INT8": 1, "BOOLEAN": 1, "FLOAT_VECTOR": 3, "FLOAT2": 2, "FLOAT_COLOR": 4,
          "BYTE_COLOR": 4, "INT16_2D": 2, "INT32_2D": 2, "QUATERNION": 4}  # fmt: skip
_FIELDS = {"FLOAT_VECTOR": "vector", "FLOAT2": "vector", "FLOAT_COLOR": "color", "BYTE_COLOR": "color"}
_CHANNELS = ("location", "rotation_euler", "rotation_quaternion", "rotation_axis_angle", "scale", "delta_location",
             "delta_rotation_euler", "delta_rotation_quaternion", "delta_scale")  # fmt: skip
Seen = dict[tuple[str, str, str], Any]  # kind of block, its name, what of it


@dataclass(frozen=True)
class Difference:
    """Where a file is not as it would be had it never been worn."""

    kind: str
    name: str
    part: str
    never: Any  # worn
    now: Any
    touched: tuple[str, ...] = ()  # what was done to it while it bore something of ours

    def __str__(self) -> str:
        after = f" after {', '.join(self.touched)}" if self.touched else ""
        return f"{self.kind} {self.name!r} {self.part}{after}: {_short(self.never)} | {_short(self.now)}"


def look() -> Seen:
    """What is used, kept or shown; what nobody uses is not saved and not looked at."""
    bpy.context.view_layer.update()
    bpy.data.orphans_purge(do_recursive=True)
    seen: Seen = {}
    for kind, blocks in _blocks():
        about = _ABOUT.get(kind)
        for block in blocks:
            seen[kind, block.name, "there"] = True
            seen |= {(kind, block.name, part): value for part, value in _of_any(block)}
            if about:
                seen |= {(kind, block.name, part): value for part, value in about(block)}
    return seen


def differences(never: Seen, now: Seen, near: float, mixed: Callable[[str], bool]) -> list[Difference]:
    """In what a file differs from one that was never worn; places in the world as far as float32 holds them.

    Channels and meshes are the same bit for bit, but for those in which Blender itself has mixed ours with the
    artist's: of these only the place in the world is.
    """
    found = []
    for where in sorted(never.keys() | now.keys()):
        one, other = never.get(where), now.get(where)
        if (*where[:2], "there") not in never and where[2] != "there":
            continue
        if (*where[:2], "there") not in now and where[2] != "there":
            continue
        if where[2] in ("channels", "bits") and mixed(where[1]):
            continue
        if not _alike(one, other, near if where[2] in ("world", "points") else 0.0):
            found.append(Difference(*where, one, other))
    return found


def ours() -> list[str]:
    """Names of ours on what is in the open file."""
    found = []
    for kind, blocks in _blocks():
        for block in blocks:
            if block.name.lower().startswith("playworn"):
                found.append(f"{kind} {block.name!r}")
            names = [key for key, _ in block.items() if key.startswith("playworn") and key != _PANEL]
            found += [f"{kind} {block.name!r} {name}" for name in names]
    for thing in bpy.data.objects:
        found += [f"objects {thing.name!r} {name}" for name in _RECORDS if any(getattr(thing, name, ()))]
    for mesh in bpy.data.meshes:
        found += [f"meshes {mesh.name!r} {each.name}" for each in mesh.attributes if each.name.startswith("playworn")]
    return found


_PANEL = "playworn"  # on a scene: what is set in the panel
_RECORDS = ("playworn_deltas", "playworn_rest")  # registered properties, which are no keys


def _alike(one: Any, other: Any, near: float) -> bool:
    if isinstance(one, np.ndarray) and isinstance(other, np.ndarray):
        return one.shape == other.shape and bool((np.abs(one - other) <= near).all())
    return type(one) is type(other) and one == other


def _short(value: Any) -> str:
    text = np.array2string(value, threshold=6) if isinstance(value, np.ndarray) else _told(value)
    return " ".join(text.split())[:260]


def _told(value: Any) -> str:
    if isinstance(value, tuple) and all(isinstance(each, float) for each in value):
        return " ".join(f"{each:.7g}" for each in value)
    return str(value)


def _blocks() -> Iterator[tuple[str, Iterable[bpy.types.ID]]]:
    for prop in bpy.data.bl_rna.properties:
        if prop.type == "COLLECTION" and prop.identifier not in _NOT_IN_FILE:
            yield prop.identifier, getattr(bpy.data, prop.identifier)


_NOT_IN_FILE = {"window_managers", "screens", "workspaces", "libraries", "all_ids"}


def _of_any(block: bpy.types.ID) -> Iterator[tuple[str, Any]]:
    if block.keys():
        yield "properties", {key: _plain(block[key]) for key in sorted(block.keys())}
    yield "fake user", block.use_fake_user
    animation = getattr(block, "animation_data", None)
    if animation and (animation.action or animation.drivers or animation.nla_tracks):
        curves = [curve_text(curve) for curve in compat.curves(animation)]
        yield "animation", [animation.action and animation.action.name, curves, len(animation.drivers)]


def _of_object(thing: bpy.types.Object) -> Iterator[tuple[str, Any]]:
    yield "channels", tuple(value for name in _CHANNELS for value in getattr(thing, name))
    yield "world", _corners(thing)
    yield "parent", (thing.parent and thing.parent.name, thing.parent_type)
    yield "data", thing.data and thing.data.name
    yield "slots", [(slot.link, slot.material and slot.material.name) for slot in thing.material_slots]
    yield "collections", sorted(room.name for room in thing.users_collection)
    yield "modifiers", [(each.name, each.type) for each in thing.modifiers]
    yield "groups", [group.name for group in thing.vertex_groups]
    in_view = (thing.hide_get(), thing.select_get()) if thing.name in bpy.context.view_layer.objects else ()
    yield "shown", (thing.hide_viewport, thing.hide_render, *in_view)


def _corners(thing: bpy.types.Object) -> np.ndarray:
    """The mesh's points in the world, or the origin and the ends of the axes where there are none."""
    matrix = _world(thing)
    points = _points(thing.data) if isinstance(thing.data, bpy.types.Mesh) else np.zeros((0, 3))
    if not len(points):
        points = np.concatenate([np.zeros((1, 3)), np.eye(3) * bpy.context.scene.get("pitch", 1.0)])
    return points @ matrix[:3, :3].T + matrix[:3, 3]


def _world(thing: bpy.types.Object) -> np.ndarray:
    """By channels and parents: what is hidden, Blender leaves where it was."""
    matrix = np.array(thing.matrix_basis, dtype=np.float64)
    if thing.parent is None:
        return matrix
    return _world(thing.parent) @ np.array(thing.matrix_parent_inverse, dtype=np.float64) @ matrix


def _of_mesh(mesh: bpy.types.Mesh) -> Iterator[tuple[str, Any]]:
    yield "points", _points(mesh)
    yield "bits", sha1(_points(mesh).astype(np.float32).tobytes()).hexdigest()
    yield "faces", (len(mesh.polygons), _digest(mesh.loops, "vertex_index", np.int32))
    yield "attributes", dict(sorted((each.name, _of_attribute(each)) for each in mesh.attributes if _is_told(each)))
    yield "layers", ([each.name for each in mesh.uv_layers], [each.name for each in mesh.color_attributes])
    yield "materials", [material and material.name for material in mesh.materials]
    yield "keys", [each.name for each in mesh.shape_keys.key_blocks] if mesh.shape_keys else None


def _points(mesh: bpy.types.Mesh) -> np.ndarray:
    flat = np.empty(3 * len(mesh.vertices), np.float32)
    mesh.vertices.foreach_get("co", flat)
    return flat.reshape(-1, 3).astype(np.float64)


def _is_told(attribute: bpy.types.Attribute) -> bool:
    """Points and corners are told elsewhere; what begins with a dot is Blender's own."""
    return not attribute.name.startswith(".") and attribute.name != "position"


def _of_attribute(attribute: bpy.types.Attribute) -> tuple:
    size = _SIZES.get(attribute.data_type)
    if size is None:
        return attribute.domain, attribute.data_type
    whole = attribute.data_type in ("INT", "INT8", "BOOLEAN", "INT16_2D", "INT32_2D")
    field = _FIELDS.get(attribute.data_type, "value")
    return (
        attribute.domain,
        attribute.data_type,
        _digest(attribute.data, field, np.int32 if whole else np.float32, size),
    )


def _digest(rows, field: str, dtype, size: int = 1) -> str:
    values = np.zeros(size * len(rows), dtype)
    rows.foreach_get(field, values)
    return sha1(values.tobytes()).hexdigest()[:12]


def _of_material(material: bpy.types.Material) -> Iterator[tuple[str, Any]]:
    yield "nodes on", compat.shades_with_nodes(material)
    yield "shown", (*material.diffuse_color, material.roughness, material.metallic)
    yield "users", material.users
    yield "tree", text_of(material.node_tree) if material.node_tree else None


def _of_group(tree: bpy.types.NodeTree) -> Iterator[tuple[str, Any]]:
    yield "tree", text_of(tree)


def _of_collection(room: bpy.types.Collection) -> Iterator[tuple[str, Any]]:
    yield "objects", sorted(room.objects.keys())
    yield "children", sorted(room.children.keys())
    yield "hidden", (room.hide_viewport, room.hide_render)


def _of_scene(scene: bpy.types.Scene) -> Iterator[tuple[str, Any]]:
    yield "objects", sorted(scene.collection.objects.keys())
    yield "children", sorted(scene.collection.children.keys())
    yield "frame", scene.frame_current
    yield "markers", [(marker.name, marker.frame) for marker in scene.timeline_markers]
    active = bpy.context.view_layer.objects.active
    yield "active", active and active.name


_ABOUT = {
    "objects": _of_object,
    "meshes": _of_mesh,
    "materials": _of_material,
    "node_groups": _of_group,
    "collections": _of_collection,
    "scenes": _of_scene,
}


def _plain(value: Any) -> Any:
    if isinstance(value, bpy.types.ID):
        return f"{value.id_type} {value.name}"
    for convert in ("to_dict", "to_list"):
        if hasattr(value, convert):
            return getattr(value, convert)()
    return value
