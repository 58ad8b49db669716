"""Which things are bricks: by studs, by the sizes of the lattice, by what holds them.

Sizes: common practice, no published source. Shapes that are no bricks are made of their formulas here.
"""

import numpy as np
import pytest

from addon.core import rigid
from addon.core.build import belonging
from addon.core.build.belonging import IN, OUT, UNSAID
from addon.core.build.lattice import Lattice
from addon.core.parts.likeness import SHEET, SIZED, SOLID, STUDDED, likeness
from addon.core.parts.parts import measured
from tests.core.builds import Mesh, block, table

IN_MM = Lattice(1.0, 2, 1, 1.0)
GUESSED = Lattice(7.3, 2, 1, 1.0)


def box(x: float, y: float, z: float) -> Mesh:
    """A box with its corner at the origin."""
    plain = block(1, 1, 1, studded=False)
    return Mesh(plain.vertices / (8.0, 8.0, 3.2) * (x, y, z), plain.triangles)


def ball(diameter: float, rings: int = 16) -> Mesh:
    """A ball that lies on z = 0."""
    along, around = np.meshgrid(
        np.pi * np.arange(1, rings) / rings, np.pi * np.arange(2 * rings) / rings, indexing="ij"
    )
    ring = np.stack([np.sin(along) * np.cos(around), np.sin(along) * np.sin(around), np.cos(along)], axis=-1)
    points = np.concatenate([ring.reshape(-1, 3), [[0, 0, 1], [0, 0, -1]]])
    return Mesh(0.5 * diameter * (points + np.array([0, 0, 1])), _grid(rings - 1, 2 * rings))


def tube(diameter: float, points: np.ndarray, sides: int = 16) -> Mesh:
    """A closed tube along points (P, 3) that go upwards or sideways."""
    angle = 2 * np.pi * np.arange(sides) / sides
    along = np.gradient(points, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    side = np.cross(along, [0.3, 1.0, 0.1])
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    ring = np.cos(angle)[:, None] * side[:, None] + np.sin(angle)[:, None] * np.cross(along, side)[:, None]
    rings = points[:, None] + 0.5 * diameter * ring
    return Mesh(np.concatenate([rings.reshape(-1, 3), points[[0, -1]]]), _grid(len(points), sides))


def _grid(rings: int, sides: int) -> np.ndarray:
    """Triangles over rings of vertices, closed by the two vertices that follow them."""

    def at(ring, side):
        return ring * sides + side % sides

    first, last = rings * sides, rings * sides + 1
    found = []
    for side in range(sides):
        for ring in range(rings - 1):
            a, b, c, d = at(ring, side), at(ring, side + 1), at(ring + 1, side + 1), at(ring + 1, side)
            found += [(a, d, c), (a, c, b)]
        found += [(first, at(0, side), at(0, side + 1)), (last, at(rings - 1, side + 1), at(rings - 1, side))]
    return np.array(found)


def cloth(x: float, y: float, wave: float, steps: int = 20) -> Mesh:
    """A sheet in waves, without thickness."""
    u, v = np.meshgrid(np.linspace(0, 1, steps), np.linspace(0, 1, steps), indexing="ij")
    points = np.stack([x * u, y * v, wave * (1 + np.sin(9 * u + 4 * v))], axis=-1).reshape(-1, 3)
    n = np.arange(steps * steps).reshape(steps, steps)
    a, b, c, d = (each.ravel() for each in (n[:-1, :-1], n[1:, :-1], n[1:, 1:], n[:-1, 1:]))
    return Mesh(points, np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)]))


def figure(height: float = 90.0) -> Mesh:
    """A body, a head, two arms and two legs, smooth."""
    limbs = [
        ball(0.22 * height), tube(0.2 * height, np.linspace((0, 0, 0), (0, 0, 0.4 * height), 5)),
        *(tube(0.07 * height, np.linspace((0, 0, 0), (s * 0.25 * height, 0, -0.2 * height), 5)) for s in (-1, 1)),
        *(tube(0.09 * height, np.linspace((0, 0, 0), (s * 0.04 * height, 0, -0.37 * height), 5)) for s in (-1, 1)),
    ]  # fmt: skip
    places = np.array([0.78, 0.38, 0.72, 0.72, 0.38, 0.38]) * height
    count = np.cumsum([0, *(len(limb.vertices) for limb in limbs)])
    return Mesh(
        np.concatenate([limb.vertices + np.array([0, 0, z]) for limb, z in zip(limbs, places, strict=True)]),
        np.concatenate([limb.triangles + start for limb, start in zip(limbs, count, strict=False)]),
    )


def turned(mesh: Mesh, *angles: float) -> Mesh:
    return Mesh(mesh.vertices @ rigid.rotation(np.array([angles]))[0].T, mesh.triangles)


def tapered(height: float, foot: float, top: float) -> Mesh:
    angle = 2 * np.pi * np.arange(24) / 24
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    points = [np.column_stack([radius * ring, np.full(24, z)]) for radius, z in ((foot, 0.0), (top, height))]
    return Mesh(np.concatenate([*points, [[0, 0, 0], [0, 0, height]]]), _grid(2, 24)[:, ::-1])


def slope() -> Mesh:
    """Two studs wide and deep, a brick high, cut off to a slope; no stud on it."""
    plain = box(16.0, 16.0, 9.6)
    away = (plain.vertices[:, 1] < 1) & (plain.vertices[:, 2] > 1)
    return Mesh(np.where(away[:, None], plain.vertices * (1, 1, 0.2), plain.vertices), plain.triangles)


def cone() -> Mesh:
    """A round part with a stud, one stud wide: wider at its foot than at its top."""
    rings = [(3.9, 0.0), (3.9, 2.0), (2.5, 9.6), (2.4, 9.6), (2.4, 11.4)]
    angle = 2 * np.pi * np.arange(24) / 24
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    points = np.concatenate([np.column_stack([r * ring, np.full(24, z)]) for r, z in rings])
    return Mesh(np.concatenate([points, [[0, 0, 0], [0, 0, 11.4]]]), _grid(5, 24)[:, ::-1])


def like(mesh: Mesh) -> int:
    return likeness(mesh.vertices, mesh.triangles, measured(mesh.vertices, mesh.triangles))


def bricks(placed, word=None, found: Lattice = IN_MM, is_known: bool = False) -> list[bool]:
    things = table(placed)
    kind = np.array([like(mesh) for mesh, _ in placed])
    word = np.full(len(placed), UNSAID) if word is None else word
    return belonging.belonging(things, kind, word, found, is_known).tolist()


WALL = [(block(4, 2, 3), (32.0 * n, 0.0, 9.6 * course)) for course in range(3) for n in range(3)]


def beside(mesh: Mesh, at=(150.0, 60.0, 0.0)) -> bool:
    """Whether a thing that stands beside a wall of bricks is one of them."""
    *wall, thing = bricks([*WALL, (mesh, at)])
    assert all(wall)
    return thing


@pytest.mark.parametrize(
    ("mesh", "kind"),
    [
        (block(4, 2, 3), STUDDED),
        (block(1, 1, 1), STUDDED),
        (block(4, 2, 3, clearance=0.1), STUDDED),
        (cone(), STUDDED),
        (tapered(200.0, 6.0, 4.8), SOLID),  # 1.6 mm more than whole plates, and too wide for a stud
        (block(2, 2, 1, studded=False), SIZED),
        (slope(), SIZED),
        (turned(block(4, 2, 3), 0.4, 0.2, 1.1), STUDDED),  # a brick whose turn went into its mesh
        (turned(block(4, 1, 1, studded=False, clearance=0.1), 0.7, 0.1, 0.3), SIZED),
        (turned(block(2, 4, 1), np.pi / 2, 0.0, 0.0), STUDDED),
        (ball(40.0), SOLID),
        (ball(16.0), SOLID),  # two studs wide and five plates high, and yet no brick
        (ball(50.0), SOLID),  # 2 mm more than whole plates: the height of a stud
        (figure(), SOLID),
        (cloth(60.0, 40.0, 3.0), SHEET),
        (box(320.0, 240.0, 16.0), SOLID),  # a table's top, of whole studs and plates by its size
        (box(50.0, 50.0, 200.0), SOLID),
        (tube(5.0, np.linspace((0, 0, 0), (300.0, 40.0, 9.0), 40)), SOLID),
    ],
)
def test_what_a_mesh_is_like(mesh, kind):
    assert like(mesh) == kind


@pytest.mark.parametrize(
    "thing",
    [ball(40.0), ball(32.0), figure(), cloth(90.0, 60.0, 3.0), box(45.0, 45.0, 300.0), box(300.0, 300.0, 18.0)],
    ids=["ball", "ball of whole studs", "figure", "cloth", "table leg", "ground"],
)
def test_what_stands_beside_the_build_is_no_brick(thing):
    assert not beside(thing)


def test_a_table_on_which_the_build_stands_is_no_brick():
    assert not beside(box(320.0, 240.0, 16.0), (-100.0, -100.0, -16.0))


def test_what_lies_about_beside_the_build_is_a_brick_where_it_has_studs_or_is_a_part_of_it():
    assert beside(turned(block(4, 2, 3), 0.3, 1.2, 0.2))
    assert beside(turned(block(2, 1, 1, studded=False), 0.3, 1.2, 0.2))


def bar(length: float = 30.0) -> Mesh:
    return tube(3.2, np.linspace((0.0, 0.0, 0.0), (0.0, 0.0, length), 4))


def test_a_bar_that_a_brick_holds_is_a_brick_and_so_is_its_twin_on_the_ground():
    stuck, lying = (bar(), (20.0, 8.0, 24.0)), (turned(bar(), 0.0, 0.0, 0.0), (180.0, 8.0, 0.0))
    assert bricks([*WALL, stuck])[-1]
    assert not bricks([*WALL, lying])[-1]
    same = stuck[0]
    assert bricks([*WALL, stuck, (same, (180.0, 8.0, 0.0))])[-2:] == [True, True]


def test_what_a_held_thing_holds_is_a_brick_too():
    knob = ball(9.0)
    assert bricks([*WALL, (bar(), (20.0, 8.0, 24.0)), (knob, (20.0, 8.0, 50.0))])[-2:] == [True, True]
    assert bricks([*WALL, (bar(), (220.0, 8.0, 0.0)), (knob, (220.0, 8.0, 26.0))])[-2:] == [False, False]


def test_a_pole_that_touches_the_build_is_none_and_neither_is_a_cloth_over_it():
    assert not beside(bar(400.0), (20.0, 8.0, 20.0))
    assert not beside(cloth(90.0, 20.0, 3.0), (0.0, 0.0, 28.0))


def test_a_smooth_thing_that_studs_hold_is_a_brick_whatever_its_size():
    assert beside(box(70.0, 14.0, 5.0), (1.0, 1.0, 28.8))
    assert not beside(box(70.0, 14.0, 5.0), (1.0, 1.0, 60.0))


def test_the_artists_word_goes_before_all():
    placed = [*WALL, (ball(40.0), (150.0, 60.0, 0.0))]
    word = np.full(len(placed), UNSAID)
    word[-1], word[0] = IN, OUT
    assert bricks(placed, word) == [False] + [True] * len(WALL)


def test_a_build_without_any_stud_is_told_by_its_sizes():
    smooth = [(block(4, 2, 3, studded=False), at) for _, at in WALL]
    assert all(bricks(smooth))
    assert all(bricks([*smooth[:3], (ball(30.0), (200.0, 0.0, 0.0))])[:3])


def test_one_brick_is_a_build():
    assert bricks(WALL[:1]) == [True]
    assert bricks([(block(2, 2, 3, studded=False), (0.0, 0.0, 0.0))]) == [True]


def test_one_box_at_a_scale_that_was_read_off_it_is_none():
    assert bricks([(box(16.0, 16.0, 16.0), (0.0, 0.0, 0.0))], found=GUESSED) == [False]


@pytest.mark.parametrize("thing", [ball(40.0), figure(), bar(), cloth(60.0, 60.0, 4.0), box(50.0, 30.0, 20.0)])
def test_a_file_of_other_things_is_no_build(thing):
    assert bricks([(thing, (60.0 * n, 0.0, 0.0)) for n in range(5)]) == [False] * 5


def test_the_order_of_the_things_does_not_matter():
    placed = [*WALL, (ball(40.0), (150.0, 60.0, 0.0)), (bar(), (20.0, 8.0, 24.0)), (figure(), (-60.0, 0.0, 0.0))]
    told = bricks(placed)
    assert bricks(placed[::-1]) == told[::-1]


def test_what_was_a_build_once_stays_one_as_long_as_a_brick_is_left_of_it():
    """Of two tiles and eight balls nobody could say that it is a build, but for having known it."""
    placed = [
        *((block(2, 2, 1, studded=False), (20.0 * n, 0.0, 0.0)) for n in range(2)),
        *((ball(30.0), (40.0 * n, 90.0, 0.0)) for n in range(8)),
    ]
    assert not any(bricks(placed, found=GUESSED))
    assert bricks(placed, found=GUESSED, is_known=True) == [True] * 2 + [False] * 8
    assert not any(bricks(placed[2:], found=GUESSED, is_known=True))
