"""The joints picture, read back as XML and looked at through rays."""

import re
from itertools import pairwise, product
from xml.etree import ElementTree

import numpy as np
import pytest

from addon.core.build.contacts import contacts
from addon.core.pictures import picture, sheet, tinting
from addon.core.wear import cielab
from tests.core.builds import block, table, wall

SVG = "{http://www.w3.org/2000/svg}"
BRICK = block(4, 2, 3)


def drawn(bricks, title="build") -> ElementTree.Element:
    return ElementTree.fromstring(picture.joints(title, bricks, contacts(bricks)))


def texts(root) -> list[str]:
    return [each.text for each in root.iter(f"{SVG}text")]


def views(root) -> list[ElementTree.Element]:
    return root.findall(f"{SVG}g")


def bricks_in(view) -> list[ElementTree.Element]:
    return view.findall(f"{SVG}g")


def joints_in(view) -> list[ElementTree.Element]:
    return view.findall(f"{SVG}circle")


def test_every_brick_is_drawn_in_both_views_under_its_name():
    root = drawn(wall())
    assert len(views(root)) == 2
    for view in views(root):
        names = {group.find(f"{SVG}title").text for group in bricks_in(view)}
        assert names == {f"part.{n:04d}" for n in range(31)}
        assert all(len(group.findall(f"{SVG}path")) == 3 for group in bricks_in(view))


def test_equal_builds_give_equal_text():
    first, second = wall(), wall()
    assert picture.joints("a", first, contacts(first)) == picture.joints("a", second, contacts(second))


def test_joints_are_told_by_their_studs():
    """On one brick of 4 x 2 studs: one over one stud of it, one over two, one over all eight of another."""
    placed = [
        (BRICK, (0.0, 0.0, 0.0)),
        (block(1, 1, 3), (0.0, 0.0, 9.6)),
        (block(2, 1, 3), (16.0, 0.0, 9.6)),
        (BRICK, (100.0, 0.0, 0.0)),
        (BRICK, (100.0, 0.0, 9.6)),
    ]
    root = drawn(table(placed))
    for words in ("1 stud: 1", "2 studs: 1", "3 or 4: 0", "5 to 8: 1", "9 or more: 0"):
        assert words in texts(root)
    assert "5 bricks, 3 joints" in texts(root)
    colours = {colour: radius for _, _, colour, radius in picture.SCALE}
    shown = [dot.get("fill") for dot in joints_in(views(root)[0])]
    assert sorted(shown) == sorted(picture.SCALE[n][2] for n in (0, 1, 3))
    sizes = {dot.get("fill"): float(dot.get("r")) for dot in joints_in(views(root)[0])}
    assert sorted(sizes, key=sizes.get) == sorted(sizes, key=colours.get)


def test_a_joint_is_a_pair_of_bricks():
    root = drawn(table([(BRICK, (0.0, 0.0, 0.0)), (BRICK, (32.0, 0.0, 0.0)), (BRICK, (16.0, 0.0, 9.6))]))
    assert "3 bricks, 2 joints" in texts(root)
    assert "3 or 4: 2" in texts(root)


def test_bricks_that_nothing_holds_are_hatched():
    root = drawn(table([(BRICK, (0.0, 0.0, 0.0)), (BRICK, (0.0, 0.0, 96.0))]))
    assert "held by nothing: 1" in texts(root)
    for view in views(root):
        hatched = [group for group in bricks_in(view) if "loose" in group.get("class")]
        assert [group.find(f"{SVG}title").text for group in hatched] == ["part.0001"]


def test_joints_that_no_view_shows_are_counted():
    """A brick of one stud in the middle of eight others, under a lid, is seen from nowhere."""
    one = block(1, 1, 3)
    ring = [(one, (8.0 * x, 8.0 * y, 9.6)) for x, y in product(range(3), repeat=2)]
    bricks = table([(block(3, 3, 3), (0.0, 0.0, 0.0)), *ring])
    root = drawn(bricks)
    dots = [len(joints_in(view)) for view in views(root)]
    assert dots == [5, 5]  # three of each outer row, the corner being in both
    assert "1 out of sight" in texts(root)  # the corners at the sides are in both views


def test_words_of_the_artist_are_safe():
    bricks = table([(BRICK, (0.0, 0.0, 0.0))])
    root = drawn(bricks, 'a <b> & "c"\n\x00\ud800')
    assert texts(root)[0].startswith('a <b> & "c"')


def test_colours_darken_step_by_step():
    """Relative luminance as WCAG 2.2 defines it: an order that any colour vision and a grey print keep."""

    def luminance(colour: str) -> float:
        parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    values = [luminance(colour) for _, _, colour, _ in picture.SCALE]
    assert all((above + 0.05) / (below + 0.05) > 1.4 for above, below in pairwise(values))
    radii = [radius for *_, radius in picture.SCALE]
    assert radii == sorted(radii)


def first_hit(low, high, start, ray) -> int:
    """The box that a ray from far away meets first, -1 for none: slabs (Kay, Kajiya 1986)."""
    ends = np.stack([(low - start) / ray, (high - start) / ray])
    enters, leaves = ends.min(axis=0).max(axis=1), ends.max(axis=0).min(axis=1)
    hit = leaves > enters + 1e-6
    return int(np.where(hit, enters, np.inf).argmin()) if hit.any() else -1


def inside(corners: np.ndarray, point: np.ndarray) -> bool:
    edges, to = np.roll(corners, -1, axis=0) - corners, point - corners
    turn = edges[:, 0] * to[:, 1] - edges[:, 1] * to[:, 0]
    return bool((turn > 1e-9).all() or (turn < -1e-9).all())


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("corner", sheet.VIEWS)
def test_near_bricks_are_drawn_over_far_ones(seed, corner):
    """What is drawn last at a place of the paper is what a ray from the eye meets first there."""
    random = np.random.default_rng(seed)
    kinds = [block(x, y, z) for x, y, z in ((1, 1, 1), (4, 2, 3), (2, 4, 1), (2, 2, 3), (1, 1, 6))]
    ground, placed = np.zeros((12, 12)), []
    for _ in range(150):  # dropped from above
        kind = kinds[random.integers(len(kinds))]
        studs, (x, y) = np.rint(kind.vertices[:8].max(axis=0) / (8.0, 8.0, 3.2)).astype(int), random.integers(0, 9, 2)
        under = np.s_[x : x + studs[0], y : y + studs[1]]
        placed.append((kind, (8.0 * x, 8.0 * y, 3.2 * ground[under].max())))
        ground[under] = ground[under].max() + studs[2]
    bricks = table(placed)
    pieces, view = bricks.pieces(), sheet.View.of(corner)
    order = picture.far_first(view, pieces)
    assert sorted(order) == list(range(len(placed)))
    faces = [corners for _, corners in picture.faces(view, pieces)]
    outlines = {n: [view.seen(face[n]) for face in faces] for n in order}
    eye = pieces.centre.mean(axis=0) + 1000.0 * view.toward
    right = np.array([-view.toward[1], view.toward[0], 0.0])
    down = np.cross(right, view.toward)
    met = 0
    for across, along in random.uniform(-60.0, 60.0, (150, 2)):
        start = eye + across * right + along * down
        expected = first_hit(pieces.low, pieces.high, start, -view.toward)
        point = view.seen(start)
        last = next((n for n in reversed(order) if any(inside(o, point) for o in outlines[n])), -1)
        assert last == expected
        met += expected >= 0
    assert met > 40


def test_paths_are_finite_and_on_the_paper():
    root = drawn(wall())
    width, height = map(float, root.get("viewBox").split()[2:])
    numbers = [
        [float(word) for word in re.findall(r"-?[\d.]+", path.get("d"))]
        for view in views(root)
        for path in view.iter(f"{SVG}path")
    ]
    places = np.array(numbers).reshape(-1, 2)
    assert (places >= 0).all()
    assert (places <= (width, height)).all()


def test_bricks_that_cover_each_other_in_a_ring_are_drawn_all_the_same():
    """Three long bars, each over the end of the next: no order of whole bars is right."""
    bar = [block(6, 1, 1), block(1, 6, 1), block(1, 1, 15)]
    bricks = table([(bar[0], (0.0, 8.0, 0.0)), (bar[1], (0.0, 0.0, 44.8)), (bar[2], (40.0, 0.0, 0.0))])
    for view in views(drawn(bricks)):
        assert len(bricks_in(view)) == 3
    assert sorted(picture._sorted([0, 1, 2, 2], [1, 2, 0, 3], [0.0, 1.0, 2.0, -1.0])) == [0, 1, 2, 3]
    assert picture._sorted([0, 1, 2, 2], [1, 2, 0, 3], [0.0, 1.0, 2.0, -1.0])[-1] != 2


def test_bricks_that_touch_have_colours_that_an_eye_tells_apart():
    """CIEDE2000, as its authors' own values hold it (test_cielab.py): 1 is just seen side by side."""
    bricks = wall(courses=8, length=6)
    met, root = contacts(bricks), drawn(bricks)
    groups = {group.find(f"{SVG}title").text: group.get("class") for group in bricks_in(views(root)[0])}
    number = [int(re.search(r"c(\d+)", groups[name]).group(1)) for name in bricks.names]
    for side in tinting.SHADES:
        colours = [_lab(colour) for colour in tinting.palette()[side]]
        assert (
            min(cielab.difference(colours[number[a]], colours[number[b]]) for a, b in zip(met.a, met.b, strict=True))
            > 8
        )
    assert len(set(number)) == tinting.COUNT


def _lab(colour: str) -> np.ndarray:
    return cielab.lab(cielab.decoded(np.array([int(colour[n : n + 2], 16) for n in (1, 3, 5)]) / 255.0))
