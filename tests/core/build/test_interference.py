import numpy as np
import pytest

from addon.core import rigid
from addon.core.build import interference
from addon.core.build.bricks import Pieces

PAIR = np.array([[0, 1]])
FIRST = np.array([0])


def boxes(centre, axes, half) -> Pieces:
    return Pieces.boxes(np.arange(2), centre, half, axes, np.zeros(2, dtype=bool))


def two_boxes(size_a, size_b, apart, turn_b=(0.0, 0.0, 0.0)):
    axes = rigid.rotation(np.array([[0.0, 0.0, 0.0], turn_b]))
    return boxes(np.array([[0.0, 0.0, 0.0], apart]), axes, 0.5 * np.array([size_a, size_b])), PAIR


def test_a_gap_and_a_cut_of_upright_boxes():
    brick = (15.8, 15.8, 9.6)
    assert interference.penetration(*two_boxes(brick, brick, (16.0, 0, 0)))[0] == pytest.approx(-0.2)
    assert interference.penetration(*two_boxes(brick, brick, (15.7, 0, 0)))[0] == pytest.approx(0.1)


@pytest.mark.parametrize(("pitch", "expected"), [(16.0, -0.1313611773558918), (15.75, 0.118638822644108)])
def test_a_turned_neighbour(pitch, expected):
    # Closed form: pitch - 7.9 - (7.9 cos 0.5 deg + 7.9 sin 0.5 deg); python-fcl 0.7 and coal 3.0 give the same.
    brick = (15.8, 15.8, 9.6)
    depth = interference.penetration(*two_boxes(brick, brick, (pitch, 0, 0), (0, 0, np.radians(0.5))))
    assert depth[0] == pytest.approx(expected, abs=1e-12)


def test_boxes_that_only_the_edges_keep_apart():
    # Two crossed square bars, each standing on its edge: their face normals do not tell them apart.
    bar = (30.0, np.sqrt(2.0), np.sqrt(2.0))
    centre = np.array([[0.0, 0, 0], [0.0, 0, 2.1]])
    on_edge = rigid.rotation(np.array([[np.pi / 4, 0.0, 0.0]]))[0]
    crossed = rigid.rotation(np.array([[0.0, 0.0, np.pi / 2]]))[0] @ on_edge
    axes = np.stack([on_edge, crossed])
    crossing = boxes(centre, axes, 0.5 * np.array([bar, bar]))
    assert interference.penetration(crossing, PAIR)[0] == pytest.approx(-0.1)
    assert interference.cuts(crossing, PAIR, np.array([[1.0, 0.0, 0.0]]), FIRST)[0] == 0.0


def test_depth_against_a_search_over_directions():
    # Independent: the depth is the least overlap of the two shadows over all directions, here a degree apart.
    rng = np.random.default_rng(5)
    directions = rng.normal(size=(20_000, 3))
    directions /= np.linalg.norm(directions, axis=1, keepdims=True)
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
    cuts = 0
    for _ in range(40):
        centre, half = rng.normal(size=(2, 3)) * 4, rng.uniform(1, 4, size=(2, 3))
        axes = rigid.rotation(rng.normal(size=(2, 3)))
        a, b = (centre[n] + (corners * half[n]) @ axes[n].T for n in (0, 1))
        along_a, along_b = directions @ a.T, directions @ b.T
        overlap = np.minimum(along_a.max(1) - along_b.min(1), along_b.max(1) - along_a.min(1)).min()
        pair = boxes(centre, axes, half)
        depth = interference.penetration(pair, PAIR)[0]
        assert interference.cuts(pair, PAIR, directions, FIRST)[0] == max(depth, 0.0)
        if overlap > 0.1:
            cuts += 1
            assert overlap - 0.08 < depth < overlap + 1e-9
        elif overlap < 0:
            assert depth < 0
    assert cuts > 5
