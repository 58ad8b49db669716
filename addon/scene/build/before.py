"""A build as it was before an update: all of it comes back where the update does not come to its end."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import bpy
import numpy as np

from .. import curves
from ..attempt import Made
from ..fit import deltas
from ..wear import originals, twins

_CHANNELS = ("location", "rotation_euler", "rotation_quaternion", *dict.fromkeys(name for name, _ in deltas.CHANNELS))
_OURS = "playworn_"


@contextmanager
def kept(
    build: bpy.types.Collection,
    rooms: Sequence[bpy.types.Collection],
    things: Sequence[bpy.types.Object],
    made: Made,
) -> Iterator[None]:
    """When the body raises, things, what stands in the rooms, and what we wrote on the build are as they were; what was
    made meanwhile is nobody's any more. Rounded meshes that nothing shows stay until then."""
    stood = [(room, list(room.objects)) for room in rooms]
    hidden = [thing for thing in things if thing.hide_get()]
    written, were = _written(build), [_Thing(thing) for thing in things]
    rounded = [
        (mesh, mesh.get(originals.ORIGINAL)) for mesh in bpy.data.meshes if twins.SHAPE in mesh and not mesh.library
    ]
    free = [mesh for mesh, _ in rounded if not mesh.use_fake_user]
    for mesh in free:
        mesh.use_fake_user = True
    try:
        yield
    except BaseException:
        for room, inside in stood:
            _fill(room, inside)
        for mesh, original in rounded:
            if original is not None:
                mesh[originals.ORIGINAL] = original
        actions = curves.Actions(curves.OF_FIT)
        for each in were:
            if each.thing.is_editable:
                each.come_back(actions)
        curves.sweep()
        held = {each.thing.animation_data.action for each in were if each.thing.animation_data}
        made.spare(held - {None})
        _rewrite(build, written)
        bpy.context.view_layer.update()
        for thing in hidden:
            thing.hide_set(True)
        raise
    finally:
        for mesh in free:
            mesh.use_fake_user = False


class _Thing:
    """All of an object that an update may change."""

    def __init__(self, thing: bpy.types.Object):
        self.thing, self.data, self.written = thing, thing.data, _written(thing)
        self.channels = [tuple(getattr(thing, name)) for name in _CHANNELS]
        self.record = tuple(getattr(thing, deltas.RECORD)) if thing.is_property_set(deltas.RECORD) else None
        self.keys = curves.told(thing)

    def come_back(self, actions: curves.Actions) -> None:
        thing = self.thing
        if curves.told(thing) != self.keys:
            curves.remove(thing)
            for (path, index), keys in self.keys.items():
                frames, values = np.array(keys, dtype=np.float32).reshape(-1, 2).T
                curves.put(actions.bag(thing), path, index, frames, np.ascontiguousarray(values))
        if thing.data != self.data:
            thing.data = self.data
        for name, values in zip(_CHANNELS, self.channels, strict=True):
            setattr(thing, name, values)
        if self.record is not None:
            setattr(thing, deltas.RECORD, self.record)
        elif thing.is_property_set(deltas.RECORD):
            thing.property_unset(deltas.RECORD)
        _rewrite(thing, self.written)


def _fill(room: bpy.types.Collection, inside: list[bpy.types.Object]) -> None:
    """Lets these objects stand in a room, and no other."""
    for thing in set(room.objects).difference(inside):
        room.objects.unlink(thing)
    for thing in set(inside).difference(room.objects):
        room.objects.link(thing)


def _written(owner: bpy.types.ID) -> dict[str, Any]:
    """Our raw properties on a data-block."""
    names = [name for name in owner.keys() if name.startswith(_OURS) and name != deltas.RECORD]  # noqa: SIM118
    return {name: _plain(owner[name]) for name in names}


def _rewrite(owner: bpy.types.ID, written: dict[str, Any]) -> None:
    now = _written(owner)
    for name in now.keys() - written.keys():
        del owner[name]
    for name, value in written.items():
        if name not in now or now[name] != value:
            owner[name] = value


def _plain(value: Any) -> Any:
    """A raw property as it can be written again."""
    for convert in ("to_dict", "to_list"):
        if hasattr(value, convert):
            return getattr(value, convert)()
    return value
