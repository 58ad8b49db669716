"""What a twin is, told short when it is made, so that whatever an artist does to it since is seen.

Not told is what is view and no work: what is selected, hidden or active in Edit Mode.
"""

import json
import re
from base64 import b64decode, b64encode
from collections.abc import Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Any
from zlib import adler32, compress, crc32, decompress

import bpy
import numpy as np

from ... import raw
from ...blender import values_of
from ...core.parts.enclosed import integrals
from ...core.remembered import keeping, remembered
from ..exports.forms import column, got, points_of

IMPRINT = "playworn_imprint"  # on a twin: the digests below, its points, and what of it is the data-block's own
NAME, MATERIALS, SETTING = "name", "materials", "setting "
FAKE_USER = f"{SETTING}use_fake_user"
_OURS = "playworn_"
_NUMBER = re.compile(r"\.\d{3,}$")
_FORM = (".edge_verts", ".corner_vert", ".corner_edge")
_POINTS = "position"
_VIEW = re.compile(r"\.(select_|hide_|uv_select_|vs\.|es\.)")
_FOLLOWS = {  # what Blender works out by itself, or tells twice
    "name", "tag", "is_runtime_data", "use_extra_user", "asset_data", "auto_texspace", "uv_layer_clone",
    "uv_layer_clone_index", "uv_layer_stencil", "uv_layer_stencil_index",
}  # fmt: skip
_TEXTURE_SPACE = ("texspace_location", "texspace_size")
_VALUES = ("value", "vector", "color")
_TYPES = {"BOOLEAN": np.bool_, "INT": np.int32, "FLOAT": np.float32}
_NARROW = {"INT8": np.int8, "INT16_2D": np.int16}
_NEAR = 1e-6  # of the farthest coordinate: what float32 makes of a mesh that is moved as a whole
_SAME_BODY = 1e-5  # of its reach: what another cut of faces that are not quite flat makes of a body
_MEASURED = 1024  # meshes of which that is kept


@dataclass(frozen=True)
class Change:
    """What became of a twin since it was made."""

    way: np.ndarray | None  # (4, 4) that all of its points went together; None where they did not, or make other faces
    is_data_kept: bool  # whether all else that its points, edges and faces carry is as it was
    own: tuple[str, ...]  # what of the data-block itself is another: keys of `told`
    is_body_kept: bool = True  # whether it takes up the room that it took up, however its faces are cut

    @property
    def is_of_part(self) -> bool:
        """Whether its body is still the part's."""
        return self.way is not None or self.is_body_kept

    @property
    def is_light(self) -> bool:
        """Whether the mesh that it stands for can take all of it."""
        return self.way is not None and self.is_data_kept

    @property
    def is_moved(self) -> bool:
        return self.way is not None and not np.array_equal(self.way, np.eye(4))


NONE = Change(np.eye(4), True, ())


def put(mesh: bpy.types.Mesh, shown_by: Sequence[bpy.types.Object]) -> None:
    """Remembers what a mesh is that some objects show."""
    points = _points(mesh)
    told_of_points, form = _sum(points), _form(mesh)
    mesh[IMPRINT] = {
        "points": told_of_points,
        "form": form,
        "data": _data(mesh, shown_by),
        "at": b64encode(compress(points.tobytes(), 1)).decode(),
        "body": _body(mesh, told_of_points, form).tolist(),
        "told": json.dumps(told(mesh)),
    }


def summed(mesh: bpy.types.Mesh) -> str:
    """Its points, what they make, and what these carry, told short."""
    return " ".join((_sum(_points(mesh)), _form(mesh), _data(mesh, ())))


def retell(mesh: bpy.types.Mesh) -> None:
    """Remembers anew what of it is the data-block's own."""
    mesh[IMPRINT]["told"] = json.dumps(told(mesh))


def is_moved(mesh: bpy.types.Mesh) -> bool:
    """Whether any of its points is not where it was: told at a glance."""
    return IMPRINT in mesh and mesh[IMPRINT]["points"] != _sum(_points(mesh))


def change(mesh: bpy.types.Mesh, shown_by: Sequence[bpy.types.Object]) -> Change | None:
    """What an artist changed since; None for nothing."""
    was = mesh.get(IMPRINT)
    if was is None:
        return None
    points, form = _points(mesh), _form(mesh)
    is_data_kept = was["data"] == _data(mesh, shown_by)
    way = None
    if was["form"] == form:
        way = np.eye(4) if was["points"] == _sum(points) else _way(_unpacked(was["at"]), points)
    before, now = json.loads(was["told"]), told(mesh)
    known = before.keys() | now.keys()
    gone = {key for key in before.keys() - now.keys() if key.startswith(SETTING)}  # another Blender has others
    own = tuple(key for key in sorted(known - gone) if before.get(key) != now.get(key))
    if NAME in own and re.fullmatch(re.escape(_NUMBER.sub("", before[NAME])) + _NUMBER.pattern, mesh.name):
        own = tuple(key for key in own if key != NAME)  # Blender numbers a copy, and that of "x.001" is "x.002"
    found = Change(way, is_data_kept, own, way is None and _is_body_kept(was, _body(mesh, _sum(points), form)))
    return found if own or found.is_moved or not found.is_light else None


def _is_body_kept(was: Any, now: np.ndarray) -> bool:
    """Whether it takes up the same room, however its faces are cut."""
    body = np.array(was.get("body", ()))  # imprints of earlier versions have none
    return body.shape == now.shape and bool((np.abs(body - now) <= _SAME_BODY * body[0]).all())


def _body(mesh: bpy.types.Mesh, points: str, form: str) -> np.ndarray:
    """How far its points reach, the corners of the box around it, and what it holds, as lengths (20,)."""
    return remembered("bodies", f"{points} {form}".encode(), lambda: _measured(mesh), _MEASURED)


def _measured(mesh: bpy.types.Mesh) -> np.ndarray:
    points, corners = points_of(mesh).astype(np.float64), column(mesh, ".corner_vert")
    if not len(points):
        return np.zeros(20)
    starts, sizes = (got(mesh.polygons, name, 1, np.int32) for name in ("loop_start", "loop_total"))
    reach = max(np.abs(points).max(), 1e-12)
    held = reach * integrals(points / reach, corners, starts, sizes)
    return np.concatenate([[reach], points.min(axis=0), points.max(axis=0), held])


def is_named(mesh: bpy.types.Mesh) -> bool:
    """Whether it still has the name that it was made with, which a copy has not."""
    return IMPRINT in mesh and json.loads(mesh[IMPRINT]["told"])[NAME] == mesh.name


def told(mesh: bpy.types.Mesh) -> dict[str, str]:
    """All of the data-block that hangs on no point, edge or face: name, materials, settings, custom properties."""
    kept = {NAME: mesh.name, MATERIALS: repr([each and each.name_full for each in mesh.materials])}
    kept |= {f"{SETTING}{name}": _named(value) for name, value in settings(mesh).items()}
    return kept | {
        f"property {name}": f"{_named(value)} {_range(mesh, name)}"
        for name, value in properties(mesh).items()
        if not name.startswith(_OURS)
    }


def settings(mesh: bpy.types.Mesh) -> dict[str, Any]:
    """What can be set on a mesh."""
    names = _settings()
    found = dict(zip(names, attrgetter(*names)(mesh), strict=True))
    if not mesh.use_auto_texspace:
        found |= {name: getattr(mesh, name) for name in _TEXTURE_SPACE}
    return {name: value if _is_single(value) else tuple(value) for name, value in found.items()}


def _is_single(value: Any) -> bool:
    return value is None or isinstance(value, str | int | float | bpy.types.ID)


@keeping(1)
def _settings() -> tuple[str, ...]:
    left = {*_FOLLOWS, *_TEXTURE_SPACE}
    props = bpy.types.Mesh.bl_rna.properties
    return tuple(each.identifier for each in props if not each.is_readonly and each.identifier not in left)


def properties(mesh: bpy.types.Mesh) -> dict[str, Any]:
    """Its custom properties, ours too."""
    registered = mesh.bl_rna.properties
    names = [name for name in mesh.keys() if name not in registered]  # noqa: SIM118  a mesh is no dict
    return {name: raw.plain(mesh[name]) for name in names}


def _named(value: Any) -> str:
    return value.name_full if isinstance(value, bpy.types.ID) else repr(value)


def _range(mesh: bpy.types.Mesh, name: str) -> str:
    """What Blender's panel knows of a custom property beyond its value."""
    try:
        known: Any = mesh.id_properties_ui(name)
        return repr(known.as_dict())
    except TypeError:  # groups and data-blocks have none
        return ""


def _sum(*arrays: np.ndarray) -> str:
    """Tells arrays apart by two checksums: each job compares all twins of a build, and digests take four times as
    long."""
    crc, adler = 0, 1
    for each in arrays:
        crc, adler = crc32(each.data, crc), adler32(each.data, adler)
    return f"{crc:08x}{adler:08x}{sum(each.nbytes for each in arrays)}"


def _points(mesh: bpy.types.Mesh) -> np.ndarray:
    return points_of(mesh).ravel()


def _unpacked(text: str) -> np.ndarray:
    return np.frombuffer(decompress(b64decode(text)), np.float32)


def _form(mesh: bpy.types.Mesh) -> str:
    """Which points make which edges and faces: a face ends where the edge of a corner leads back to its first point."""
    return _sum(*(_values(mesh.attributes[name]) for name in _FORM if name in mesh.attributes))


def _data(mesh: bpy.types.Mesh, shown_by: Sequence[bpy.types.Object]) -> str:
    """Everything else that points, edges, corners and faces carry, and what lives on it."""
    layers, arrays = [], []
    for layer in sorted(mesh.attributes, key=lambda each: each.name):
        if layer.name in _FORM or layer.name == _POINTS or _VIEW.match(layer.name):
            continue
        values = _values(layer)
        if (layer.name == "material_index" or layer.data_type == "BOOLEAN") and not values.any():
            continue  # Blender drops and adds such a layer by itself
        layers.append((layer.name, layer.data_type, layer.domain))
        arrays.append(values)
    uv = [(layer.name, layer.active_render) for layer in mesh.uv_layers]
    lives = mesh.animation_data
    rest = (
        layers,
        uv,
        mesh.color_attributes.default_color_name if mesh.color_attributes else "",
        mesh.shape_keys is not None,
        lives is not None and bool(lives.action or lives.drivers or lives.nla_tracks),
        mesh.asset_data is not None,
        len(mesh.skin_vertices),
        *_of_objects(mesh, shown_by),
    )
    return _sum(np.frombuffer(repr(rest).encode(), np.uint8), *arrays)


def _of_objects(mesh: bpy.types.Mesh, shown_by: Sequence[bpy.types.Object]) -> tuple:
    """What Blender keeps on a mesh and tells by its objects: groups with their weights, and sculpted levels."""
    names = [(group.name, group.lock_weight) for thing in shown_by[:1] for group in thing.vertex_groups]
    weights = [[(each.group, each.weight) for each in vertex.groups] for vertex in mesh.vertices] if names else []
    sculpted = any(getattr(each, "total_levels", 0) for thing in shown_by for each in thing.modifiers)
    return (names, weights, sculpted) if names or sculpted else ()


def _values(layer: bpy.types.Attribute) -> np.ndarray:
    """All values of an attribute."""
    items = values_of(layer)
    name, width, kind = _kind(type(layer))
    if width:
        flat = np.empty(width * len(items), _NARROW.get(layer.data_type, kind))
        items.foreach_get(name, flat)
        return flat
    return np.frombuffer(repr([getattr(each, name) for each in items]).encode(), np.uint8)


@keeping(64)
def _kind(attribute: type[bpy.types.Attribute]) -> tuple[str, int, Any]:
    """How values of an attribute are called, how many numbers each has, 0 for text, and of what kind."""
    kinds: Any = attribute.bl_rna.properties["data"]
    prop = next(kinds.fixed_type.properties[name] for name in _VALUES if name in kinds.fixed_type.properties)
    if prop.type not in _TYPES:
        return prop.identifier, 0, None
    return prop.identifier, max(prop.array_length, 1), _TYPES[prop.type]


def _way(before: np.ndarray, now: np.ndarray) -> np.ndarray | None:
    """How points (3V) went all together (4, 4): shifted, or turned, sized and sheared as well; None where they did
    not, or lie flat since."""
    p, q = before.reshape(-1, 3).astype(np.float64), now.reshape(-1, 3).astype(np.float64)
    if not len(p) or not np.isfinite(q).all():
        return None
    near = _NEAR * max(np.abs(p).max(), np.abs(q).max())
    found = np.eye(4)
    found[:3, 3] = (q - p).mean(axis=0)
    if np.abs(p + found[:3, 3] - q).max() <= near:
        return found
    middle = p.mean(axis=0)
    linear = np.linalg.lstsq(p - middle, q - q.mean(axis=0), rcond=None)[0].T
    found[:3, :3], found[:3, 3] = linear, q.mean(axis=0) - linear @ middle
    size = np.abs(linear).max()
    is_flat = abs(np.linalg.det(linear)) < 1e-6 * size**3
    return None if is_flat or np.abs(p @ linear.T + found[:3, 3] - q).max() > near else found
