"""What a look sees of large builds, beside a look through every pixel, which `test_raster` holds to rays one by one."""

import numpy as np
import pytest

from addon.core.build.bricks import Bricks
from addon.core.shots import sight
from addon.core.shots.lens import Lens
from addon.core.shots.reading import ENOUGH, View
from tests.core.builds import block, table


def wall(courses: int, length: int) -> Bricks:
    """One stud thick, of bricks one and two studs long."""
    kinds = block(1, 1, 3), block(2, 1, 3)
    return table(
        [(kinds[(n + course) % 2], (12.0 * n, 0.0, 9.6 * course)) for course in range(courses) for n in range(length)]
    )


def heaps(count: int) -> Bricks:
    """Small things, one or two high, some of them before others."""
    kinds = block(1, 1, 3), block(1, 1, 1)
    side = np.arange(count)
    return table([(kinds[(x * y) % 2], (24.0 * x + 8.0 * (y % 2), 24.0 * y, 0.0)) for x in side for y in side])


def before(bricks: Bricks, way: tuple[float, float, float], **more) -> Lens:
    """From where all of a build is in the frame, wherever that lies."""
    low, high = bricks.low.min(axis=0), bricks.high.max(axis=0)
    away = np.array(way) / np.linalg.norm(way) * 1.4 * np.linalg.norm(high - low)
    ahead = -away / np.linalg.norm(away)
    right = np.cross(ahead, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    view = np.stack([right, np.cross(right, ahead), ahead])
    rows = np.column_stack([view, -view @ (0.5 * (low + high) + away)]).tolist()
    return Lens((tuple(rows[0]), tuple(rows[1]), tuple(rows[2])), 1280, 720, near_mm=1.0, **more)


def every_pixel(bricks: Bricks, lens: Lens, monkeypatch) -> View:
    with monkeypatch.context() as patch:
        patch.setattr(sight, "_MET", 1e9)
        patch.setattr(sight, "_MOST", 1e9)
        return sight.Sight(bricks).view(1, lens)


@pytest.mark.parametrize("way", [(0.5, -0.7, 0.6), (0.02, -1.0, 0.1)])
@pytest.mark.parametrize("build", [wall(12, 60), heaps(40)], ids=["wall", "heaps"])
def test_a_wide_shot_sees_what_holds_98_of_100_pixels_and_tells_the_rest(build, way, monkeypatch):
    lens = before(build, way)
    whole = every_pixel(build, lens, monkeypatch)
    for met in (2_000, 6_000):
        monkeypatch.setattr(sight, "_MET", met)
        told = sight.Sight(build).view(1, lens)
        missed = 1.0 - np.isin(whole.brick, told.seen).mean()
        assert told.samples < 0.9 * whole.samples
        assert missed <= min(ENOUGH, told.missed + 0.003)


def test_a_look_that_misses_bricks_is_followed_by_a_closer_one_within_bounds(monkeypatch):
    build = heaps(40)
    lens = before(build, (0.5, -0.7, 0.6))
    monkeypatch.setattr(sight, "_MET", 1_000)
    assert sight.Sight(build).view(1, lens).missed <= ENOUGH
    monkeypatch.setattr(sight, "_MOST", 2_000)
    bounded = sight.Sight(build).view(1, lens)
    assert bounded.samples <= 2_000
    assert bounded.missed > ENOUGH


def test_a_thin_build_across_the_frame_is_looked_at_as_closely_as_a_full_one(monkeypatch):
    """A long wall from above its corner takes up a few of a hundred pixels of the rectangle that it spans."""
    monkeypatch.setattr(sight, "_MET", 6_000)
    build = wall(2, 300)
    found = sight.Sight(build).view(1, before(build, (0.7, -0.7, 0.7)))
    assert 3_000 < len(found.brick) < 9_000
    assert found.samples > 5 * len(found.brick)


def test_what_stands_in_front_or_nearer_than_the_clipping_is_not_seen():
    """By hand: a card before the left half of a row; then the camera clips all but the far half of one brick."""
    build = table([(block(2, 1, 3), (16.0 * n, 0.0, 0.0)) for n in range(4)])
    lens = before(build, (0.0, -1.0, 0.0), ortho_mm=80.0)
    card = np.array([[-5.0, -9.0, -5.0], [32.0, -9.0, -5.0], [32.0, -9.0, 20.0], [-5.0, -9.0, 20.0]])
    covered = sight.Sight(build, (card, np.array([[0, 1, 2], [0, 2, 3]])))
    assert sight.Sight(build).view(1, lens).seen.tolist() == [0, 1, 2, 3]
    assert covered.view(1, lens).seen.tolist() == [2, 3]
    place = sight.Sight(build).view(1, before(build, (0.0, -1.0, 0.0), ortho_mm=80.0)).place
    front = place[:, 1].min()
    _, depth = lens.project(np.array([[0.0, front + 4.0, 0.0]]))
    opened = before(build, (0.0, -1.0, 0.0), ortho_mm=80.0)
    cut = sight.Sight(build).view(1, Lens(opened.view, 1280, 720, ortho_mm=80.0, near_mm=float(depth[0])))
    assert cut.place[:, 1].min() > front + 4.0 - 1e-6  # its inside, up to the back
    assert cut.place[:, 1].max() == pytest.approx(front + 8.0)
