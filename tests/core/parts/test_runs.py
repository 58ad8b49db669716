"""Closed pieces in the order of a file, against the bodies that trimesh puts together."""

import numpy as np
import pytest
import trimesh

from addon.core.parts import runs, shells

BODIES = [
    trimesh.creation.box((16, 8, 9.6)),
    trimesh.creation.cylinder(2.4, 1.7, sections=12),
    trimesh.creation.annulus(2.4, 3.2, 8.6, sections=16),
    trimesh.creation.icosphere(1, 3.0),
]


def heap(seed=7, count=200):
    """Bodies in single precision that stand next to each other and on each other; which is which."""
    rng = np.random.default_rng(seed)
    which = rng.integers(len(BODIES), size=count)
    cells = np.stack(np.unravel_index(rng.permutation(512)[:count], (8, 8, 8)), axis=1)
    places = cells * (16, 8, 9.6) + (300, 200, 0)
    placed = [BODIES[n].copy().apply_translation(place) for n, place in zip(which, places, strict=True)]
    for body in placed:
        body.vertices = body.vertices.astype(np.float32)
    return trimesh.util.concatenate(placed), which


def found(mesh, words=None):
    vertices, triangles = np.array(mesh.vertices), np.array(mesh.faces)
    pieces = runs.closed(vertices, triangles)
    return pieces, runs.copies(vertices, triangles, pieces, words)


def bounds(which):
    ends = np.cumsum([len(BODIES[n].faces) for n in which])
    return np.stack([ends - [len(BODIES[n].faces) for n in which], ends], axis=1)


def test_every_body_is_a_piece_and_a_copy_of_the_first_of_its_kind():
    mesh, which = heap()
    pieces, first = found(mesh)
    assert np.array_equal(pieces, bounds(which))
    assert np.array_equal(first, [np.flatnonzero(which == n)[0] for n in which])


def test_a_soup_of_triangles_has_the_same_pieces():
    """STL has no vertices that triangles share."""
    mesh, which = heap()
    soup = trimesh.Trimesh(mesh.triangles.reshape(-1, 3), np.arange(3 * len(mesh.faces)).reshape(-1, 3), process=False)
    assert np.array_equal(found(soup)[0], bounds(which))


def test_only_the_body_that_lacks_a_triangle_is_left_out():
    mesh, which = heap()
    lost = bounds(which)[100, 0] + 2
    mesh.faces = np.delete(mesh.faces, lost, axis=0)
    pieces, _ = found(mesh)
    expected = np.delete(bounds(which), 100, axis=0)
    assert np.array_equal(pieces, expected - (expected > lost))


def test_a_row_of_touching_bricks_is_told_at_its_ends():
    """The end of each and the beginning of the next are closed as well."""
    brick = trimesh.creation.box((8, 8, 8))
    order = np.argsort(brick.triangles_center[:, 0], kind="stable")  # the side that touches the one before comes first
    row = [trimesh.Trimesh(np.add(brick.vertices, (8 * n, 0, 0)), brick.faces[order], process=False) for n in range(50)]
    pieces, first = found(trimesh.util.concatenate(row))
    assert np.array_equal(pieces, 12 * np.c_[:50, 1:51])
    assert not first.any()


def test_triangles_without_area_are_passed_over():
    mesh, which = heap()
    flat = mesh.faces[bounds(which)[50, 0]][[0, 0, 1]]
    mesh.faces = np.insert(mesh.faces, bounds(which)[50, 0] + 1, flat, axis=0)
    pieces, _ = found(mesh)
    assert len(pieces) == len(which)
    assert pieces[-1, 1] == len(mesh.faces)


def test_bodies_written_into_each_other_are_not_told_as_whole():
    box = BODIES[0]
    faces = np.concatenate([box.faces[:6], box.faces + 8, box.faces[6:]])
    mesh = trimesh.Trimesh(np.r_[box.vertices, box.vertices + 40], faces, process=False)
    assert not len(found(mesh)[0])
    turns = np.stack([box.faces, box.faces + 8], axis=1).reshape(-1, 3)
    mesh = trimesh.Trimesh(np.r_[box.vertices, box.vertices + 40], turns, process=False)
    assert not len(found(mesh)[0])


@pytest.mark.parametrize("how", ["words", "places", "numbers"])
def test_what_differs_in_anything_is_no_copy(how):
    box = BODIES[0]
    mesh = trimesh.util.concatenate([box, box.copy().apply_translation((40, 0, 0)), box])
    words = np.zeros(len(mesh.faces), dtype=np.uint64)
    assert found(mesh, words)[1].tolist() == [0, 0, 0]
    if how == "words":
        words[17] = 1
    elif how == "places":
        mesh.vertices[9] += (0, 0, 0.001)
    else:
        mesh.faces[12:24] = np.array([1, 0, *range(2, 8)])[mesh.faces[12:24] - 8] + 8
        mesh.vertices[[8, 9]] = mesh.vertices[[9, 8]]
    assert found(mesh, words)[1].tolist() == [0, 1, 0]


@pytest.mark.parametrize("inside_out", [False, True])
def test_shells_are_the_same_with_pieces_as_without(monkeypatch, inside_out):
    """Among them a hollow ball, whose inner skin is a piece of its own, and two boxes written by turns."""
    hollow = trimesh.creation.icosphere(2, 7.0)
    inner = trimesh.creation.icosphere(1, 3.0)
    inner.invert()
    turns = trimesh.util.concatenate([BODIES[0].copy().apply_translation((x, -90, 0)) for x in (0, 16)])
    turns.faces = turns.faces.reshape(2, -1, 3).transpose(1, 0, 2).reshape(-1, 3)
    balls = [part.copy().apply_translation((x, 0, -60)) for x in (0, 40) for part in (hollow, inner)]
    mesh = trimesh.util.concatenate([heap()[0], *balls, turns, heap(8, 40)[0].apply_translation((0, -600, 0))])
    mesh.vertices = mesh.vertices.astype(np.float32)
    mesh.faces = np.delete(mesh.faces, [5, 900, 2300], axis=0)
    if inside_out:
        mesh.invert()
    vertices, triangles = np.array(mesh.vertices), np.array(mesh.faces)
    plain = shells.split(vertices, triangles)
    monkeypatch.setattr(runs, "MANY", 1)
    pieced = shells.split(vertices, triangles)
    assert np.array_equal(pieced.closed, plain.closed)
    assert np.array_equal(pieced.label, plain.label)
    firsts = np.unique(pieced.same)
    assert len(firsts) < 0.2 * len(pieced)
    for shell in (3, 77, 201, 239):
        own, theirs = (vertices[triangles[pieced.label == n]] for n in (shell, pieced.same[shell]))
        assert np.allclose(own - pieced.shift[shell], theirs, atol=1e-3)
