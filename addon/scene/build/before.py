"""A build as it was before an update: what stood where, which mesh each thing had, and what was written on it."""

from collections.abc import Generator, Sequence
from contextlib import nullcontext
from itertools import takewhile
from typing import Any

import bpy

from ... import raw
from ...blender import context
from ...core.slices import is_over
from ...transaction import Back, keep
from .. import removal
from .arrival import CHANNELS

_OURS = "playworn_"


def keeping_all(
    build: bpy.types.Collection, rooms: Sequence[bpy.types.Collection], things: Sequence[bpy.types.Object]
) -> Generator[None, None, None]:
    """When the transaction fails, things, what stands in the rooms, and what we wrote on the build are as they were;
    looks at them in parts."""
    were = []
    for thing in things:
        were.append(_Thing(thing))
        if is_over():
            yield
    keep(lambda: _before(build, rooms, were))


def _before(build: bpy.types.Collection, rooms: Sequence[bpy.types.Collection], were: "list[_Thing]") -> Back:
    stood, written = [(room, list(room.objects)) for room in rooms], _written(build)
    hidden = [each.thing for each in were if each.thing.hide_get()]

    def back() -> None:
        came = {thing for room, inside in stood for thing in set(room.objects).difference(inside)}
        with nullcontext() if removal.any_view_is_local() else removal.nothing_shown(came):
            for room, inside in stood:
                _fill(room, inside)
        for each in were:
            if each.thing.is_editable:
                each.come_back()
        _rewrite(build, written)
        context().view_layer.update()
        for thing in hidden:
            thing.hide_set(True)

    return back


class _Thing:
    """What of an object an update changes by itself."""

    def __init__(self, thing: bpy.types.Object):
        self.thing, self.data, self.written = thing, thing.data, _written(thing)
        self.channels = [tuple(getattr(thing, name)) for name in CHANNELS]

    def come_back(self) -> None:
        thing = self.thing
        if thing.data != self.data:
            thing.data = self.data
        for name, values in zip(CHANNELS, self.channels, strict=True):
            setattr(thing, name, values)
        _rewrite(thing, self.written)


def _fill(room: bpy.types.Collection, inside: list[bpy.types.Object]) -> None:
    """Lets these objects stand in a room, in this order, and no other."""
    now = list(room.objects)
    kept = sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(now, inside, strict=False)))
    for thing in now[kept:]:
        room.objects.unlink(thing)
    for thing in inside[kept:]:
        room.objects.link(thing)


def _written(owner: bpy.types.ID) -> dict[str, Any]:
    """Our raw properties on a data-block."""
    names = set(owner.keys()) - {prop.identifier for prop in owner.bl_rna.properties}
    return {name: raw.plain(owner[name]) for name in names if name.startswith(_OURS)}


def _rewrite(owner: bpy.types.ID, written: dict[str, Any]) -> None:
    now = _written(owner)
    for name in now.keys() - written.keys():
        del owner[name]
    for name, value in written.items():
        if name not in now or now[name] != value:
            owner[name] = value
