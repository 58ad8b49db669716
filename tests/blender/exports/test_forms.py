"""What an import is shaded like where its file says nothing."""

import bmesh
import bpy
import numpy as np
import pytest

from addon.scene.exports import forms


def stud(sides):
    mesh = bpy.data.meshes.new("stud")
    made = bmesh.new()
    bmesh.ops.create_cone(made, cap_ends=True, segments=sides, radius1=2.4, radius2=2.4, depth=1.7)
    made.to_mesh(mesh)
    made.free()
    return mesh


@pytest.mark.parametrize("smooth", [False, True], ids=["flat", "puffed"])
@pytest.mark.parametrize("sides", [12, 16, 24])
def test_a_stud_without_normals_is_round_with_a_sharp_rim(sides, smooth):
    """Normals of a cylinder by geometry: along the radius on its side, along the axis on its top."""
    mesh = stud(sides)
    mesh.shade_smooth() if smooth else mesh.shade_flat()
    forms.shade_unsaid([mesh])
    normals = np.array([corner.vector for corner in mesh.corner_normals])
    places = np.array([mesh.vertices[loop.vertex_index].co for loop in mesh.loops])
    top = np.repeat([abs(face.normal.z) > 0.9 for face in mesh.polygons], [face.loop_total for face in mesh.polygons])
    assert np.abs(normals[top, 2]) == pytest.approx(1.0, abs=1e-4)
    assert normals[~top, :2] == pytest.approx(places[~top, :2] / 2.4, abs=1e-3)


def test_normals_that_a_file_states_stay():
    mesh = stud(16)
    mesh.normals_split_custom_set([(0.0, 0.6, 0.8)] * len(mesh.loops))
    stated = np.array([corner.vector for corner in mesh.corner_normals])
    forms.shade_unsaid([mesh])
    assert np.array_equal(np.array([corner.vector for corner in mesh.corner_normals]), stated)
