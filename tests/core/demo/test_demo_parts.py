"""The demo's parts: closed solids of the trade's nominal sizes (common practice, no published source)."""

from math import hypot, pi, sin, sqrt

import numpy as np
import pytest
import trimesh

from addon.demo import parts
from addon.demo.parts import PARTS, Part
from addon.demo.surface import SEGMENTS

SOLID = 2.4  # mm, stud radius
EVERY = pytest.mark.parametrize("part", PARTS.values(), ids=PARTS.keys())


def solid(part: Part) -> trimesh.Trimesh:
    """The part with the corners that were split at sharp edges put together again."""
    mesh = part.mesh()
    whole = trimesh.Trimesh(mesh.positions, mesh.triangles, process=False)
    whole.merge_vertices(merge_norm=True, merge_tex=True)
    return whole


def contains(part: Part, points: np.ndarray) -> np.ndarray:
    """Which points lie inside: the part's skin covers the whole sphere of sight from there, or none of it.

    Solid angle of a triangle: Van Oosterom and Strackee, IEEE Transactions on Biomedical Engineering 30 (1983).
    """
    mesh = part.mesh()
    a, b, c = np.moveaxis(mesh.positions[mesh.triangles][None] - np.asarray(points, float)[:, None, None], 2, 0)
    la, lb, lc = (np.linalg.norm(v, axis=2) for v in (a, b, c))
    over = (a * np.cross(b, c)).sum(axis=2)
    under = la * lb * lc + (a * b).sum(axis=2) * lc + (b * c).sum(axis=2) * la + (c * a).sum(axis=2) * lb
    return np.arctan2(over, under).sum(axis=1) > pi  # half the solid angle: 2 pi inside, 0 outside


@EVERY
def test_part_is_one_closed_solid_facing_outwards(part: Part):
    whole = solid(part)
    assert whole.is_watertight
    assert whole.is_winding_consistent
    assert whole.body_count == 1
    assert whole.volume > 0
    assert whole.area_faces.min() > 1e-3


@EVERY
def test_part_fills_its_cells_and_height_exactly(part: Part):
    low, high = solid(part).bounds
    stud = 1.7 if part.studs else 0.0
    assert low == pytest.approx([-4.0 * part.cells[0], -4.0 * part.cells[1], 0.0], abs=1e-9)
    assert high == pytest.approx([4.0 * part.cells[0], 4.0 * part.cells[1], 3.2 * part.plates + stud], abs=1e-9)


@EVERY
def test_normals_lead_out_of_the_solid_and_flat_faces_are_flat(part: Part):
    mesh = part.mesh()
    corners, normals = mesh.positions[mesh.triangles], mesh.normals[mesh.triangles]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    assert np.linalg.norm(mesh.normals, axis=1) == pytest.approx(1.0, abs=1e-5)
    # A round wall's normals differ from its facets' by half a segment at the most, a flat face's not at all.
    assert (across[:, None] * normals).sum(axis=2).min() > np.cos(pi / SEGMENTS) - 1e-5


@EVERY
def test_every_socket_takes_a_stud(part: Part):
    turn = np.linspace(0, 2 * pi, 12, endpoint=False)
    radius = SOLID * 0.995  # the stud itself just touches tubes, posts and its own hole
    rim = np.stack([radius * np.cos(turn), radius * np.sin(turn), np.full(len(turn), 1.69)], axis=1)
    for x, y in part.sockets[:: max(1, len(part.sockets) // 4)]:
        assert not contains(part, rim + np.array([x, y, 0.0])).any(), f"a stud at {(x, y)} runs into the part"


@EVERY
def test_studs_stand_where_the_part_says(part: Part):
    for x, y in part.studs[:: max(1, len(part.studs) // 4)]:
        assert contains(part, np.array([(x, y, part.height + 1.69)])).all()
        assert not contains(part, np.array([(x, y, part.height + 1.71)])).any()


def test_studs_add_up_to_the_closed_form_volume():
    # A plate's volume minus its tile's is that of the studs: regular prisms of 24 sides.
    stud = SEGMENTS / 2 * SOLID**2 * sin(2 * pi / SEGMENTS) * 1.7
    for size, studs in (("1x1", 1), ("1x2", 2), ("2x2", 4), ("1x4", 4)):
        more = solid(PARTS[f"plate_{size}"]).volume - solid(PARTS[f"tile_{size}"]).volume
        assert more == pytest.approx(studs * stud, rel=1e-5)


def test_a_two_by_four_is_exactly_the_nominal_box():
    whole = solid(PARTS["brick_2x4"])
    assert whole.extents == pytest.approx([16.0, 32.0, 9.6 + 1.7], abs=1e-9)


def test_tubes_and_posts_touch_the_studs_around_them():
    # Geometry: a tube between four studs has the diameter pitch * sqrt(2) - stud, a post between two pitch - stud.
    assert pytest.approx(8 * sqrt(2) - 4.8, abs=0.005) == 2 * parts.TUBE_OUTER
    assert pytest.approx(8 - 4.8) == 2 * parts.POST
    assert hypot(4, 4) - parts.TUBE_OUTER - SOLID >= 0


def test_there_are_parts_enough():
    families = {name.rsplit("_", 1)[0] for name in PARTS}
    assert len(PARTS) >= 20
    assert {"brick", "plate", "tile", "slope", "round_brick", "round_plate", "cone", "arch", "fence"} <= families
