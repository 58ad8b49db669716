"""What a brick is when an update brings it, told short: while that is the same to the last bit nobody has touched it.

Told is all that hangs on the object and on the mesh that it is measured by, without what is ours. In doubt somebody
touched it, as where another Blender, or another extension, tells more of an object.
"""

from collections.abc import Generator, Iterable, Iterator
from hashlib import blake2b
from typing import Any

import bpy

from ... import raw
from ...blender import mesh_of
from ...core.remembered import keeping
from ...core.slices import is_over
from ...core.wear.names import OWN_MORE
from ..wear import imprint, originals, slots
from . import counted, pins, rolls

ADDED = "playworn_added"  # on a brick that an update brought: its sign
_OURS = "playworn_"
_SAID = (pins.PINNED, rolls.ROLL, counted.COUNTED, OWN_MORE)  # by an artist, under names of ours
_FOLLOWS = {  # from what is told besides, from view, or from where ours lie
    "tag", "is_runtime_data", "use_extra_user", "active_material", "active_material_index", "active_shape_key_index",
    "data", "dimensions", "matrix_world", "matrix_local", "matrix_basis", "delta_location", "delta_rotation_euler",
    "delta_rotation_quaternion", "delta_scale",
}  # fmt: skip
_WITHIN = ("collision", "cycles", "display", "field", "light_linking", "lineart", "rigid_body",
           "rigid_body_constraint", "soft_body")  # fmt: skip
_ROOMS = (bpy.types.Collection, bpy.types.Scene)
_HUNG = ("modifiers", "constraints", "vertex_groups", "particle_systems", "shader_effects")


def putting(things: Iterable[bpy.types.Object]) -> Generator[None, None, None]:
    """Remembers what bricks are that an update brought, or wrote to since, in parts."""
    meshes: dict[bpy.types.Mesh, str] = {}
    for thing in things:
        thing[ADDED] = _sign(thing, meshes)
        if is_over():
            yield


def finding_untouched(things: Iterable[bpy.types.Object]) -> Generator[None, None, set[bpy.types.Object]]:
    """Those of some bricks that an update brought and nobody touched since, but for their deltas, which tell apart
    what is ours by themselves. Nothing refers to one of them but the collection that it stands in. In parts."""
    meshes: dict[bpy.types.Mesh, str] = {}
    found = set()
    for thing in things:
        if thing.users == 1 and ADDED in thing and raw.text(thing, ADDED) == _sign(thing, meshes):
            found.add(thing)
        if is_over():
            yield
    users = bpy.data.user_map(subset=list(found)) if found else {}
    return {thing for thing in found if all(isinstance(user, _ROOMS) for user in users[thing])}


def forget(thing: bpy.types.Object) -> None:
    """An update did not bring this thing."""
    if ADDED in thing:
        del thing[ADDED]


def _sign(thing: bpy.types.Object, meshes: dict[bpy.types.Mesh, str]) -> str:
    """What a thing is; what meshes are is kept in `meshes`."""
    mesh = originals.original(mesh_of(thing))
    if mesh not in meshes:
        meshes[mesh] = repr([*_told_of_mesh(mesh)])
    return blake2b(f"{[*_told(thing)]} {meshes[mesh]}".encode(), digest_size=16).hexdigest()


def _told(thing: bpy.types.Object) -> Iterator[tuple[str, Any]]:
    yield from _settings(thing)
    for name in _WITHIN:
        part = getattr(thing, name, None) if _can_be_read(thing, name) else None
        if part is not None and (settings := [each for each in _settings(part) if part.is_property_set(each[0])]):
            yield name, settings
    yield from ((name, len(getattr(thing, name))) for name in _HUNG)
    yield "animated", thing.animation_data is not None
    yield "slots", slots.of_object(thing)
    props = thing.bl_rna.properties
    names = [name for name in thing.keys() if name not in props]  # noqa: SIM118  an object is no dict
    yield from ((name, _plain(thing[name])) for name in sorted(names) if name in _SAID or not name.startswith(_OURS))


def _can_be_read(thing: bpy.types.Object, name: str) -> bool:
    """Whether reading a part of a thing leaves the thing as it was: before 5.0 the settings of an extension come to be
    where they are read."""
    declared = thing.bl_rna.properties.get(name)
    is_extensions = declared is not None and declared.is_runtime
    return name in thing or not is_extensions or bpy.app.version >= (5, 0, 0)


def _told_of_mesh(mesh: bpy.types.Mesh) -> Iterator[Any]:
    yield imprint.summed(mesh)
    yield [(key, value) for key, value in sorted(imprint.told(mesh).items()) if key != imprint.MATERIALS]
    yield slots.of_mesh(mesh)


def _settings(part: bpy.types.bpy_struct) -> Iterator[tuple[str, Any]]:
    return ((name, _plain(getattr(part, name))) for name in _settable(type(part)))


@keeping(16)
def _settable(kind: type[bpy.types.bpy_struct]) -> tuple[str, ...]:
    """What can be set on a part of Blender's data."""
    can = (prop.identifier for prop in kind.bl_rna.properties if not prop.is_readonly)
    return tuple(name for name in can if name not in _FOLLOWS and not name.startswith(_OURS))


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, float | int | str):
        return value
    if isinstance(value, bpy.types.ID):
        return value.name_full
    if isinstance(value, set):
        return sorted(value)
    value = raw.plain(value)
    is_array = hasattr(value, "__len__") and not isinstance(value, bytes | dict)
    return [_plain(each) for each in value] if is_array else value
