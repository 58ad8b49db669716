"""The picture of a build from two opposite corners as SVG: each brick in its own colour, its joints as dots by how many
studs hold.

bricks ─▶ faces, the far ones first ─▶ joints where they meet the eye ─▶ legend
"""

from collections import Counter
from collections.abc import Iterator
from heapq import heapify, heappop, heappush
from itertools import product

import numpy as np

from .. import rigid
from ..build.bricks import Bricks, Pieces
from ..build.touching import JOINT, Contacts
from ..fit.summary import loose_bricks
from ..near import near_pairs
from . import tinting
from .sheet import INK, MARGIN, PAPER, QUIET, WIDTH, Sheet, View, corners, outline, safe

SIDES = tuple(tinting.SHADES)
# Few studs to many: every step is darker than the one before, so that any eye and a grey print tell them apart.
SCALE = (
    (1, "1 stud", "#ffc53d", 3.2),
    (2, "2 studs", "#f28e2b", 3.8),
    (3, "3 or 4", "#d1495b", 4.5),
    (5, "5 to 8", "#7a3b8f", 5.4),
    (9, "9 or more", "#1f2a5c", 6.4),
)
_EYE_MM = 0.05  # a dot stands this far before its seam
_TOUCH_MM = 1e-3


def joints(title: str, bricks: Bricks, contacts: Contacts) -> str:
    """The picture of a build at rest as the text of an SVG file; equal builds give equal text."""
    held = contacts.of_kind(JOINT)
    pairs, joint = np.unique(np.stack([held.a, held.b], axis=1), axis=0, return_inverse=True)
    joint = joint.reshape(-1)  # of each contact: two bricks may be held in several places
    studs = np.bincount(joint, held.studs, len(pairs))
    step = np.searchsorted([first for first, *_ in SCALE], studs, side="right") - 1
    loose, tint = loose_bricks(bricks, contacts), tinting.tints(bricks, contacts)
    pieces = bricks.pieces()
    sheet = Sheet.of(pieces)
    drawn, shown = [], np.zeros(len(pairs), dtype=bool)
    for view, place in sheet.views:
        text, seen = _view(view, bricks, pieces, held, step[joint], loose, tint, sheet.scale, place)
        drawn.append(text)
        shown[joint[seen]] = True
    words = f"{len(bricks)} bricks, {len(pairs)} joints"
    drawn.append(_legend(sheet.legend(52.0), Counter(step.tolist()), int(loose.sum()), int((~shown).sum())))
    return sheet.svg(title, words, words, _DEFINITIONS, drawn)


_DEFINITIONS = (
    "<defs>"
    f'<pattern id="loose" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    f'<rect width="6" height="6" fill="{PAPER}"/><rect width="2.4" height="6" fill="{INK}"/></pattern>'
    "<style>"
    f".brick path{{stroke:{INK};stroke-width:.55;stroke-linejoin:round}}"
    + "".join(
        f".c{number} .{side}{{fill:{colour}}}"
        for side, colours in tinting.palette().items()
        for number, colour in enumerate(colours)
    )
    + f".brick.loose path{{fill:url(#loose)}}.joint{{stroke:{INK};stroke-width:.8}}"
    "</style></defs>"
)


def _view(view, bricks, pieces, held, step, loose, tint, scale, place) -> tuple[str, np.ndarray]:
    """The build from one corner, and which joints (J,) show in it."""

    def paper(points):
        return np.round(view.seen(points) * scale + place, 1)

    order = far_first(view, pieces)
    seen_faces = {name: paper(ring) for name, ring in faces(view, pieces)}
    lines = ["<g>"]
    for n in order:
        brick = pieces.brick[n]
        kind = f"brick c{tint[brick]}" + (" loose" if loose[brick] else "")
        paths = "".join(f'<path class="{name}" d="{outline(seen_faces[name][n])}"/>' for name in SIDES)
        lines.append(f'<g class="{kind}"><title>{safe(bricks.names[brick])}</title>{paths}</g>')
    points, seen = _in_sight(view, pieces, held)
    spots = paper(points)
    for n in np.flatnonzero(seen):
        _, _, colour, radius = SCALE[step[n]]
        x, y = spots[n]
        lines.append(f'<circle class="joint" cx="{x}" cy="{y}" r="{_radius(radius, scale)}" fill="{colour}"/>')
    return "\n".join([*lines, "</g>"]), seen


def _radius(radius: float, scale: float) -> float:
    """Dots grow with the drawing, less than it does."""
    return round(radius * float(np.clip(np.sqrt(scale / 2.5), 0.4, 2.5)), 2)


def faces(view: View, pieces: Pieces) -> Iterator[tuple[str, np.ndarray]]:
    """Corners (P, 4, 3) of the three faces of every box that look at the eye: the top, and two sides."""
    facing = np.sign(rigid.turned(rigid.transpose(pieces.turn), np.broadcast_to(view.toward, pieces.centre.shape)))
    facing[facing == 0] = 1.0
    upright = np.abs(pieces.turn[:, 2, :]).argmax(axis=1)  # the box's own axis that stands most upright
    row = np.arange(len(upright))
    sides = np.stack([(upright + 1) % 3, (upright + 2) % 3], axis=1)
    normals = [pieces.turn[row, :, sides[:, k]] * facing[row, sides[:, k]][:, None] for k in (0, 1)]
    across = [view.seen(normal)[:, 0] for normal in normals]
    swap = across[0] > across[1]
    left, right = np.where(swap, sides[:, 1], sides[:, 0]), np.where(swap, sides[:, 0], sides[:, 1])
    for name, axis in (("top", upright), ("left", left), ("right", right)):
        u, v = (axis + 1) % 3, (axis + 2) % 3
        ring = []
        for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
            signs = np.empty_like(pieces.half)
            signs[row, axis], signs[row, u], signs[row, v] = facing[row, axis], a, b
            ring.append(corners(pieces, signs))
        yield name, np.stack(ring, axis=1)


def far_first(view: View, pieces: Pieces) -> list[int]:
    """Boxes in an order in which none covers one drawn after it; where they cover each other in a ring, by distance."""
    i, j = _overlapping(view, pieces).T
    toward = np.sign(view.toward)
    ahead = np.where(toward > 0, pieces.low[i] - pieces.high[j], pieces.low[j] - pieces.high[i])  # i before j
    behind = np.where(toward > 0, pieces.low[j] - pieces.high[i], pieces.low[i] - pieces.high[j])
    front, back = ahead.max(axis=1), behind.max(axis=1)
    decided = ~((front > -_TOUCH_MM) & (back > -_TOUCH_MM))  # else no line of sight meets both
    first, then = np.where(front > back, j, i)[decided], np.where(front > back, i, j)[decided]
    return _sorted(first.tolist(), then.tolist(), (pieces.centre @ view.toward).tolist())


def _sorted(first: list[int], then: list[int], distance: list[float]) -> list[int]:
    """Numbers by distance where nothing else is asked, each of `first` before its `then`, rings broken anywhere."""
    after, before = [[] for _ in distance], [[] for _ in distance]
    for a, b in zip(first, then, strict=True):
        after[a].append(b)
        before[b].append(a)
    waits, done, order = [len(each) for each in before], [False] * len(distance), []
    ready = [(d, n) for n, d in enumerate(distance) if not waits[n]]
    heapify(ready)
    while len(order) < len(distance):
        n = heappop(ready)[1] if ready else _in_a_ring(before, done)
        if done[n]:
            continue
        done[n] = True
        order.append(n)
        for m in after[n]:
            waits[m] -= 1
            if not waits[m]:
                heappush(ready, (distance[m], m))
    return order


def _in_a_ring(before: list[list[int]], done: list[bool]) -> int:
    """One of those left that wait for each other."""
    n, passed = done.index(False), set()
    while n not in passed:
        passed.add(n)
        n = next(m for m in before[n] if not done[m])
    return n


def _overlapping(view: View, pieces: Pieces) -> np.ndarray:
    """Pairs (K, 2) of boxes that cover the same place of the paper: no line along one of their edges parts them."""
    pairs = near_pairs(*_on_paper(view, pieces), 0.0)
    i, j = pairs.T
    ends = np.stack([pieces.low, pieces.high])
    both = np.ones(len(pairs), dtype=bool)
    for edge in view.seen(np.eye(3)):
        shares = view.seen(np.eye(3)) @ np.array([-edge[1], edge[0]])  # of each axis, across the edge
        across = ends * shares
        low, high = across.min(axis=0).sum(axis=1), across.max(axis=0).sum(axis=1)
        both &= np.minimum(high[i], high[j]) - np.maximum(low[i], low[j]) > _TOUCH_MM
    return pairs[both]


def _on_paper(view: View, pieces: Pieces) -> tuple[np.ndarray, np.ndarray]:
    """Upright boxes (P, 3) around what each box covers of the paper, flat in the third direction."""
    seen = np.stack([view.seen(corners(pieces, np.array(signs))) for signs in product((-1, 1), repeat=3)])
    flat = np.zeros((len(pieces.centre), 1))
    return np.hstack([seen.min(axis=0), flat]), np.hstack([seen.max(axis=0), flat])


def _in_sight(view: View, pieces: Pieces, held: Contacts) -> tuple[np.ndarray, np.ndarray]:
    """Where (J, 3) each joint meets the eye, on the edges of its face that look that way, and whether it does."""
    axes = held.axes
    points, seen = held.place.copy(), np.zeros(len(held), dtype=bool)
    for fraction in (0.0, 0.5, -0.5, 0.85, -0.85):
        for edge in (0, 1):
            side = np.sign(rigid.dot(axes[:, edge], np.broadcast_to(view.toward, points.shape)))
            at = np.zeros((len(held), 2))
            at[:, edge] = side * (held.half[:, edge] + _EYE_MM)
            at[:, 1 - edge] = fraction * held.half[:, 1 - edge]
            spot = held.place + at[:, :1] * axes[:, 0] + at[:, 1:] * axes[:, 1]
            left = np.flatnonzero(~seen)
            new = left[~_covered(view, pieces, spot[left])]
            points[new], seen[new] = spot[new], True
    return points, seen


def _covered(view: View, pieces: Pieces, spots: np.ndarray) -> np.ndarray:
    """Which points (J,) lie behind a box."""
    low, high = _on_paper(view, pieces)
    flat = np.hstack([view.seen(spots), np.zeros((len(spots), 1))])
    pairs = near_pairs(np.vstack([low, flat]), np.vstack([high, flat]), 0.0)
    pairs = pairs[(pairs[:, 0] < len(low)) & (pairs[:, 1] >= len(low))]
    box, spot = pairs[:, 0], pairs[:, 1] - len(low)
    back = rigid.transpose(pieces.turn[box])
    start = rigid.turned(back, spots[spot] - pieces.centre[box])
    ray = rigid.turned(back, np.broadcast_to(view.toward, start.shape))
    ray = np.where(np.abs(ray) < 1e-9, 1e-9, ray)
    ends = np.stack([(-pieces.half[box] - start) / ray, (pieces.half[box] - start) / ray])
    enters, leaves = ends.min(axis=0).max(axis=1), ends.max(axis=0).min(axis=1)
    covered = np.zeros(len(spots), dtype=bool)
    covered[spot[(leaves > np.maximum(enters, 0.0) + _TOUCH_MM)]] = True
    return covered


def _legend(y: float, counts: Counter, loose: int, hidden: int) -> str:
    entries, x = [], MARGIN
    for number, (_, words, colour, radius) in enumerate(SCALE):
        dot = f'cx="{x + 8:.0f}" cy="{y - 6:.0f}" r="{radius * 1.4:.1f}"'
        entries.append(f'<circle class="joint" {dot} fill="{colour}"/>')
        entries.append(f'<text x="{x + 26:.0f}" y="{y:.0f}" font-size="18">{words}: {counts[number]}</text>')
        x += 190.0
    if loose:
        entries.append(
            f'<rect x="{x:.0f}" y="{y - 15:.0f}" width="26" height="18" fill="url(#loose)" stroke="{INK}"/>'
            f'<text x="{x + 36:.0f}" y="{y:.0f}" font-size="18">held by nothing: {loose}</text>'
        )
    if hidden:
        entries.append(
            f'<text x="{WIDTH - MARGIN:.0f}" y="{y:.0f}" font-size="18" fill="{QUIET}" text-anchor="end">'
            f"{hidden} out of sight</text>"
        )
    return "\n".join(entries)
