"""Everything of ours out of the open file, wherever it has gone."""

from collections import Counter
from itertools import chain

import bpy
import numpy as np

from ...core import report, threads
from ...core.slices import rest, whole
from ...nodes import attach as wear
from ...scene import curves, traces
from ...scene.build import state
from ...scene.columns import Columns
from ...scene.fit import deltas, hung
from ...scene.shots import keys, passes
from ...scene.wear import slots, twins
from ...transaction import transaction
from ..progress import Steps, part
from .look import staying

_AT_ONCE = 1000  # data-blocks


def clear_everything() -> report.ClearedFile:
    """Takes every motion, wear, mark and note of ours out of the file: off all builds and off what has left them, with
    pins, re-rolls, amounts and shots. What the artist did stays."""
    return whole(clearing_everything())


def clearing_everything() -> Steps[report.ClearedFile]:
    """The same step by step; closed at any of them, everything is as it was."""
    yield 0.0, "looking for what is worn"
    marks, linked = traces.marked()
    builds = [build for build in state.marked() if not build.library]
    with transaction():
        yield 0.1, "taking the keys off"
        hung.adopt()
        for build in builds:
            keys.remove(build)
            yield 0.1, "taking the keys off"
        columns = Columns(None)
        rows = np.array([row for row, thing in enumerate(columns.objects) if thing.is_editable], dtype=np.intp)
        things = columns.some(rows)
        keys.remove_from(owner for owner in chain(things, bpy.data.scenes) if owner.animation_data)
        changed = yield from part(0.2, "moving the bricks back", twins.letting_go(things))
        restored = yield from part(0.25, "moving the bricks back", deltas.restoring(columns, rows))
        materials = yield from part(0.3, "taking the wear off", wear.detaching_everywhere())
        yield from part(0.6, "giving the slots back", slots.giving_back(things))
        yield 0.7, "taking the marks off"
        for scene in bpy.data.scenes:
            if not scene.library:
                passes.take_off(scene)
        going = [*wear.ours(), *twins.ours(), *slots.ours(), *curves.ours()]
        traces.let_go(going)
        on_twins = Counter(material for twin in twins.ours() if not twin.users for material in twin.materials)
        leaving = {*wear.ours(), *(block for block in going if block.users <= on_twins[block])}
        owners = [block for block in marks if block not in leaving]
        for some in threads.slices(len(owners), _AT_ONCE):
            traces.drop(owners[some])
            yield 0.7, "taking the marks off"
        yield from part(0.95, "tidying up", rest())  # the last moment to stop
    return report.ClearedFile(
        len(builds), len(restored.back), materials, len(marks), len(linked), staying(restored), changed
    )


def is_anything_worn() -> bool:
    """Whether wear of ours is anywhere in the file; quick enough for a panel."""
    return bool(wear.ours())
