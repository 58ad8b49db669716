"""What each brick would do if nothing touched it: seeded draws around a lean that neighbours share."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from .. import draws, threads, units
from ..build.bricks import Bricks
from ..build.heaps import heaped
from ..build.touching import Contacts
from ..parts.shells import connected
from ..presets import preset
from ..remembered import digest, remembered
from ..sizes import TRADE
from . import stackup

# Channels of the draws: never renumber, or every file's bricks move.
_SHIFT_X, _SHIFT_Y, _LIFT, _TWIST, _TILT_X, _TILT_Y, _CARE, _LEAN_X, _LEAN_Y, _RISEN = range(10)

_TIDY = 0.4  # of the limits: what a carefully placed brick uses of them
_COURSE_MM = TRADE.brick_height  # one step of the lean's walk
_PATCH_MM = 160.0  # over which the walk is shared
_FAR = 1 << 24  # patches: no build is that wide
_CLIPPED_SD = 0.8796256610 / draws.CLIP_SIGMA  # of a clipped draw (Johnson, Kotz, Balakrishnan 1994, 10.1)
_LEAN_SHARE = 0.8  # of a joint's play that a step of the walk may take
_TIPPED_SHARE = 1.0 / 6.0  # of the play in a course that a brick of a stack may take from it by tipping
_TILT_SHARE, _TWISTS = 0.75, 3.0  # of the play in a course, and of a twist: where a stack's tilts and twists turn back
_BENT_SHARE = 0.2  # of the play that the bend of a twist's way, a pitch off, may take
_LEAN_HEIGHT_MM = 100.0  # the height that a preset's lean speaks of
_RISE = 0.0015  # mm a mm of height: bricks are never pressed home entirely
UNEVEN = 0.5  # of the rise of a course: how far its own goes, so that the four walks of a patch never close a joint
_CLIPPED_MEAN = 0.7227989 / draws.CLIP_SIGMA  # of the size of a clipped draw (as above)
_SHARED = 0.5**0.5  # of a stack's steps aside: what all lean by, and as much its own; half of the square
_BASE_STUDS = 36  # a plate this large on the lowest level is what the build stands on
_LEVEL_MM = 0.5  # over the lowest: less than any plate is high, so of its level
_FILLED = 0.95  # of the pitches of its studs that a plate covers at least: the rest is its seams
_CHUNK = threads.CHUNK // 4  # bricks looked at together
_LEAN_ROOM = 0.5  # of what joints leave that a lean may take there: the rest is for what bricks want of their own
_FARTHEST = 64  # joints from a brick that cannot move within which others lean less
_CROWDED = 60  # contacts beyond which a brick is held by sheer number; there are colours for 63


@dataclass(frozen=True)
class Targets:
    """Where N bricks would like to be and how far they may go: shift x, y, z in mm, turn x, y, z in radians."""

    wanted: np.ndarray  # (N, 6)
    lean: np.ndarray  # (N, 6) what neighbours share by their place alone: where bricks go back to
    least: np.ndarray  # (N, 6)
    most: np.ndarray  # (N, 6)
    pressed: np.ndarray  # (N,) bricks that neither rise nor tip
    mobility: np.ndarray  # (2, N) inverse weights of shift and turn: 0 for a brick that stays


@dataclass(frozen=True)
class _Ground:
    """What N bricks rest on and are held by, whatever the seed and the dial."""

    height: np.ndarray  # (N,) mm over the lowest of what each is joined to
    footing: np.ndarray  # (N,) mm over it where each one's rise begins
    stays: np.ndarray  # (N,) which cannot be moved, or are what the build stands on
    still: np.ndarray  # (N,) these, and such as are held by sheer number
    pressed: np.ndarray  # (N,) which neither rise nor tip
    stands: stackup.Stands
    joined: np.ndarray  # (N,) which studs hold
    widest: np.ndarray  # (N,) mm from the middle of a joint's studs to the outermost, at most; 0 for one stud or none

    def __len__(self) -> int:
        return len(self.height)


def targets(
    bricks: Bricks,
    contacts: Contacts,
    fit: preset.Fit,
    seed: int,
    looseness: float,
    fixed: np.ndarray,
    place: bytes = b"",
) -> Targets:
    """Targets of a build; `fixed` (N,) are bricks that cannot be moved; the base, heaps and crowded bricks stay too.

    `place` tells these contacts from all others; without it nothing is remembered.
    """
    fixed, leans = _firm(contacts, fixed | heaped(contacts, len(bricks))), fit.lean_mm > 0.0
    told = place and place + digest(fixed, np.array(leans))
    ground: _Ground = remembered("ground", told, partial(_ground, bricks, contacts, fixed, leans))
    height, stays, still, pressed, stands = ground.height, ground.stays, ground.still, ground.pressed, ground.stands
    lean = leaning(bricks, height, fit, seed, looseness, ground.footing)
    if (high := fixed & (height > _COURSE_MM)).any():
        lower, upper, _ = stackup.seats(contacts)
        _lean_less(lean[:, :2], contacts, high, fit.play_mm)
        _lean_less(lean[:, 2:3], contacts, _pressed(lower, upper, high), fit.lift_mm * looseness)
    limit = _limits(bricks, fit, looseness)
    steps, reach = _stepped(lean, _reach(limit, ground, fit, looseness), height, stands, fit, looseness)
    own = reach * _drawn(bricks, fit, seed)
    # A brick is lifted off what it stands on, never sunk into it, and no joint stands open by more than a lift.
    own[:, 2] = np.minimum(np.abs(own[:, 2]), np.maximum(limit[:, 2] - np.where(stands.on < 0, 0.0, steps[:, 2]), 0.0))
    own[still], steps[stays], lean[stays] = 0.0, 0.0, 0.0
    for each in (own, steps, lean, limit):
        each[pressed, 2:5] = 0.0
    wanted = stackup.added_up(steps + own, stands, bricks.centre, _most_turned(bricks, fit, looseness))
    carried = wanted - own
    least, most = np.minimum(carried, 0.0) - limit, np.maximum(carried, 0.0) + limit
    half = bricks.half
    square = (half[:, 0] ** 2 + half[:, 1] ** 2 + half[:, 2] ** 2) * (2.0 / 9.0)  # mean squared arm of a box
    mobility = np.stack([np.ones(len(bricks)), 1.0 / square])
    for each in (wanted, least, most):
        each[still] = carried[still]
    mobility[:, still] = 0.0
    return Targets(np.clip(wanted, least, most), lean, least, most, pressed, mobility)


def _ground(bricks: Bricks, contacts: Contacts, fixed: np.ndarray, leans: bool) -> _Ground:
    lower, upper, face = stackup.seats(contacts)
    height = heights(bricks, contacts)
    stays, pressed = fixed | base(bricks, height), fixed | _pressed(lower, upper, fixed)
    still = stays | _crowded(contacts, len(bricks))
    stands = stackup.stands(bricks, lower, upper, face, stays | pressed | (not leans))
    footing = _footing(height, lower, upper, fixed)
    span = np.sqrt(contacts.stud_half[:, 0] ** 2 + contacts.stud_half[:, 1] ** 2)  # 0 but in joints
    widest, joined = np.zeros(len(bricks)), np.zeros(len(bricks), dtype=bool)
    for ends in (contacts.a, contacts.b):
        np.maximum.at(widest, ends, span)
        joined[ends[contacts.held]] = True
    return _Ground(height, footing, stays, still, pressed, stands, joined, widest)


def _firm(contacts: Contacts, fixed: np.ndarray) -> np.ndarray:
    """Which bricks (N,) stay: the fixed ones, and crowded ones beside such, which could not give way to them."""
    firm, crowded = fixed.copy(), _crowded(contacts, len(fixed)) if fixed.any() else fixed
    while True:
        beside = np.zeros_like(firm)
        for one, other in ((contacts.a, contacts.b), (contacts.b, contacts.a)):
            beside[one[firm[other]]] = True
        if not (more := beside & crowded & ~firm).any():
            return firm
        firm |= more


def _crowded(contacts: Contacts, bricks: int) -> np.ndarray:
    """Which of some bricks are held by sheer number."""
    return np.bincount(np.concatenate([contacts.a, contacts.b]), minlength=bricks) > _CROWDED


def heights(bricks: Bricks, contacts: Contacts) -> np.ndarray:
    """How high (N,) in mm each brick stands over the lowest of those that it is joined to or rests on."""
    seats, low = contacts.seats, bricks.low[:, 2]
    group = connected(len(bricks), contacts.a[seats], contacts.b[seats])
    ground = np.full(group.max(initial=-1) + 1, np.inf)
    np.minimum.at(ground, group, low)
    return low - ground[group]


def _footing(height: np.ndarray, lower: np.ndarray, upper: np.ndarray, fixed: np.ndarray) -> np.ndarray:
    """How high (N,) above the ground each brick's rise begins: at the highest one beneath it that cannot move."""
    footing = np.where(fixed, height, 0.0)
    while (higher := footing[lower] > footing[upper]).any():
        np.maximum.at(footing, upper[higher], footing[lower[higher]])
    return footing


def _pressed(lower: np.ndarray, upper: np.ndarray, fixed: np.ndarray) -> np.ndarray:
    """Which bricks (N,) cannot rise or tip, since one that cannot move stands on them, or on what stands on them."""
    pressed = fixed.copy()
    while (beneath := pressed[upper] & ~pressed[lower]).any():
        pressed[lower[beneath]] = True
    return pressed


def base(bricks: Bricks, height: np.ndarray) -> np.ndarray:
    """Which bricks (N,) a build stands on: large plates on the lowest level of what is joined."""
    half = bricks.half
    return (height < _LEVEL_MM) & (4.0 * half[:, 0] * half[:, 1] >= _BASE_STUDS * TRADE.pitch**2 * _FILLED)


def rise(fit: preset.Fit, looseness: float) -> float:
    """How far seats open a mm of height: less than half of what a joint may be lifted."""
    return min(_RISE, 0.5 * fit.lift_mm * looseness / _COURSE_MM)


def leaning(
    bricks: Bricks, height: np.ndarray, fit: preset.Fit, seed: int, looseness: float, footing: np.ndarray | None = None
) -> np.ndarray:
    """The lean (N, 6) at each brick, `height` (N,) over its ground: a walk up the build in steps of a course, smooth
    across, from seed and place. It rises by a walk too, over its `footing` (N,) where that is not the ground.

    A tower of 100 mm leans by `lean_mm` at its top, as the standard deviation over seeds; the step of a course never
    takes all of the play of a joint, and no course rises by less than nothing.
    """
    step = _step(fit, looseness) / _CLIPPED_SD
    uneven, risen = UNEVEN * _COURSE_MM, rise(fit, looseness)
    walked = _walked(bricks.centre, height, seed, (_LEAN_X, _LEAN_Y, _RISEN))
    lean = np.zeros((len(bricks), 6))
    lean[:, :2] = step * walked[:, :2]
    lean[:, 2] = risen * (height + uneven * walked[:, 2])
    if footing is not None and (lifted := np.flatnonzero(footing)).size:
        walked = _walked(bricks.centre[lifted], footing[lifted], seed, (_RISEN,))
        lean[lifted, 2] -= risen * (footing[lifted] + uneven * walked[:, 0])
    return lean


def _lean_less(lean: np.ndarray, contacts: Contacts, stays: np.ndarray, room: float) -> None:
    """Takes so much of the lean (N, ways) off around bricks (N,) that have none, that half of the room (mm) of the
    joints on the way there is enough for it."""
    joint = contacts.seats | contacts.held
    a, b = contacts.a[joint], contacts.b[joint]
    away = np.where(stays, 0.0, np.inf)
    for hops in range(1, _FARTHEST):
        near = np.isfinite(away)
        on = near[a] != near[b]
        if not on.any():
            break
        away[np.where(near[a[on]], b[on], a[on])] = hops
    size = np.sqrt((lean * lean).sum(axis=1))
    lean *= np.minimum(_LEAN_ROOM * room * away / np.maximum(size, 1e-12), 1.0)[:, None]


def _step(fit: preset.Fit, looseness: float) -> float:
    """How far (mm) towers step aside in a course, as a standard deviation."""
    step = fit.lean_mm * looseness * (_COURSE_MM / _LEAN_HEIGHT_MM) ** 0.5
    return min(step, _LEAN_SHARE * fit.play_mm * _CLIPPED_SD)


def _stepped(
    lean: np.ndarray, reach: np.ndarray, height: np.ndarray, stands: stackup.Stands, fit: preset.Fit, looseness: float
) -> tuple[np.ndarray, np.ndarray]:
    """The steps (N, 6) by which bricks lean away from what they stand on, and the reach (N, 6) of their own.

    A brick that goes on with the one below is lined up with that. Half of the square of its steps aside are its own,
    so that a stack leans as all else does; in 100 mm its twists add up to as many times a lone brick's as the lean is
    of the shift, its tilts to half of that, and its joints open by the rise on average, half of it their own.
    """
    steps, reach = lean.copy(), reach.copy()
    on, up, tidy = np.flatnonzero(stands.on >= 0), np.flatnonzero(stands.goes_on), fit.neatness
    steps[on] -= lean[stands.on[on]]
    climb = height[up] - height[stands.on[up]]
    spread = _CLIPPED_SD * (tidy * _TIDY**2 + 1.0 - tidy) ** 0.5  # of draws, as they are taken care over
    size = _CLIPPED_MEAN * (tidy * _TIDY + 1.0 - tidy)
    aside = _step(fit, looseness) / spread * np.sqrt(climb / _COURSE_MM)
    share = fit.lean_mm / max(fit.shift_mm, fit.lean_mm, 1e-9) / spread
    travels = np.minimum(share * np.sqrt(climb / _LEAN_HEIGHT_MM), 1.0)
    steps[up, :2] *= _SHARED
    steps[up, 2] *= 0.5
    reach[up, :2] = _SHARED * aside[:, None]
    reach[up, 2] = 0.5 * rise(fit, looseness) / size * climb
    reach[up, 3:5] = np.minimum(0.5 * travels[:, None] * reach[up, 3:5], _TIPPED_SHARE * fit.play_mm / _COURSE_MM)
    reach[up, 5] *= travels
    return steps, reach


def _most_turned(bricks: Bricks, fit: preset.Fit, looseness: float) -> np.ndarray:
    """How far (N, 3) in radians tilts and twists of a stack add up: a tilt takes play in every joint, and so does a
    twist that is too large to be linear where a brick does not stand in the middle of the next."""
    most = np.empty((len(bricks), 3))
    most[:, :2] = _TILT_SHARE * fit.play_mm / _COURSE_MM
    most[:, 2] = _TWISTS * units.radians(fit.twist_deg) * looseness
    wide = bricks.half[:, :2].max(axis=1) > 0.75 * TRADE.pitch  # on more than one stud, half of which is half a pitch
    most[wide, 2] = np.minimum(most[wide, 2], (2.0 * _BENT_SHARE * fit.play_mm / TRADE.pitch) ** 0.5)
    return np.maximum(most, 1e-9)


def _walked(centre: np.ndarray, height: np.ndarray, seed: int, channels: tuple[int, ...]) -> np.ndarray:
    """Walks (N, channels) of clipped normal steps up to each height, blended between the corners of a brick's patch."""
    course = height / _COURSE_MM
    level = np.floor(course).astype(np.int64)
    place = centre[:, :2] / _PATCH_MM
    corner = np.floor(place).astype(np.int64)
    patch, of_brick = np.unique(corner[:, 0] * _FAR + corner[:, 1], return_inverse=True)
    share = place - corner
    share = share * share * (3.0 - 2.0 * share)
    corners = patch + np.array([[0], [1], [_FAR], [_FAR + 1]])
    walks = np.stack([_walks(corners, int(level.max()) + 2, seed, each) for each in channels], axis=-1)

    def blended(part: slice) -> np.ndarray:
        below, way = level[part], (course - level)[part, None]
        x, y = (np.stack([1 - each, each]) for each in share[part].T)
        weight = (x[:, None] * y).reshape(4, -1, 1)
        start, end = (walks[:, of_brick[part], step] for step in (below, below + 1))
        total, square = (each.sum(axis=0) for each in (weight * (start + way * (end - start)), weight * weight))
        return total / np.sqrt(square)  # blended as it is, it would lean less between the corners

    return _in_chunks(blended, len(centre))


def _walks(patches: np.ndarray, levels: int, seed: int, channel: int) -> np.ndarray:
    """Walks (..., levels) of patches by number, each starting at 0 on the ground."""
    steps = draws.mixed(draws.mixed(patches.astype(np.uint64))[..., None] ^ np.arange(1, levels, dtype=np.uint64))
    walks = np.zeros((*patches.shape, levels))
    np.cumsum(draws.clipped_normal(seed, steps, channel), axis=-1, out=walks[..., 1:])
    return walks


def _drawn(bricks: Bricks, fit: preset.Fit, seed: int) -> np.ndarray:
    """Draws (N, 6) between -1 and 1; most bricks are placed with care, some are not."""
    channels = np.array([_SHIFT_X, _SHIFT_Y, _LIFT, _TILT_X, _TILT_Y, _TWIST])
    keys = bricks.drawn_key

    def drawn(part: slice) -> np.ndarray:
        found = draws.clipped_normal(seed, keys[part], channels[:, None])
        tidy = draws.uniform(seed, keys[part], _CARE) < fit.neatness
        return (found * np.where(tidy, _TIDY, 1.0)).T

    return _in_chunks(drawn, len(keys))


def _in_chunks(work: Callable[[slice], np.ndarray], number: int) -> np.ndarray:
    """As `threads.joined` by this thread alone: the calls of draws are too short for several."""
    return np.concatenate([work(part) for part in threads.slices(number, _CHUNK)])


def _limits(bricks: Bricks, fit: preset.Fit, looseness: float) -> np.ndarray:
    """The preset's limits (N, 6); a tilt never lifts an end by more than a lift."""
    half = bricks.half
    lift = fit.lift_mm * looseness
    shift, twist = fit.shift_mm * looseness, units.radians(fit.twist_deg) * looseness
    tilts = [np.minimum(units.radians(fit.tilt_deg) * looseness, 0.5 * lift / half[:, axis]) for axis in (1, 0)]
    every = np.ones(len(bricks))
    return np.stack([shift * every, shift * every, lift * every, *tilts, twist * every], axis=1)


def _reach(limit: np.ndarray, ground: _Ground, fit: preset.Fit, looseness: float) -> np.ndarray:
    """How far draws go (N, 6): the limits (N, 6), but no brick that studs hold goes farther aside than their play, and
    none turns farther than it allows the outermost of them: more would only push its neighbours about."""
    reach, joined, widest = limit.copy(), ground.joined, ground.widest
    held = widest > 0
    reach[joined, :2] = np.minimum(reach[joined, :2], fit.play_mm)
    reach[held, 5] = np.minimum(reach[held, 5], min(looseness, 1.0) * fit.play_mm / widest[held])
    return reach
