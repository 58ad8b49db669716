"""Passes for compositing: put on the view layers of a scene that shows a build, and taken off again."""

from collections.abc import Iterator
from contextlib import contextmanager

import bpy

from ...core import report
from ...core.wear.names import PASSES
from ...nodes import passes as handed_out
from ...scene.build import state
from ...scene.build.build import read
from ...scene.columns import Columns
from ...scene.fit import deltas, travel
from ...scene.fit.deltas import Deltas
from ...scene.shots import keys
from ...scene.shots import passes as of_layers
from ...scene.wear import slots
from ...transaction import transaction

passes_on = of_layers.on


def put_passes_on(collection: bpy.types.Collection, scene: bpy.types.Scene) -> report.PassesOn:
    """Gives every view layer that renders beauty, mattes by brick and by material, the wear's masks and the fit's
    motion in mm. What an artist has beside them stays."""
    with transaction():
        layers = of_layers.put_on(scene)
        with _unkeyed(collection):
            travel.tell(read(collection))
    materials = slots.materials(Columns(collection).objects)
    old = tuple(one.name for one in materials if not handed_out.hands_out(one))
    return report.PassesOn(collection.name, tuple(layers), PASSES, old)


def take_passes_off(scene: bpy.types.Scene) -> int:
    """Takes them off the scene; how many view layers had any."""
    with transaction():
        count = of_layers.take_off(scene)
        if not any(map(of_layers.on, bpy.data.scenes)):
            for build in state.marked():
                with _unkeyed(build):
                    travel.forget(Columns(build).objects)
            travel.forget(bpy.data.objects)
    return count


@contextmanager
def _unkeyed(collection: bpy.types.Collection) -> Iterator[None]:
    """The build without its keys, which then tell of motions or not, as bricks do."""
    if not keys.shots_of(collection):
        yield
        return
    lifted = keys.lift(collection)
    yield
    build = read(collection)
    tables = lifted.of(build.objects, deltas.current(build.columns).rows(build.rows))
    keys.lay(build, [Deltas.unpacked(table) for table in tables])
