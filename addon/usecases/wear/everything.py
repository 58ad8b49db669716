"""Everything of ours out of the open file, wherever it has gone."""

from collections import Counter
from itertools import chain

import bpy
import numpy as np

from ...core import report
from ...nodes import attach as wear
from ...scene import curves, traces
from ...scene.build import state
from ...scene.columns import Columns
from ...scene.fit import deltas
from ...scene.shots import keys
from ...scene.wear import slots, twins
from ...transaction import transaction
from .look import staying


def clear_everything() -> report.ClearedFile:
    """Takes every motion, wear, mark and note of ours out of the file: off all builds and off what has left them, with
    pins, re-rolls and shots. What the artist did stays."""
    marks, linked = traces.marked()
    builds = [build for build in state.marked() if not build.library]
    with transaction():
        for build in builds:
            keys.remove(build)
        columns = Columns(None)
        rows = np.array([row for row, thing in enumerate(columns.objects) if thing.is_editable], dtype=np.intp)
        things = columns.some(rows)
        keys.remove_from(owner for owner in chain(things, bpy.data.scenes) if owner.animation_data)
        changed = twins.let_go(things)
        restored = deltas.restore(columns, rows)
        materials = wear.detach_everywhere()
        slots.give_back(things)
        going = [*wear.ours(), *twins.ours(), *slots.ours(), *curves.ours()]
        traces.let_go(going)
        on_twins = Counter(material for twin in twins.ours() if not twin.users for material in twin.materials)
        unused = [block for block in going if block.users <= on_twins[block]]
        traces.drop(set(marks).difference(wear.ours(), unused))
    return report.ClearedFile(
        len(builds), len(restored.back), materials, len(marks), len(linked), staying(restored), changed
    )


def is_anything_worn() -> bool:
    """Whether wear of ours is anywhere in the file; quick enough for a panel."""
    return bool(wear.ours())
