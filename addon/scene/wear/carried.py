"""What bricks carry of the wear, read back as shaders read it: where nothing stands it is open, whole and usual."""

from collections.abc import Sequence
from contextlib import suppress

import bpy
import numpy as np

from ... import raw
from ...core import rigid
from ...core.wear.amounts import Carried, Dialled
from ...core.wear.layers import SHARES
from ...core.wear.names import LOT, MORE, SHARE, SHARES_OF, SHELTERED, UNLIT, UNREACHED, WEAR
from ..build import amounts
from ..columns import matrices
from .places import Spheres

Things = list[bpy.types.Object]


def worn(things: Things) -> Things:
    """Those that shaders take for bricks of a build."""
    return [thing for thing, is_worn in zip(things, raw.carried(things, SHARE), strict=True) if is_worn]


def is_lit(things: Things) -> bool:
    """Whether any of them knows of a window."""
    return any(raw.carried(things, UNLIT[0]))


def carried(things: Things, of_materials: Sequence[float], spheres: Spheres) -> Carried:
    """What bricks carry; `of_materials` are the amounts of what each one is made of."""
    world = matrices(things)
    across = rigid.transpose(world[:, :3, :3])  # rows: where each of a brick's axes points
    upright = across[:, :, 2] / np.maximum(rigid.length(across), 1e-12)
    return Carried(
        reach=_open(things, UNREACHED),
        sky=_open(things, SHELTERED),
        light=_open(things, UNLIT),
        up=np.stack([-upright, upright], axis=2).reshape(len(things), -1),
        shares=np.concatenate([_three(things, name) for name in SHARES_OF], axis=1)[:, : len(SHARES)],
        lot=np.abs(_three(things, LOT)).max(axis=1),
        use=np.array([amounts.of(thing) for thing in things]) * np.array(of_materials),
        near=_near(things, world, spheres),
    )


def dialled(scene: bpy.types.Scene, layer: str) -> Dialled:
    """How a scene shows a layer; a scene without the dial shows none."""
    return Dialled(max(_number(scene, WEAR), 0.0), max(1.0 + _number(scene, MORE[layer]), 0.0))


def _number(scene: bpy.types.Scene, name: str) -> float:
    value = scene.get(name)
    return float(value) if isinstance(value, int | float) else 0.0


def _open(things: Things, names: tuple[str, str]) -> np.ndarray:
    """1 less what two properties keep off sides (N, 6)."""
    low, high = (_three(things, name) for name in names)
    return np.clip(1.0 - np.stack([low, high], axis=2).reshape(len(things), -1), 0.0, 1.0)


def _three(things: Things, name: str) -> np.ndarray:
    """(N, 3) of a property; 0 where there is none, or what is none of ours."""
    with suppress(KeyError, AttributeError, TypeError, ValueError):  # mostly all have it: in half the time
        told = np.array([thing[name].to_list() for thing in things], dtype=np.float64)
        if told.shape == (len(things), 3) and np.isfinite(told).all():
            return told
    none = (0.0, 0.0, 0.0)
    return np.array([raw.numbers(thing, name, 3) or none for thing in things], dtype=np.float64).reshape(-1, 3)


def _near(things: Things, world: np.ndarray, spheres: Spheres) -> np.ndarray:
    """How many times of what use brings places bring to the middles of bricks (N,)."""
    near = np.ones(len(things))
    if not spheres:
        return near
    middle = np.array([np.mean(thing.bound_box, axis=0) for thing in things])
    middle = rigid.turned(world[:, :3, :3], middle) + world[:, :3, 3]
    for sphere, place in spheres:
        into = np.linalg.inv(np.array(sphere.matrix_world, dtype=np.float64))
        away = rigid.length(middle @ into[:3, :3].T + into[:3, 3]) / max(sphere.empty_display_size, 1e-12)
        near *= place.times(away)
    return near
