"""Which shells make which brick: loose studs, tubes, marks and prints go to the brick that they stand on or lie in.

A shell of an export may be a whole brick or a piece of one, and an object may hold one brick or hundreds. What a piece
is cannot be told before the scale is known, nor the scale while pieces pass for bricks: each scale at which round
shells would be studs is tried, and the lattice decides.
Sizes: common practice of the trade, no published source.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..build import lattice
from ..build.boxes import Boxes
from ..build.lattice import Lattice
from ..sizes import MET, TRADE
from . import footings, nesting, studs, surface, unions
from .heap import NEAR, ON, TOUCH, Shells, on_surfaces
from .shells import connected

MOST_SHELLS = 250_000  # that are put together: as many as a large build has loose studs and tubes
MOST_BRICKS = 50_000  # that are made out of joined meshes
THIN = 0.35  # prints and raised marks

_ROUND = 0.03  # of its width: what a round shell's two widths differ by
_ALIKE = 1e-3  # of the volume and the area of shells that are one part
_SHAPES_SEEN, _CORNERS_SEEN = 300, 150_000  # of shells that may have studs of their own, and of each
_MOST_TIED = 32  # bricks without studs that others tie to one part: sleepers of a track
_BY_CHANCE = 0.5  # of open surfaces so many may stand as bricks would
_PLAINLY = 0.75  # of the shells stand as bricks by the file's own unit: it need not be doubted


@dataclass(frozen=True)
class Assembly:
    """`home` (S,): the shell that is the body of each one's brick; the lattice of the bodies; and whether
    they are too many to be taken apart."""

    home: np.ndarray
    lattice: Lattice
    too_many: bool = False


def assembled(shells: Shells, expected_mm: float, up: int) -> Assembly:
    """What belongs together; `expected_mm` per unit and upright axis `up` are the file format's own."""
    if len(shells) > MOST_SHELLS:
        return _as_they_are(shells, expected_mm, up)
    home, found = _with_studs(shells, expected_mm, up)
    if found.share_on_lattice <= (0.0 if 2 * shells.closed.sum() > len(shells) else _BY_CHANCE):
        return Assembly(_objects(shells), lattice.none(expected_mm, up))
    mm = found.mm_per_unit
    is_brick = _bricklike(shells, home, mm)
    near = shells.near(mm, home == np.arange(len(home)))
    home = _with_unions(shells, home, is_brick, near, mm)
    home = _with_inserts(shells, home, is_brick, near, mm)
    home = _with_marks(shells, home, mm)
    is_brick &= home == np.arange(len(home))
    home = _within_objects(shells, home, is_brick, mm)
    home = _within_families(shells, home, is_brick)
    home = _resolved(home)
    if (home == np.arange(len(home))).sum() - len(shells.family) > MOST_BRICKS:
        return _as_they_are(shells, expected_mm, up)
    return Assembly(home, found)


def _as_they_are(shells: Shells, expected_mm: float, up: int) -> Assembly:
    """What is too much to take apart."""
    home = _objects(shells)
    several = len(shells.family) > 1
    found = lattice.find(_wholes(shells.boxes, home), expected_mm, up) if several else lattice.none(expected_mm, up)
    return Assembly(home, found, too_many=True)


def _objects(shells: Shells) -> np.ndarray:
    """Every object in one piece: its largest shell is the body."""
    return _largest(shells, np.arange(len(shells)), shells.thing)


def _largest(shells: Shells, chosen: np.ndarray, group: np.ndarray) -> np.ndarray:
    """For each chosen shell the largest one of its group."""
    order = np.lexsort((-_box_volume(shells.boxes)[chosen], group[chosen]))
    first = np.r_[True, np.diff(group[chosen][order]) != 0]
    leader = chosen[order][np.maximum.accumulate(np.where(first, np.arange(len(order)), 0))]
    found = np.empty(len(chosen), dtype=np.intp)
    found[order] = leader
    return found


def _box_volume(boxes: Boxes) -> np.ndarray:
    return (boxes.high - boxes.low).prod(axis=1)


def _resolved(home: np.ndarray) -> np.ndarray:
    """Homes of homes: a mark on a stud belongs to the stud's brick."""
    while (home[home] != home).any():
        home = home[home]
    return home


# ---------- studs, and with them the scale


def _with_studs(shells: Shells, expected_mm: float, up: int) -> tuple[np.ndarray, Lattice]:
    alone = np.arange(len(shells))
    scales, plainly = list(_scales(shells.own_size, expected_mm)), None
    if expected_mm not in scales:  # nothing would be a stud: mostly, all are fused
        rows = _in_rows(shells, alone, expected_mm)
        plainly = lattice.find(_outermost(shells.boxes, rows, 1.0), expected_mm, up)
        if plainly.mm_per_unit == expected_mm and plainly.share_on_lattice >= _PLAINLY:
            return alone, plainly
    for mm in scales:
        home = footings.standing(shells, mm)
        if (home != alone).any():
            found = lattice.find(_outermost(shells.boxes, _in_rows(shells, home, mm), mm), expected_mm, up)
            if found.share_on_lattice and abs(found.mm_per_unit / mm - 1) < 0.1:
                return home, found
    found = plainly or lattice.find(_outermost(shells.boxes, alone, 1.0), expected_mm, up)
    if found.mm_per_unit != expected_mm and len(shells.family) > 1:
        plain = lattice.find(_wholes(shells.boxes, _objects(shells)), expected_mm, up)  # each object may be a brick
        if plain.mm_per_unit == expected_mm and plain.share_on_lattice >= found.share_on_lattice:
            return alone, plain
    return alone, found


def _scales(own_size: np.ndarray, expected_mm: float) -> Iterator[float]:
    """Millimetres per unit at which some shells would be studs: the file's own unit, other units, whatever fits."""
    size = np.sort(own_size, axis=1)
    low, wide = size[:, 0], size[:, 1:]
    is_round = (wide[:, 1] - wide[:, 0] <= _ROUND * wide[:, 1]) & (low > 0.25 * wide[:, 0])
    widths = wide[is_round].mean(axis=1)
    named = sorted({expected_mm, *lattice.NOMINAL_MM.values()}, key=lambda mm: mm != expected_mm)
    for mm in named:
        if MET.stud_diameter.holds(widths * mm).any():
            yield mm
    for width in lattice.commonest(widths):
        yield TRADE.stud_diameter / width


def _outermost(boxes: Boxes, home: np.ndarray, mm: float) -> Boxes:
    """The boxes of the bodies with the studs that stand on them, less what lies inside another's box."""
    whole = _wholes(boxes, home)
    inside, _ = nesting.contained(whole.low, whole.high, mm)
    outside = np.ones(len(whole), dtype=bool)
    outside[inside] = False
    return whole[outside]


def _wholes(boxes: Boxes, home: np.ndarray) -> Boxes:
    """The boxes of whole bricks, one a body, in the bodies' order."""
    low, high = boxes.low.copy(), boxes.high.copy()
    np.minimum.at(low, home, boxes.low)
    np.maximum.at(high, home, boxes.high)
    bodies = home == np.arange(len(home))
    return Boxes(low, high, np.maximum(boxes.body_low, low), np.minimum(boxes.body_high, high))[bodies]


# ---------- what else is no brick of its own


def _with_marks(shells: Shells, home: np.ndarray, mm: float) -> np.ndarray:
    """Raised marks and prints go to the shell whose face they lie on."""
    size = np.sort(shells.own_size * mm, axis=1)
    small = (size <= (MET.marked_stud_height.most, MET.stud_diameter.most, MET.stud_diameter.most)).all(axis=1)
    mark = ((size[:, 0] < THIN) | small) & _alone(home)
    if not mark.any():
        return home
    both = shells.near(mm, np.ones(len(mark), dtype=bool))
    return on_surfaces(shells, home, both[mark[both[:, 0]] & ~mark[both[:, 1]]], mm, ON)


def _alone(home: np.ndarray) -> np.ndarray:
    """(S,) which shells are bodies to which nothing else belongs."""
    return (np.bincount(home, minlength=len(home)) == 1) & (home == np.arange(len(home)))


def _in_rows(shells: Shells, home: np.ndarray, mm: float) -> np.ndarray:
    """Homes with rows of short pieces, as of a hose, at their first one: they are more than a small build's bricks, and
    none stands on the lattice."""
    loose = _alone(home) & shells.closed
    return _resolved(unions.rows(shells.boxes.low * mm, shells.boxes.high * mm, loose)[home])


def _with_unions(shells: Shells, home: np.ndarray, is_brick: np.ndarray, near: np.ndarray, mm: float) -> np.ndarray:
    """Rows of short pieces at their first one, and what is sunk in shells of its object and colour at what holds it."""
    low, high = shells.boxes.low * mm, shells.boxes.high * mm
    rows = unions.rows(low, high, (home == np.arange(len(home))) & ~is_brick & shells.closed)
    whole = _alone(rows)
    several = np.bincount(shells.thing[is_brick], minlength=len(shells.family))[shells.thing] > 1  # else it stays whole
    may = whole & several & shells.closed
    pairs = near[shells.kin(near) & may[near].all(axis=1) & (near[:, 0] < near[:, 1])]
    sunk = unions.grown(low, high, shells.volume * mm**3, is_brick, pairs, lambda n: shells.triangles(n) * mm)
    return _resolved(np.where(whole, sunk, rows)[home])


def _with_inserts(shells: Shells, home: np.ndarray, is_brick: np.ndarray, near: np.ndarray, mm: float) -> np.ndarray:
    """What lies inside a body and has no brick's size: all of the same object and, where it touches nothing of its own
    object and colour, tubes and posts of any; but for rims in tyres."""
    near = near[_alone(home)[near[:, 0]] & (home == np.arange(len(home)))[near[:, 1]]]
    inner, outer = nesting.inside(shells.boxes.low, shells.boxes.high, near)
    size = np.sort(shells.own_size * mm, axis=1)
    tube = size[:, 1] <= MET.tube_diameter  # sizes are sorted: two sides, or all three, are no wider
    right = ~is_brick[inner] & (tube[inner] | (shells.thing[inner] == shells.thing[outer]))
    at_home = np.bincount(near[shells.kin(near), 0], minlength=len(home)) > 0
    right &= shells.kin(np.stack([inner, outer], axis=1)) | ~at_home[inner]
    inner, outer = inner[right], outer[right]
    right = _truly_inside(shells, inner, outer, mm)
    rim = ~tube[inner] & shells.closed[inner] & (shells.volume[inner] > 0.0)
    rim[rim] = nesting.in_rings(shells.boxes.low, shells.boxes.high, inner[rim], outer[rim], shells.triangles)
    right &= ~rim
    inner, outer = inner[right], outer[right]
    _, number, count = np.unique(inner, return_inverse=True, return_counts=True)
    home = home.copy()
    alone = count[number] == 1
    home[inner[alone]] = outer[alone]
    if alone.all():
        return home
    return on_surfaces(shells, home, np.stack([inner, outer], axis=1)[~alone], mm, NEAR)


def _truly_inside(shells: Shells, inner: np.ndarray, outer: np.ndarray, mm: float) -> np.ndarray:
    """(P,) of which pairs the first lies in the second's box also along the axes of the second's object."""
    turn = np.abs(shells.frame[:, :3, :3])
    askew = (turn > 1e-3 * turn.max(axis=(1, 2), keepdims=True)).sum(axis=(1, 2)) > 3  # not along the file's axes
    low, high = shells.own.low[inner], shells.own.high[inner]
    for n in np.flatnonzero(askew[shells.thing[outer]] & (shells.thing[inner] != shells.thing[outer])):
        back = np.linalg.inv(shells.frame[shells.thing[outer[n]]])
        points = shells.triangles(inner[n]).reshape(-1, 3) @ back[:3, :3].T + back[:3, 3]
        low[n], high[n] = points.min(axis=0), points.max(axis=0)
    size = (shells.own.high - shells.own.low)[outer].max(axis=1) / shells.own_size[outer].max(axis=1)
    near = (TOUCH / mm * size)[:, None]
    fits = (low >= shells.own.low[outer] - near) & (high <= shells.own.high[outer] + near)
    return ~askew[shells.thing[outer]] | fits.all(axis=1)


def _bricklike(shells: Shells, home: np.ndarray, mm: float) -> np.ndarray:
    """(S,) which shells have the size of a brick, however it lies, a stud on them, or the shape of one that has."""
    boxes, brick = shells.boxes, np.zeros(len(shells), dtype=bool)
    own = Boxes(np.zeros_like(shells.own_size), shells.own_size, np.zeros_like(shells.own_size), shells.own_size)
    for axis in range(3):
        brick |= lattice.sized(boxes, axis, mm) | lattice.sized(own, axis, mm)
    brick[home[home != np.arange(len(home))]] = True
    brick &= home == np.arange(len(home))
    key = np.floor(np.log(np.maximum(np.stack([shells.volume, shells.area]), 1e-30)) / _ALIKE + 0.3141).astype(np.int64)
    _, shape = np.unique(key[0] * (key[1].max(initial=0) - key[1].min(initial=0) + 1) + key[1], return_inverse=True)
    known = np.zeros(shape.max(initial=0) + 1, dtype=bool)
    known[shape[brick]] = True
    bodies = home == np.arange(len(home))
    several = np.bincount(shells.thing[bodies], minlength=len(shells.family))[shells.thing] > 1
    unknown, first = np.unique(shape[bodies & several & ~known[shape]], return_index=True)
    examples = np.flatnonzero(bodies & several & ~known[shape])[first]
    for kind, example in zip(unknown[:_SHAPES_SEEN], examples, strict=False):
        known[kind] = _has_studs(shells, example, mm)
    return known[shape] & bodies


def _has_studs(shells: Shells, body: int, mm: float) -> bool:
    """Whether studs are part of a shell, on any side along its object's axes or the file's."""
    corners = shells.triangles(body).reshape(-1, 3) * mm
    if len(corners) > _CORNERS_SEEN:
        return False
    corners, triangles = corners - corners.mean(axis=0), np.arange(len(corners)).reshape(-1, 3)
    frame = shells.frame[shells.thing[body], :3, :3]
    own = frame / np.maximum(np.linalg.norm(frame, axis=0), 1e-30)
    return any(len(studs.standing(corners @ axes, triangles)[0]) for axes in (own, np.eye(3)))


def _within_objects(shells: Shells, home: np.ndarray, is_brick: np.ndarray, mm: float) -> np.ndarray:
    """An object of two bricks or more is all taken apart, unless what is no brick alone ties together what shows no
    stud, as rails do their sleepers. One of a single brick, or of none, stays whole where it hangs together, and one
    of none stays so where no object holds several bricks."""
    bodies = np.flatnonzero(home == np.arange(len(home)))
    bricks = np.bincount(shells.thing[bodies][is_brick[bodies]], minlength=len(shells.family))[shells.thing[bodies]]
    home = home.copy()
    none = bodies[(bricks == 0) & (bricks.max(initial=0) <= 1)]
    home[none] = _largest(shells, none, shells.thing)
    some = np.setdiff1d(bodies, none)
    low, high = shells.boxes.low[some] * mm, shells.boxes.high[some] * mm
    pairs = nesting.pairs(low, high, 2 * TOUCH)
    pairs = pairs[shells.thing[some][pairs[:, 0]] == shells.thing[some][pairs[:, 1]]]
    cluster = np.full(len(shells), -1)
    cluster[some] = connected(len(some), *pairs.T)
    one = bodies[(bricks <= 1) & (cluster[bodies] >= 0)]
    home[one] = _largest(shells, one, cluster)
    for thing in np.unique(shells.thing[bodies[bricks > 1]]):
        own = bodies[shells.thing[bodies] == thing]
        if np.ptp(cluster[own]) == 0 and _tied(shells, home, own, is_brick[own], mm):
            home[own] = _largest(shells, own, cluster)
    return home


def _tied(shells: Shells, home: np.ndarray, own: np.ndarray, is_brick: np.ndarray, mm: float) -> bool:
    """Whether of bodies (N,) that hang together the bricks have no studs and touch none of each other."""
    bricks = own[is_brick]
    if is_brick.all() or len(bricks) > _MOST_TIED or np.isin(home, bricks).sum() > len(bricks):
        return False
    if any(_has_studs(shells, body, mm) for body in bricks):
        return False
    return not any(
        (surface.distances(shells.triangles(a).reshape(-1, 3), shells.triangles(b), TOUCH / mm) * mm <= TOUCH).any()
        for n, a in enumerate(bricks) for b in bricks[n + 1 :]
    )  # fmt: skip


def _within_families(shells: Shells, home: np.ndarray, is_brick: np.ndarray) -> np.ndarray:
    """Where a single brick hangs on a node of the file, all else that hangs there and is no brick belongs to it."""
    bodies = np.flatnonzero((home == np.arange(len(home))) & (shells.family[shells.thing] >= 0))
    home = home.copy()
    family = shells.family[shells.thing]
    bricks = bodies[is_brick[bodies]]
    single = np.flatnonzero(np.bincount(family[bricks], minlength=1) == 1)
    chief = np.full(family.max(initial=0) + 1, -1)
    chief[family[bricks]] = bricks
    chief[np.setdiff1d(np.arange(len(chief)), single)] = -1
    hanging = bodies[~is_brick[bodies] & (chief[family[bodies]] >= 0)]
    home[hanging] = chief[family[hanging]]
    return home
