"""Solids welded where faces were left out, parted again; judged by trimesh, an outside reader: each part has its
brick's bounds and surface, less what was left out. Sizes: common practice of the trade, no published source."""

import numpy as np
import pytest
import trimesh

from addon.core.parts.fused import parted
from addon.core.parts.shells import split
from tests.core.shapes import block

PITCH, PLATE, BRICK = 8.0, 3.2, 9.6


def fused(*solids):
    """One mesh of solids, welded, less every pair of triangles over the same three vertices."""
    whole = trimesh.util.concatenate(solids)
    whole.merge_vertices()
    _, number, count = np.unique(np.sort(whole.faces, axis=1), axis=0, return_inverse=True, return_counts=True)
    whole.update_faces(count[number.ravel()] == 1)
    return whole


def labels(mesh, face=None):
    shells = split(mesh.vertices, mesh.faces)
    return parted(mesh.vertices, mesh.faces, np.arange(len(mesh.faces)) if face is None else face, shells.label)


def check(mesh, label, solids, lost):
    """The parts have the solids' bounds, and all their surface but for the `lost` of each."""
    assert label.max() + 1 == len(solids)
    parts = [trimesh.Trimesh(mesh.vertices, mesh.faces[label == n], process=True) for n in range(len(solids))]
    key = lambda one: one.bounds.ravel().round(6).tolist()  # noqa: E731
    for part, solid, gone in zip(sorted(parts, key=key), sorted(solids, key=key), lost, strict=True):
        assert part.bounds == pytest.approx(solid.bounds, abs=1e-9)
        assert part.area == pytest.approx(solid.area - gone, rel=1e-9)


@pytest.mark.parametrize(
    ("solids", "lost"),
    [
        ([((16, 8, BRICK), (0, 0, 0)), ((16, 8, BRICK), (0, 8, 0))], [16 * BRICK] * 2),
        ([((16, 8, PLATE), (0, 0, PLATE * n)) for n in range(5)], [128, 256, 256, 256, 128]),
        ([((8, 8, BRICK), (8 * n, 0, 0)) for n in range(3)], [8 * BRICK, 16 * BRICK, 8 * BRICK]),
        ([((7.8, 7.8, BRICK), (0, 0, 0)), ((7.8, 7.8, BRICK), (0, 0, BRICK))], [7.8**2] * 2),
    ],
)
def test_bricks_whose_touching_faces_were_left_out_come_apart(solids, lost):
    solids = [block(*solid) for solid in solids]
    mesh = fused(*solids)
    assert len(split(mesh.vertices, mesh.faces)) == 1
    check(mesh, labels(mesh), solids, lost)


def test_a_wall_that_turns_back_along_itself_is_an_outline_too():
    """A bracket hangs down before the brick that it stands on: where its back meets the brick's front, faces touch."""
    foot, bracket = block((16, 8, BRICK)), hanging()
    mesh = fused(foot, bracket)
    assert len(split(mesh.vertices, mesh.faces)) == 1
    check(mesh, labels(mesh), [bracket, foot], [16 * 8, 16 * 8])


def hanging():
    """An angle over the block of a brick, open to neither side: out of y and z, drawn along x."""
    outline = np.array([(0, 0), (8, 0), (8, PLATE), (-1.6, PLATE), (-1.6, -6.4), (0, -6.4)])
    outline[:, 1] += BRICK
    points = np.concatenate([np.c_[np.full(6, x), outline] for x in (0, 16)])
    end = np.array([(0, 1, 2), (0, 2, 3), (3, 4, 5), (0, 3, 5)])
    low, high = np.arange(6), np.roll(np.arange(6), -1)
    walls = np.concatenate([np.c_[low, high + 6, low + 6], np.c_[low, high, high + 6]])
    angle = trimesh.Trimesh(points, np.concatenate([end[:, ::-1], end + 6, walls]), process=False)
    assert angle.is_volume
    return angle


def test_parts_follow_each_other_where_their_shell_was():
    mesh = trimesh.util.concatenate(
        [
            block((8, 8, 8)),
            fused(block((8, 8, 8), (24, 0, 0)), block((8, 8, 8), (32, 0, 0))),
            block((8, 8, 8), (64, 0, 0)),
        ]
    )
    label = labels(mesh)
    assert label.max() == 3
    assert (np.diff([mesh.triangles_center[label == n, 0].mean() for n in range(4)]) > 0).all()


def test_a_brick_in_one_piece_stays_so():
    lying = block((32, 8, BRICK))
    stud = trimesh.creation.cylinder(2.4, 1.7, sections=24)
    stud.apply_translation((4, 4, BRICK + 0.85))
    assert labels(lying).max() == 0
    assert labels(trimesh.util.concatenate([lying, stud])).max() == 1


def test_rings_that_lie_where_no_brick_ends_or_leave_crumbs_part_nothing():
    assert labels(fused(block((16, 8, 4.2)), block((16, 8, 5.3), (0, 0, 4.2)))).max() == 0
    assert labels(fused(block((16, 8, 1.6)), block((16, 8, 8.0), (0, 0, 1.6)))).max() == 0


def test_no_polygon_is_parted():
    mesh = fused(block((8, 8, BRICK)), block((8, 8, BRICK), (8, 0, 0)))
    normal = np.round(mesh.face_normals, 6) + 0.0
    _, face = np.unique(np.c_[normal, np.round(np.einsum("ij,ij->i", normal, mesh.triangles[:, 0]), 6)], axis=0,
                        return_inverse=True)  # fmt: skip
    assert labels(mesh).max() == 1
    assert labels(mesh, face.ravel()).max() == 0


@pytest.mark.parametrize("widths", [(3.9, 3.9 - 1.3 * 2 / 3, 2.6), (3.9, 3.9, 3.9)])
def test_a_cone_and_a_round_brick_drawn_with_rings_stay_whole(widths):
    """CAD kernels draw long walls with a ring or more between their ends: one on half a plate, one on a plate."""
    heights = (0.0, 4.8, BRICK) if widths[0] == widths[1] else (0.0, 6.4, BRICK)
    around = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    rings = [
        np.c_[r * np.cos(around), r * np.sin(around), np.full(16, z)] for r, z in zip(widths, heights, strict=True)
    ]
    after = np.roll(np.arange(16), -1)
    first = np.arange(16)
    wall = np.r_[np.c_[first, after, 16 + after], np.c_[first, 16 + after, 16 + first]]
    caps = [np.c_[np.full(16, 48), after, first], np.c_[np.full(16, 49), 32 + first, 32 + after]]
    mesh = trimesh.Trimesh(np.r_[*rings, [[0, 0, 0], [0, 0, BRICK]]], np.r_[wall, wall + 16, *caps], process=False)
    assert mesh.is_watertight
    assert (labels(mesh) == 0).all()
