"""The frame that a build was brought in under: an empty that is drawn as large as the build, and no larger.

It knows the lattice that was found in its space, so that it need not be looked for again.
"""

import json

import bpy
import numpy as np

from ... import raw
from ...blender import context
from ...core import rigid, units
from ...core.build.lattice import Lattice
from ...core.sizes import TRADE
from ..columns import Columns

LATTICE = "playworn_lattice"


def draw(frame: bpy.types.Object, collection: bpy.types.Collection) -> None:
    """Draws the frame as three thin lines as long as the longest side of what stands in the collection."""
    frame.empty_display_type = "PLAIN_AXES"
    columns = Columns(collection)
    rows = [n for n, thing in enumerate(columns.objects) if thing.type == "MESH"]
    if not rows:
        return
    things = [columns.objects[n] for n in rows]
    meshes = [thing.data for thing in things]
    row = {mesh: n for n, mesh in enumerate(dict.fromkeys(meshes))}
    boxes = np.array([np.array(thing.bound_box)[[0, 6]] for thing in dict(zip(meshes, things, strict=True)).values()])
    half, middle = (0.5 * (boxes[:, 1] + sign * boxes[:, 0])[[row[mesh] for mesh in meshes]] for sign in (-1, 1))
    matrix = columns.read_matrix("matrix_world")[rows].astype(np.float64)
    middle = rigid.turned(matrix[:, :3, :3], middle) + matrix[:, :3, 3]
    half = rigid.turned(np.abs(matrix[:, :3, :3]), half)
    low, high = middle - half, middle + half
    # Beside bricks a longer thing is their ground.
    large = TRADE.widest / (units.MM_PER_METRE * context().scene.unit_settings.scale_length)
    small = (high - low).max(axis=1) <= large
    chosen = small if small.any() else np.ones(len(rows), dtype=bool)
    side = float((high[chosen].max(axis=0) - low[chosen].min(axis=0)).max())
    if side > 0.0 and frame.scale[0]:
        frame.empty_display_size = 0.5 * side / frame.scale[0]


def keep(frame: bpy.types.Object, found: Lattice) -> None:
    """Keeps the lattice of what hangs on a frame."""
    if found.share_on_lattice:
        frame[LATTICE] = json.dumps([found.mm_per_unit, found.up, found.sign, found.share_on_lattice, found.turn])


def kept(frame: bpy.types.Object | None) -> Lattice | None:
    """The lattice that a frame knows; None where it knows none."""
    told = raw.text(frame, LATTICE) if frame is not None else ""
    try:
        mm, up, sign, share, *turn = raw.said(told)  # files of earlier versions tell no turn
        axes = np.array(turn[0] if turn else np.eye(3).ravel(), dtype=float)
        if not (mm > 0 and up in (0, 1, 2) and sign in (-1, 1) and share > 0 and np.isfinite((mm, share, *axes)).all()):
            return None
    except (ValueError, TypeError):  # nothing, or another hand's
        return None
    if axes.shape != (9,) or not np.allclose(axes.reshape(3, 3) @ axes.reshape(3, 3).T, np.eye(3), atol=1e-3):
        return None
    return Lattice(mm, up, sign, share, turn=tuple(turn[0])) if turn else Lattice(mm, up, sign, share)
