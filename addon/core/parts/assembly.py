"""Which shells make which brick: loose studs, tubes, marks and prints go to the brick that they stand on or lie in.

A shell of an export may be a whole brick or a piece of one, and an object may hold one brick or hundreds. What a piece
is cannot be told before the scale is known, nor the scale while pieces pass for bricks: each scale at which round
shells would be studs is tried, and the lattice decides.
Sizes: common practice of the trade, no published source.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from ..build import lattice
from ..build.boxes import Boxes
from ..build.lattice import Lattice
from ..sizes import MET, TRADE
from . import nesting, studs, surface
from .shells import connected

MOST_SHELLS = 250_000  # that are put together: as many as a large build has loose studs and tubes
MOST_BRICKS = 50_000  # that are made out of joined meshes
THIN = 0.35  # prints and raised marks

_TOUCH = 0.1  # mm between a foot and what it stands on
_ON = 0.3  # mm from a print to the face that it lies on
_ROUND = 0.03  # of its width: what a round shell's two widths differ by
_LOOKED_AT = 24  # points of a piece from which its distance to a body is taken
_NEAR = 1.0  # mm within which it is looked for
_ALIKE = 1e-3  # of the volume and the area of shells that are one part
_SHAPES_SEEN, _CORNERS_SEEN = 300, 150_000  # of shells that may have studs of their own, and of each
_MISSING_MM2 = 5.0  # of a stud's foot, nominally 18
_BY_CHANCE = 0.5  # of open surfaces so many may stand as bricks would
_PLAINLY = 0.75  # of the shells stand as bricks by the file's own unit: it need not be doubted


@dataclass(frozen=True)
class Shells:
    """S shells as they stand in the file's space and units."""

    boxes: Boxes
    own_size: np.ndarray  # (S, 3) along the axes of the object each belongs to, in the file's units
    volume: np.ndarray  # (S,)
    area: np.ndarray  # (S,)
    closed: np.ndarray  # (S,) whether there is no open edge
    facing: np.ndarray  # (S, 3) the way that all faces look on the whole, as long as the area of what is missing
    thing: np.ndarray  # (S,) the object, 0 … things - 1
    family: np.ndarray  # (things,) which objects hang on one node that holds nothing else; -1 for none
    frame: np.ndarray  # (things, 4, 4) from each object's axes to the file's space
    own: Boxes  # of the shells in their objects' axes
    triangles: Callable[[int], np.ndarray]  # the corners (T, 3, 3) of a shell

    def __len__(self) -> int:
        return len(self.thing)

    def near(self, mm: float, some: np.ndarray) -> np.ndarray:
        """Pairs (P, 2) of `some` (S,) of the shells that are near each other at a scale, each way around."""
        number = np.flatnonzero(some)
        low, high = self.boxes.low[number] * mm, self.boxes.high[number] * mm
        pairs = number[nesting.pairs(low, high, 2 * _ON)]
        return np.concatenate([pairs, pairs[:, ::-1]])


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
    home = _with_inserts(shells, home, is_brick, mm)
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
        plainly = lattice.find(_outermost(shells.boxes, alone, 1.0), expected_mm, up)
        if plainly.mm_per_unit == expected_mm and plainly.share_on_lattice >= _PLAINLY:
            return alone, plainly
    for mm in scales:
        home = _standing(shells, mm)
        if (home != alone).any():
            found = lattice.find(_outermost(shells.boxes, home, mm), expected_mm, up)
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


def _standing(shells: Shells, mm: float) -> np.ndarray:
    """Homes with every stud on the body that it stands on, at this scale."""
    low, high = shells.boxes.low * mm, shells.boxes.high * mm
    home = np.arange(len(shells))
    size = np.sort(shells.own_size * mm, axis=1)
    round_, long_ = size[:, 1:], size[:, 0]
    flat = (round_[:, 1] - round_[:, 0] <= _ROUND * round_[:, 1] + 0.05) & (long_ >= MET.marked_stud_height.least)
    stud = flat & MET.stud_diameter.holds(round_).all(axis=1)
    stud &= long_ <= MET.rooted_stud_height
    rooted = (size[:, 0] > MET.stud_diameter.least) & (size[:, 2] <= MET.rooted_stud_height)
    stud |= rooted & (np.abs(size[:, 0] - size[:, 1]) < 0.1)
    if not stud.any():
        return home
    both = _beside(shells, stud, size[:, 1] > MET.tube_diameter, mm)
    own = shells.thing[both[:, 0]] == shells.thing[both[:, 1]]
    within = (low[both[:, 0]] >= low[both[:, 1]] - _TOUCH) & (high[both[:, 0]] <= high[both[:, 1]] + _TOUCH)
    housed = np.bincount(both[own & within.all(axis=1), 0], minlength=len(home)) > 0  # a socket's wall, left by itself
    both, way = _footings(shells, both[own | ~housed[both[:, 0]]], mm)
    stands, way = both[way.any(axis=1)], way[way.any(axis=1)]
    own = shells.thing[stands[:, 0]] == shells.thing[stands[:, 1]]
    at_home = np.bincount(stands[own, 0], minlength=len(home)) > 0
    first = own | ~at_home[stands[:, 0]]
    stands, way = stands[first], way[first]
    sure = np.bincount(stands[:, 0], minlength=len(home)) == 1
    plain = sure[stands[:, 0]]
    home[stands[plain, 0]] = stands[plain, 1]
    axis, hanging = divmod(int(way[plain].sum(axis=0).argmax()), 2)
    upright = np.where(np.arange(3) == axis, 1 - 2 * hanging, 0)
    return _on_surfaces(shells, home, both[~sure[both[:, 0]]], mm, _TOUCH + 0.05, upright)


def _beside(shells: Shells, stud: np.ndarray, wide: np.ndarray, mm: float) -> np.ndarray:
    """Pairs (P, 2) of a stud and what is wide enough to stand on, near it; of a stud that stands on one of its own
    object alone, those of that object alone."""
    own = nesting.pairs_within(shells.thing, stud, wide, shells.boxes.low * mm, shells.boxes.high * mm, 2 * _ON)
    if own is None:
        own = np.zeros((0, 2), dtype=np.intp)
    kept, way = _footings(shells, own, mm)
    lost = stud & (np.bincount(kept[way.any(axis=1), 0], minlength=len(stud)) != 1)
    own = own[~lost[own[:, 0]]]
    if not lost.any():
        return own
    near = shells.near(mm, lost | wide)
    return np.concatenate([own, near[lost[near[:, 0]] & wide[near[:, 1]]]])


def _footings(shells: Shells, pairs: np.ndarray, mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Those of pairs (P, 2) of a stud and a body that may be one, and on which sides (…, 6) it stands there."""
    low, high = shells.boxes.low * mm, shells.boxes.high * mm
    middle, facing = 0.5 * (low + high), shells.facing[pairs[:, 0]] * mm**2
    away = (facing * (middle[pairs[:, 0]] - middle[pairs[:, 1]])).sum(axis=1)
    is_open = (facing * facing).sum(axis=1) > _MISSING_MM2**2
    pairs = pairs[~is_open | (away > 0.0)]  # an open stud looks away from its body, a socket's wall at its own mouth
    return pairs, _stands(low, high, pairs)


def _stands(low, high, pairs) -> np.ndarray:
    """(P, 6) of which pairs (stud, body) the stud stands on an outer face or has its root in it: on +x, -x, +y, …"""
    stud, body = pairs.T
    inside = (low[stud] >= low[body] - _TOUCH) & (high[stud] <= high[body] + _TOUCH)
    stands = []
    for axis in range(3):
        across = np.delete(inside, axis, axis=1).all(axis=1)
        is_long = (high - low)[stud, axis] > MET.marked_stud_height.most
        for foot, face, top in (
            (low[stud, axis], high[body, axis], high[stud, axis]),
            (-high[stud, axis], -low[body, axis], -low[stud, axis]),
        ):
            out = top - face
            sunk = is_long & (foot < face) & (out >= MET.marked_stud_height.least)
            on = (np.abs(foot - face) <= _TOUCH) | sunk
            stands.append(across & on & (out <= MET.marked_stud_height.most + _TOUCH))
    return np.stack(stands, axis=1)


# ---------- what else is no brick of its own


def _with_marks(shells: Shells, home: np.ndarray, mm: float) -> np.ndarray:
    """Raised marks and prints go to the shell whose face they lie on."""
    size = np.sort(shells.own_size * mm, axis=1)
    small = (size <= (MET.marked_stud_height.most, MET.stud_diameter.most, MET.stud_diameter.most)).all(axis=1)
    mark = ((size[:, 0] < THIN) | small) & (home == np.arange(len(home)))
    if not mark.any():
        return home
    both = shells.near(mm, np.ones(len(mark), dtype=bool))
    return _on_surfaces(shells, home, both[mark[both[:, 0]] & ~mark[both[:, 1]]], mm, _ON)


def _with_inserts(shells: Shells, home: np.ndarray, is_brick: np.ndarray, mm: float) -> np.ndarray:
    """What lies inside a body and has no brick's size: tubes and posts of any object, all else of the same one, but for
    rims in tyres."""
    bodies = home == np.arange(len(home))
    inner, outer = nesting.inside(shells.boxes.low, shells.boxes.high, shells.near(mm, bodies))
    size = np.sort(shells.own_size * mm, axis=1)
    tube = size[:, 1] <= MET.tube_diameter  # sizes are sorted: two sides, or all three, are no wider
    right = ~is_brick[inner] & (tube[inner] | (shells.thing[inner] == shells.thing[outer]))
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
    return _on_surfaces(shells, home, np.stack([inner, outer], axis=1)[~alone], mm, _NEAR)


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
    near = (_TOUCH / mm * size)[:, None]
    fits = (low >= shells.own.low[outer] - near) & (high <= shells.own.high[outer] + near)
    return ~askew[shells.thing[outer]] | fits.all(axis=1)


def _on_surfaces(
    shells: Shells, home: np.ndarray, pairs: np.ndarray, mm: float, most: float, upright: np.ndarray | None = None
) -> np.ndarray:
    """Homes with the first of each pair at the second whose surface it touches best, if nearer than `most` mm.

    Of two that it touches alike it is the one from which it points `upright` (3,).
    """
    home = home.copy()
    order = np.lexsort((pairs[:, 1], pairs[:, 0]))
    middle = shells.boxes.low + shells.boxes.high
    for same in np.split(pairs[order], np.flatnonzero(np.diff(pairs[order][:, 0])) + 1) if len(pairs) else ():
        piece, bodies = same[0, 0], same[:, 1]
        points = np.unique(shells.triangles(piece).reshape(-1, 3), axis=0)
        points = points[np.linspace(0, len(points) - 1, min(len(points), _LOOKED_AT)).astype(int)]
        far = np.stack([surface.distances(points, shells.triangles(body), _NEAR / mm) * mm for body in bodies])
        stands = np.zeros(len(bodies)) if upright is None else (middle[piece] - middle[bodies]) @ upright
        touching = (far <= _TOUCH).sum(axis=1)
        best = np.lexsort((far.mean(axis=1), stands <= 0, touching < touching.max() - len(points) // 8))[0]
        if np.quantile(far[best], 0.25, method="lower") <= most:
            home[piece] = bodies[best]
    return home


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
    """An object of two bricks or more is all taken apart; one of a single brick stays whole where it hangs together,
    and one without any stays whole."""
    bodies = np.flatnonzero(home == np.arange(len(home)))
    bricks = np.bincount(shells.thing[bodies][is_brick[bodies]], minlength=len(shells.family))
    home = home.copy()
    none = bodies[bricks[shells.thing[bodies]] == 0]
    home[none] = _largest(shells, none, shells.thing)
    one = bodies[bricks[shells.thing[bodies]] == 1]
    if len(one):
        low, high = shells.boxes.low[one] * mm, shells.boxes.high[one] * mm
        pairs = nesting.pairs(low, high, 2 * _TOUCH)
        pairs = pairs[shells.thing[one][pairs[:, 0]] == shells.thing[one][pairs[:, 1]]]
        cluster = np.empty(len(shells), dtype=np.intp)
        cluster[one] = connected(len(one), *pairs.T)
        home[one] = _largest(shells, one, cluster)
    return home


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
