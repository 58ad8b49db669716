"""Exports with each brick in several levels of detail at its place: the finest is brought in, and a line says so.

Written with trimesh. Sizes: common practice of the trade, no published source.
"""

import bpy
import numpy as np
import pytest
import trimesh

from addon.scene.exports import importers

PARTS = {"block": (2, 2, 9.6), "slab": (4, 2, 3.2), "cap": (2, 2, 3.2)}
BUILD = [("slab", 0, 0, 0), ("slab", 32, 0, 0), ("block", 0, 0, 3.2), ("block", 24, 0, 3.2), ("slab", 8, 0, 12.8)]
BUILD += [("block", 48, 0, 3.2), ("cap", 0, 0, 12.8), ("cap", 48, 0, 12.8), ("cap", 16, 0, 16.0)]
LEFT_OUT = "objects are coarser levels of detail of others at the same place and left out."


def part(name, sides):
    """A part with its studs, of so many sides; of none, without. Caps have none at all."""
    x, y, height = PARTS[name]
    body = trimesh.creation.box((8 * x, 8 * y, height)).apply_translation((4 * x, 4 * y, height / 2))
    places = [(8 * i + 4, 8 * j + 4, height + 0.85) for i, j in np.ndindex(x, y)] if sides and name != "cap" else []
    studs = [trimesh.creation.cylinder(2.4, 1.7, sections=sides).apply_translation(place) for place in places]
    return trimesh.util.concatenate([body, *studs]).apply_scale(0.001)


def beside(scene, levels):
    """Each brick's levels beside each other under a node; what is fine hangs on what is coarse."""
    for n, (name, *place) in enumerate(BUILD):
        above = "world"
        for level in levels:
            stands = trimesh.transformations.translation_matrix(np.multiply(place, 0.001))
            scene.add_geometry(
                part(name, level),
                node_name=f"n{n}-{level}",
                geom_name=f"{name}{level}",
                parent_node_name=above,
                transform=stands if above == "world" else np.eye(4),
            )
            above = f"n{n}-{level}"


def in_sets(scene, levels):
    """A mesh a level that holds the whole build, under a node of its own."""
    for level in levels:
        scene.graph.update(frame_to=f"level {level}", frame_from="world")
        placed = [part(name, level).apply_translation(np.multiply(place, 0.001)) for name, *place in BUILD]
        scene.add_geometry(
            trimesh.util.concatenate(placed), node_name=f"set {level}", parent_node_name=f"level {level}"
        )


def brought(path, laid, levels, **options):
    scene = trimesh.Scene()
    laid(scene, levels)
    scene.export(path)
    room, found = importers.bring(path, **options)
    return [obj for obj in room.all_objects if obj.type == "MESH"], [one for one in found.warnings if LEFT_OUT in one]


def idle():
    """Nodes that hold nothing."""
    holding = {obj.parent for obj in bpy.data.objects}
    return [obj.name for obj in bpy.data.objects if obj.type == "EMPTY" and obj not in holding]


def places(obj):
    points = np.array([obj.matrix_world @ vertex.co for vertex in obj.data.vertices]) * 1000
    return tuple(np.r_[points.min(axis=0), points.max(axis=0)].round(1) + 0.0)


@pytest.mark.parametrize(("laid", "times", "of"), [(beside, 9, 27), (in_sets, 1, 3)])
def test_the_finest_comes_in(laid, times, of, tmp_path):
    bricks, told = brought(tmp_path / "arch.glb", laid, (0, 6, 16))
    alone, silent = brought(tmp_path / "fine.glb", laid, (16,))
    assert (told, silent) == ([f"{2 * times} of {of} {LEFT_OUT}"], [])
    assert len(bricks) == len(BUILD)
    assert not idle()
    assert sorted(map(places, bricks)) == sorted(map(places, alone))
    assert sorted(len(obj.data.polygons) for obj in bricks) == sorted(len(obj.data.polygons) for obj in alone)


def test_kept_as_they_are_where_the_artist_says_so(tmp_path):
    objects, told = brought(tmp_path / "arch.glb", beside, (0, 16), keep_objects=True)
    assert (len(objects), told) == (2 * len(BUILD), [])
