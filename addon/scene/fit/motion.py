"""Writes the fit's motions onto the bricks, and measures what motion the bricks have."""

import numpy as np

from ...core import rigid
from ...core.fit.motions import Motions
from ...core.report import Skipped
from ..build import state
from ..build.build import Build
from ..turns import channels, rotations
from ..wear import originals
from . import deltas, rest, stances
from .deltas import Deltas


def write(build: Build, motions: Motions) -> tuple[Skipped, ...]:
    """Moves every brick that can be moved; returns the others, which go back to where they were before any fit.

    What the moved ones had before is kept for `deltas.restore`.
    """
    stances.APPLIED.end(build.collection)
    free = np.flatnonzero(~build.held)
    editable = build.rows[[n for n in build.fixed if build.columns.objects[build.rows[n]].is_editable]]
    if (worn := editable[build.bare.ours[editable]]).size:
        deltas.restore(build.columns, worn)
    _write(build, free, deltas_of(build, motions))
    _remember(build, editable)
    return tuple(Skipped(build.bricks.names[n], reason) for n, reason in sorted(build.fixed.items()))


def rewrite(build: Build, motions: Motions, among: np.ndarray) -> int:
    """Moves those of some bricks (n,) that can be moved and sit otherwise; all others keep every bit. How many."""
    ours = deltas_of(build, motions)
    standing = deltas.current(build.columns).rows(build.rows).packed()
    other = (ours.packed().view(np.uint32) != standing.view(np.uint32)).any(axis=1)
    rows = np.flatnonzero(among & other & ~build.held)
    if len(rows):
        _write(build, rows, ours)
    return len(rows)


def _write(build: Build, bricks: np.ndarray, ours: Deltas) -> None:
    rows = build.rows[bricks]
    deltas.place(build.columns, rows, build.bare)
    deltas.write(build.columns, rows, build.base.rows(bricks), ours.rows(bricks), build.bare.applied[rows])
    _remember(build, rows)


def _remember(build: Build, rows: np.ndarray) -> None:
    """Lets rows remember what is beneath their motions, and what they are bricks of."""
    number, bare = state.number(build.collection), build.bare
    rest.remember(build.columns, rows[~bare.known[rows] | (bare.build[rows] != number)], number)


def deltas_of(build: Build, motions: Motions) -> Deltas:
    """Deltas that turn each brick about the centre of its body and shift it, in its parent's space.

    Blender places a point x of the mesh at T(location + delta) . delta rotation . rotation . scale . delta scale . x
    within the parent's space P; a rotation Q of the build is P^-1 Q P there. A rounded twin has the clearance in its
    own shape, and so has one that an artist changed.
    """
    had = originals.shrink(build.objects)
    shrink = np.where(had == 1.0, motions.shrink, np.round(motions.shrink / had, 8))
    base, into_parent = build.base, build.into_parent
    turn = rigid.product(into_parent, rigid.product(motions.rotation, build.parent_turn))
    middle = build.middle + build.bricks.centre_in_part / build.scale
    arm = rigid.turned(turn, rigid.turned(build.linear, middle * shrink))
    centre = rigid.turned(into_parent, build.bricks.centre + motions.shift - build.parent_shift)
    euler, quaternion = channels(
        build.mode,
        rigid.product(turn, rotations(build.mode, base.euler, base.quaternion)),
        base.euler,
        base.quaternion,
    )
    ours = Deltas(centre - arm - build.location, euler, quaternion, base.scale * shrink)
    still = ~(motions.shift.any(axis=1) | motions.turn.any(axis=1) | (shrink != 1.0).any(axis=1))
    return Deltas.unpacked(np.where(still[:, None], base.packed(), ours.packed()))


def measured(build: Build) -> Motions:
    """The motions that the bricks have now, from their deltas as they stand."""
    return by(build, deltas.current(build.columns).rows(build.rows))


def by(build: Build, now: Deltas) -> Motions:
    """The motions that deltas (n) give the bricks."""
    base = build.base
    before = rotations(build.mode, base.euler, base.quaternion)
    after = rotations(build.mode, now.euler, now.quaternion)
    turn = rigid.product(after, rigid.transpose(before))
    shrink = now.scale.astype(np.float64) / base.scale
    middle = build.middle + build.bricks.centre_in_part / build.scale
    arm = rigid.turned(turn, rigid.turned(build.linear, middle * shrink))
    centre = rigid.turned(build.parent_turn, build.location + now.location + arm) + build.parent_shift
    in_build = rigid.product(build.parent_turn, rigid.product(turn, build.into_parent))
    return Motions(
        centre - build.bricks.centre, rigid.rotation_vector(in_build), shrink * originals.shrink(build.objects)
    )
