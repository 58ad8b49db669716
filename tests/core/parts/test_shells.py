"""Shells are compared with what went in and judged by trimesh, an outside reader: watertight, of the right volume."""

from time import perf_counter

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.core.parts.shells import is_closed, split
from tests.core.shapes import block, tray

STUD_HEIGHT, STUD_RADIUS = 1.7, 2.4  # common practice of the trade, no published source


def together(*meshes, weld=True):
    mesh = trimesh.util.concatenate(meshes)
    if weld:
        mesh.merge_vertices()
    return mesh


def check(whole, parts):
    """The shells are the parts: count, order, triangles; each watertight and of its part's volume by trimesh."""
    shells = split(whole.vertices, whole.faces)
    assert np.array_equal(shells.label, np.repeat(np.arange(len(parts)), [len(part.faces) for part in parts]))
    assert shells.closed.all()
    for number, part in enumerate(parts):
        alone = trimesh.Trimesh(whole.vertices, whole.faces[shells.label == number], process=True)
        assert alone.is_watertight
        assert alone.volume == pytest.approx(part.volume, rel=1e-9)


@pytest.mark.parametrize("weld", [True, False])
def test_a_wall_of_touching_boxes(weld):
    parts = [block((8, 8, 9.6), (8 * x, 8 * y, 9.6 * z)) for x in range(3) for y in range(3) for z in range(3)]
    whole = together(*parts, weld=weld)
    if weld:
        assert len(whole.vertices) == 4**3
    check(whole, parts)


@pytest.mark.parametrize(
    "at", [(8, 0, 0), (8, 8, 0), (0, 8, 9.6), (8, 8, 9.6)], ids=["face", "upright edge", "level edge", "corner"]
)
def test_two_boxes_that_meet(at):
    parts = [block((8, 8, 9.6)), block((8, 8, 9.6), at)]
    check(together(*parts), parts)


def test_hollow_bricks_side_by_side_and_stacked():
    parts = [tray((16, 16, 9.6), (16 * x, 0, 9.6 * z)) for x in range(3) for z in range(3)]
    check(together(*parts), parts)


@settings(max_examples=60, deadline=None)
@given(
    cells=st.sets(st.tuples(*[st.integers(0, 2)] * 3), min_size=1, max_size=20),
    turn=st.tuples(*[st.floats(-3, 3)] * 3),
    make=st.sampled_from([block, tray]),
)
def test_any_heap_in_any_pose(cells, turn, make):
    parts = [make((8, 8, 9.6), np.array(cell) * (8, 8, 9.6)) for cell in sorted(cells)]
    whole = together(*parts)
    whole.apply_transform(trimesh.transformations.euler_matrix(*turn))
    check(whole, parts)


def test_inside_out_as_a_whole():
    parts = [block((8, 8, 9.6), (8 * x, 0, 0)) for x in range(3)]
    whole = together(*parts)
    shells = split(whole.vertices, whole.faces[:, ::-1])
    assert np.array_equal(shells.label, np.repeat([0, 1, 2], 12))


def test_a_cavity_stays_with_the_shell_around_it():
    cavity = block((4, 4, 4), (2, 2, 2))
    cavity.invert()
    shells = split(*_arrays(together(block((8, 8, 9.6)), cavity, block((8, 8, 9.6), (8, 0, 0)))))
    assert np.array_equal(shells.label, np.repeat([0, 0, 1], 12))
    assert shells.closed.all()


def test_an_open_shell_is_told_from_a_closed_one():
    whole = together(block((8, 8, 9.6)), block((8, 8, 9.6), (20, 0, 0)))
    shells = split(whole.vertices, whole.faces[:-1])
    assert shells.closed.tolist() == [True, False]
    assert is_closed(whole.vertices, whole.faces)
    assert not is_closed(whole.vertices, whole.faces[1:])


def test_corners_in_one_place_make_no_shell():
    shells = split(np.zeros((3, 3)), np.array([[0, 1, 2]]))
    assert shells.label.tolist() == [-1]
    assert len(shells) == 0
    assert len(split(np.empty((0, 3)), np.empty((0, 3), dtype=int))) == 0


def test_single_precision_far_from_the_origin():
    parts = [block((8, 8, 9.6), (4000 + 8 * x, 0.1, 9.6 * z)) for x in range(4) for z in range(4)]
    whole = together(*parts, weld=False)
    shells = split(whole.vertices.astype(np.float32), whole.faces)
    assert len(shells) == 16
    assert shells.closed.all()


def test_a_large_build_takes_seconds():
    """700 touching bricks of 500 triangles."""
    stud = trimesh.creation.icosphere(subdivisions=2, radius=STUD_RADIUS)  # 320 triangles each
    parts = [block((8, 8, 9.6), (8 * (k % 10), 8 * (k // 10 % 10), 9.6 * (k // 100))) for k in range(700)]
    fillers = [
        stud.copy().apply_translation((8 * (k % 10) + 4, 8 * (k // 10 % 10) + 4, 9.6 * (k // 100) + 4))
        for k in range(700)
    ]
    whole = together(*parts, *fillers, weld=False)
    began = perf_counter()
    shells = split(whole.vertices, whole.faces)
    assert len(shells) == 1400
    assert perf_counter() - began < 5


def _arrays(mesh):
    return mesh.vertices, mesh.faces
