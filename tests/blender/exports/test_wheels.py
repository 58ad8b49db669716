"""Wheels in a joined mesh: tyre and rim are two parts, the lining of a round brick is none. Shapes are trimesh's; that
a wheel is a tyre on a rim is common practice, no published source."""

import numpy as np
import pytest
import trimesh

from addon.scene.exports import importers

AXES = {"x": (0, 1, 0), "y": (1, 0, 0)}


def brick(place):
    parts = [trimesh.creation.box((31.8, 15.8, 9.6))]
    for x in (-12, -4, 4, 12):
        parts += [trimesh.creation.cylinder(2.4, 1.7, sections=16).apply_translation((x, y, 5.65)) for y in (-4, 4)]
    return trimesh.util.concatenate(parts).apply_translation(place)


def wheel(place, axis, rim):
    tyre = trimesh.creation.annulus(8.2, 15.3, 13.4, sections=32)
    lying = trimesh.transformations.rotation_matrix(np.pi / 2, AXES[axis])
    return [each.apply_transform(lying).apply_translation(place) for each in (tyre, rim)]


RIMS = {
    "solid": trimesh.creation.cylinder(8.0, 12.0, sections=32),
    "hollow": trimesh.creation.annulus(2.6, 8.0, 12.0, sections=32),
    "narrow": trimesh.creation.annulus(2.4, 5.5, 8.0, sections=24),
}


@pytest.mark.parametrize("axis", AXES)
@pytest.mark.parametrize("kind", RIMS)
@pytest.mark.parametrize("suffix", ["stl", "glb"])
def test_a_rim_in_its_tyre_is_a_part_of_its_own(axis, kind, suffix, tmp_path):
    parts = [brick((32 * x + 16 * (z % 2), 0, 9.6 * z)) for z in range(3) for x in range(3)]
    for place in [(0, 40, 11), (40, 40, 11), (0, -40, 11), (40, -40, 11)]:
        parts += wheel(place, axis, RIMS[kind].copy())
    whole = trimesh.util.concatenate(parts)
    if suffix == "glb":
        whole.apply_scale(0.001).apply_transform(trimesh.transformations.rotation_matrix(-np.pi / 2, (1, 0, 0)))
    whole.export(tmp_path / f"cart.{suffix}")
    room, _ = importers.bring(tmp_path / f"cart.{suffix}")
    sizes = [rounded(np.array(obj.dimensions, dtype=float) * 1000) for obj in meshes(room)]
    rim = rounded(RIMS[kind].extents)
    assert sizes.count((13.4, 30.6, 30.6)) == 4
    assert sizes.count(rim) == 4
    assert len(sizes) == 9 + 8


def test_the_lining_of_a_round_brick_stays_its_own(tmp_path):
    parts = [brick((32 * x + 16 * (z % 2), 0, 9.6 * z)) for z in range(3) for x in range(3)]
    lining = trimesh.creation.annulus(8.0, 9.0, 6.0, sections=32).apply_translation((0, 40, -1.0))
    parts += [trimesh.creation.cylinder(15.0, 9.6, sections=32).apply_translation((0, 40, 0)), lining]
    trimesh.util.concatenate(parts).export(tmp_path / "tower.stl")
    room, _ = importers.bring(tmp_path / "tower.stl")
    assert len(meshes(room)) == 9 + 1


def meshes(room):
    return [obj for obj in room.objects if obj.type == "MESH"]


def rounded(size):
    return tuple(sorted(np.round(size, 1).tolist()))
