"""What samples meet first against every ray with every triangle, and against pictures worked out by hand."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from addon.core.parts.hull import BOX
from addon.core.shots import raster, skin
from addon.core.shots.grid import Grid
from addon.core.shots.lens import Lens

BESIDE = ((0.0, 1.0, 0.1, 4.0), (-0.1, 0.0, 1.0, -2.0), (1.0, 0.0, 0.2, 90.0))  # a camera that leans and is no rotation
MIRRORED = ((0.0, -1.0, 0.1, -4.0), (-0.1, 0.0, 1.0, -2.0), (1.0, 0.0, 0.2, 90.0))
WITHIN = ((0.0, 1.0, 0.0, 3.0), (0.0, 0.0, 1.0, 1.0), (1.0, 0.0, 0.0, 2.0))  # amid what it looks at


def first_met(lens: Lens, corners: np.ndarray, faces: np.ndarray, px: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The face (N,) and depth (N,) that rays of pixels (N, 2) meet first, by both halves of each face (Möller and
    Trumbore 1997)."""
    start, way = lens.place(px, np.full(len(px), lens.near_mm)), lens.place(px, np.full(len(px), lens.near_mm + 1.0))
    way = way - start
    face, depth = np.full(len(px), -1), np.full(len(px), np.inf)
    for n, four in enumerate(corners[faces]):
        for a, b, c in (four[[0, 1, 2]], four[[0, 2, 3]]):
            across = np.cross(way, c - a)
            volume = across @ (b - a)
            with np.errstate(divide="ignore", invalid="ignore"):
                u = ((start - a) * across).sum(axis=1) / volume
                over = np.cross(start - a, b - a)
                v, far = (way * over).sum(axis=1) / volume, over @ (c - a) / volume
                met = (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (far >= 0.0) & (far + lens.near_mm < depth)
            face[met], depth[met] = n, far[met] + lens.near_mm
    gone = depth > lens.far_mm
    face[gone] = -1
    return face, depth


def heap(seed: int, count: int, spread: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Boxes at any angle, and as many open triangles: corners, faces, and which box is whose."""
    rng = np.random.default_rng(seed)
    turn = Rotation.random(count, random_state=seed).as_matrix()
    boxes = np.einsum("nij,nkj->nki", turn, BOX.corners * rng.uniform(2.0, 9.0, (count, 1, 3)))
    boxes += rng.normal(size=(count, 1, 3)) * spread
    around = np.array([four for polygon in skin.polygons(BOX) for four in skin.fours(polygon)])
    faces = (8 * np.arange(count)[:, None, None] + around).reshape(-1, 4)
    triangles = rng.normal(size=(count, 1, 3)) * spread + rng.normal(size=(count, 3, 3)) * 6.0
    more = 8 * count + 3 * np.arange(count)[:, None] + np.array([0, 1, 2, 2])
    corners = np.concatenate([boxes.reshape(-1, 3), triangles.reshape(-1, 3)])
    solid = np.concatenate([np.repeat(np.arange(count), 6), np.full(count, -1)])
    return corners, np.concatenate([faces, more]), solid


@pytest.mark.parametrize("view", [BESIDE, MIRRORED, WITHIN])
@pytest.mark.parametrize(
    "more",
    [
        {"near_mm": -1e9},
        {"near_mm": -15.0, "far_mm": 20.0},
        {"shift_x": 0.2, "shift_y": -0.1, "pixel_aspect": 1.6, "focal_mm": 20.0},
        {"ortho_mm": 90.0, "far_mm": 5.0},
        {"ortho_mm": 40.0, "near_mm": -5.0, "pixel_aspect": 0.7},
    ],
)
def test_the_first_face_is_met_as_rays_meet_it(view, more):
    """Clipping distances are told from the middle of the heap, and cut its boxes open."""
    middle = view[2][3]
    clips = {"near_mm": max(0.5, middle + more.get("near_mm", -90.0)), "far_mm": middle + more.get("far_mm", 1e9)}
    lens = Lens(view, 90, 60, **{**more, **clips})
    for seed in range(2):
        corners, faces, solid = heap(seed, 60, 25.0)
        grid = Grid.over((3.0, 5.0, 90.0, 60.0), 700, lens.pixel_aspect)
        face, depth = raster.met(lens, raster.Surface(corners, faces, solid), grid)
        theirs, far = first_met(lens, corners, faces, grid.places.reshape(-1, 2))
        assert np.array_equal(face.ravel(), theirs)
        met = theirs >= 0
        assert met.mean() > 0.2
        assert np.abs(depth.ravel()[met] / far[met] - 1.0).max() < 1e-9


@pytest.mark.parametrize("room", [0.05, 1.0, 1000.0])
def test_what_is_drawn_together_changes_nothing(room, monkeypatch):
    """Few faces at once: most of the heap lies behind what is drawn already."""
    corners, faces, solid = heap(5, 400, 20.0)
    lens = Lens(BESIDE, 90, 60)
    grid = Grid.over((0.0, 0.0, 90.0, 60.0), 2000, 1.0)
    face, depth = raster.met(lens, raster.Surface(corners, faces, solid), grid)
    monkeypatch.setattr(raster, "_ROOM", room)
    again = raster.met(lens, raster.Surface(corners, faces[::-1], solid[::-1]), grid)
    assert np.array_equal(np.where(again[0] < 0, -1, len(faces) - 1 - again[0]), face)
    assert np.array_equal(again[1], depth)


def test_a_wall_has_no_cracks_where_its_faces_meet():
    """Samples on the very edges of squares side by side, and on their corners: each meets one, none what is behind."""
    side = np.arange(9.0)
    across, up = np.meshgrid(side, side)
    corners = np.column_stack([across.ravel(), up.ravel(), np.full(81, 50.0)])
    first = (9 * np.arange(8)[:, None] + np.arange(8)).ravel()[:, None]
    lens = Lens(((1.0, 0.0, 0.0, 0.0), (0.0, 1.0, 0.0, 0.0), (0.0, 0.0, 1.0, 0.0)), 160, 160, ortho_mm=20.0)
    grid = Grid(76.0, 76.0, 8.0, 8.0, 9, 9, True)
    assert np.array_equal(lens.project(corners)[0].reshape(9, 9, 2), grid.places)
    face, depth = raster.met(lens, raster.Surface(corners, first + np.array([0, 1, 10, 9]), np.full(64, -1)), grid)
    assert (face >= 0).all()
    assert (depth == 50.0).all()
    assert face[0].tolist() == [0, 0, 1, 2, 3, 4, 5, 6, 7]  # of two that are as near the one of the smaller number


def test_nothing_is_met_beside_or_behind():
    heaped = raster.Surface(*heap(1, 20, 10.0))
    grid = Grid.over((0.0, 0.0, 9.0, 5.0), 45, 1.0)
    for view in ((*BESIDE[:2], (-1.0, 0.0, 0.0, -90.0)), ((*BESIDE[0][:3], 900.0), *BESIDE[1:])):
        face, _ = raster.met(Lens(view, 9, 5), heaped, grid)
        assert face.shape == (5, 9)
        assert (face == -1).all()
    beside = Grid.over((20.0, 0.0, 10.0, 5.0), 45, 1.0)
    assert raster.met(Lens(BESIDE, 9, 5), heaped, beside)[0].shape == (5, 0)


def test_a_card_seen_edge_on_hides_nothing():
    """It stands on the diagonal of the picture, through the middles of pixels."""
    upright = np.array([[-5.0, -5.0, 40.0], [5.0, 5.0, 40.0], [5.0, 5.0, 60.0], [-5.0, -5.0, 60.0]])
    behind = np.array([[-90.0, -90.0, 70.0], [90.0, -90.0, 70.0], [90.0, 90.0, 70.0], [-90.0, 90.0, 70.0]])
    cards = raster.Surface(np.concatenate([upright, behind]), np.arange(8).reshape(2, 4), np.full(2, -1))
    lens = Lens(((1.0, 0.0, 0.0, 0.0), (0.0, 1.0, 0.0, 0.0), (0.0, 0.0, 1.0, 0.0)), 16, 16, ortho_mm=16.0)
    edges, _ = raster._planes(lens.homogeneous(upright)[..., None])
    assert (edges[..., 0] @ (8.5, 8.5, 1.0)).min() < 0.0
    face, depth = raster.met(lens, cards, Grid.over((0.0, 0.0, 16.0, 16.0), 256, 1.0))
    assert (face == 1).all()
    assert (depth == 70.0).all()
