"""Bricks of a joined mesh that were written as copies share a mesh at once, where they look alike."""

import numpy as np
import pytest
import trimesh

from addon.core.parts import runs
from addon.scene.exports import importers

RED, BLUE = (200, 10, 20, 255), (10, 20, 200, 255)


def brick(place, colour):
    """A body with two loose studs, as one program writes them."""
    studs = [trimesh.creation.cylinder(2.4, 1.7, sections=12).apply_translation((x, 0, 5.65)) for x in (-4, 4)]
    whole = trimesh.util.concatenate([trimesh.creation.box((15.8, 7.8, 9.6)), *studs])
    whole.visual.vertex_colors = np.tile(colour, (len(whole.vertices), 1)).astype(np.uint8)
    return whole.apply_translation(place)


@pytest.mark.parametrize("kind", ["ply", "stl", "glb"])
def test_copies_share_a_mesh_and_keep_their_colours(kind, tmp_path, monkeypatch):
    monkeypatch.setattr(runs, "MANY", 1)
    scale = 0.001 if kind == "glb" else 1.0
    places = [(16.0 * x, 8.0 * y, 9.6 * z) for x in range(4) for y in range(3) for z in range(2)]
    places = np.add(places, (1000.0 / 3.0, 0, 0))  # in single precision no two copies are the same
    colours = [RED if n % 3 else BLUE for n in range(len(places))]
    mesh = trimesh.util.concatenate([brick(*each) for each in zip(places, colours, strict=True)])
    mesh.apply_scale(scale)
    mesh.export(tmp_path / f"wall.{kind}")
    room, found = importers.bring(tmp_path / f"wall.{kind}", to_stay=False)
    assert found.mm_per_unit == 1.0 / scale
    bricks = [obj for obj in room.all_objects if obj.type == "MESH"]
    assert len(bricks) == len(places)
    assert len({obj.data for obj in bricks}) == (1 if kind == "stl" else 2)
    middles = {}
    for obj in bricks:
        points = np.array([obj.matrix_world @ vertex.co for vertex in obj.data.vertices]) * 1000
        assert np.ptp(points, axis=0) == pytest.approx([15.8, 7.8, 11.3], abs=1e-2)
        middles[tuple(np.rint(points.mean(axis=0)).astype(int))] = obj
    assert len(middles) == len(places)
