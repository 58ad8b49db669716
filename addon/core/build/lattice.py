"""The true scale and the upright axis of a build, read off its bricks alone.

Bricks stand on a lattice: half a pitch apart sideways, a plate apart in height. A scale is right when the bricks'
middles and seats fall on that lattice around the build's own origin and their bodies measure whole studs and plates.
Ten times too large fits as well, so of all scales that fit the smallest is the true one.
"""

from dataclasses import dataclass, replace

import numpy as np

from .. import threads
from ..counts import evenly
from ..sizes import MET, TRADE, Span
from .boxes import Boxes

NOMINAL_MM = {"metres": 1000.0, "decimetres": 100.0, "inches": 25.4, "centimetres": 10.0, "millimetres": 1.0}

MAJORITY = 0.4  # share of objects that must fit before a scale is believed
NEARLY = 0.85  # of the best share: fits as well
NEARLY_ALL = 0.98  # of the objects fit: with studs of the right height no other scale can fit them as well
MOST = 0.75  # of them do, and sizes are exact: no other scale or axis can fit more
SHARP = 1e-4  # of a turn's concentration, the same as two scales may differ by and still fit alike
CHANCE = 0.04  # share of objects that may fall on a lattice by chance
SAMPLE = 1500  # objects looked at in a large build; the lattice shows in far fewer
EXACTLY_MM = 1e-3  # by which equal sizes in a file differ
SHRUNK = 0.02  # how far off a scale may be at which two builds out of step are on one lattice
STUDS_TRIED = 4  # of what stands out of objects so many kinds are looked at
STUDS_ALIKE = 0.15  # of their height: some have a raised mark
COMMONEST = 6  # sizes from which scales are guessed
MOST_STUDS, MOST_PLATES = 16, 20  # longest side and tallest body assumed for the commonest sizes


@dataclass(frozen=True)
class Lattice:
    """What was found: millimetres per unit, the upright axis (0 x, 1 y, 2 z) and which end of it is up (+1 or -1),
    the share of objects that stand on the lattice (0 when nothing fits), sentences for the user, and the turn (9,) that
    lays the bricks along the axes that this is told in."""

    mm_per_unit: float
    up: int
    sign: int
    share_on_lattice: float
    warnings: tuple[str, ...] = ()
    turn: tuple[float, ...] = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0)

    @property
    def turned(self) -> np.ndarray:
        """(3, 3) from the axes of the space that the bricks stand in to their own."""
        return np.array(self.turn).reshape(3, 3)


@dataclass(frozen=True)
class _Guess:
    mm_per_unit: float
    up: int
    sign: int
    fit: float = 0.0
    on_lattice: float = 0.0
    sharpness: float = 0.0


def find(boxes: Boxes, expected_mm: float = 1000.0, up: int = 2) -> Lattice:
    """Find the lattice; `expected_mm` per unit and upright axis `up` are the file format's own: they decide where
    the bricks do not tell."""
    if not len(boxes):
        return Lattice(expected_mm, up, 1, 0.0, ("There is no object to find the scale from.",))
    seen = _sound(boxes[evenly(len(boxes), SAMPLE)])
    showing = _studs(seen)
    guess = _plain(seen, showing, expected_mm)
    # What stands out may all be feet, unless it has a stud's height as the file says: then bricks lie about.
    feet = not any(_stud_fits(studs, expected_mm) for studs in showing)
    for studs in (showing, *([[None]] if feet else [])):
        if guess is None:
            guesses = (guess for stud in studs for guess in _guesses(seen, stud, expected_mm, up))
            guess = _smallest([_judged(seen, each) for each in guesses], expected_mm, up)
            guess = guess and _even(seen, guess, expected_mm)
    if guess is None:
        return none(expected_mm, up)
    return Lattice(guess.mm_per_unit, guess.up, guess.sign, guess.on_lattice, _said(guess, seen, expected_mm))


def at(boxes: Boxes, mm: float, up: int = 2) -> Lattice:
    """The lattice at a scale that is known, `mm` per unit: which way is up, where the bricks tell."""
    seen = _sound(boxes[evenly(len(boxes), SAMPLE)])
    showing = [studs[:2] for studs in _studs(seen) if _stud_fits(studs, mm)]
    axes = [(axis, sign) for axis in sorted(range(3), key=lambda axis: axis != up) for sign in (1, -1)]
    judged = (_judged(seen, _Guess(mm, *axis)) for axis in dict.fromkeys([*showing, *axes]))
    best = max(judged, key=lambda guess: guess.fit)
    if best.fit < MAJORITY:
        return none(mm, up)
    return Lattice(mm, best.up, best.sign, best.on_lattice, _said(best, seen, mm))


def none(expected_mm: float, up: int) -> Lattice:
    """What is told of things that stand on no lattice."""
    told = (
        "No scale puts the objects on a brick lattice (8 mm pitch, 3.2 mm plates): the file's own unit is kept "
        f"({_unit(expected_mm)}); check the size of the build."
    )
    return Lattice(expected_mm, up, 1, 0.0, (told,))


def still(boxes: Boxes, known: Lattice) -> Lattice | None:
    """A lattice found before, as the boxes stand on it now; None where clearly fewer do."""
    if not len(boxes):
        return None
    seen = _sound(boxes[evenly(len(boxes), SAMPLE)])
    guess = _judged(seen, _Guess(known.mm_per_unit, known.up, known.sign))
    if guess.on_lattice < known.share_on_lattice - CHANCE:
        return None
    return replace(known, share_on_lattice=guess.on_lattice, warnings=_said(guess, seen, known.mm_per_unit))


def _plain(boxes, showing, expected_mm):
    """The file's own unit where it is plainly true, without a look at any other: studs pin the scale to a third."""
    studs = next((each for each in showing if _stud_fits(each, expected_mm)), None)
    if studs is None:
        return None
    guess = _judged(boxes, _Guess(expected_mm, *studs[:2]))
    plain = guess.fit >= NEARLY_ALL and 3 - guess.sharpness <= SHARP
    return guess if plain or (guess.fit >= MOST and _lacks_the_same(boxes, guess.up, expected_mm)) else None


def _sound(boxes):
    """Flat or broken objects tell nothing about the lattice."""
    size = boxes.high - boxes.low
    sound = np.isfinite(size).all(axis=1) & (size > 0).all(axis=1)
    return boxes[sound] if sound.any() else boxes


def _studs(boxes):
    """What may be studs, the commonest first: (axis, sign, height in units) of what stands out of many objects at one
    end. Feet and grooves do so too, at the other end and by another height."""
    full = boxes.high - boxes.low
    above, below = boxes.high - boxes.body_high, boxes.body_low - boxes.low
    near = 1e-3 * full.max(axis=1, keepdims=True)
    votes = []
    for sign, stud in ((1, above), (-1, below)):
        shows = (stud > near) & (stud < 0.5 * full)
        for axis in range(3):
            heights = stud[shows[:, axis], axis]
            for height in commonest(heights)[:STUDS_TRIED]:
                count = int((np.abs(heights - height) <= STUDS_ALIKE * height).sum())
                votes.append((count, axis, sign, height))
    most = max((count for count, *_ in votes), default=0)
    enough = max(1, 0.1 * len(boxes), 0.2 * most)
    return [tuple(vote[1:]) for vote in sorted(votes, key=lambda vote: -vote[0]) if vote[0] >= enough][:STUDS_TRIED]


def _guesses(boxes, studs, expected_mm, up):
    """Scales worth a look, the likeliest first: named units, then what the commonest heights and widths would mean."""
    axes = [(studs[0], studs[1])] if studs else sorted(((axis, 1) for axis in range(3)), key=lambda a: a[0] != up)
    for axis, sign in axes:
        named = sorted(NOMINAL_MM.values(), key=lambda mm: mm != expected_mm)
        rough = [
            TRADE.plate_height * k / h
            for h in commonest(_heights(boxes, axis, sign).ravel())
            for k in range(1, MOST_PLATES + 1)
        ]
        sides = commonest(_sides(boxes, axis).ravel())
        rough += [
            (TRADE.pitch * n - 2 * c) / d for d in sides for n in range(1, MOST_STUDS + 1) for c in (0.0, 0.1, 0.2)
        ]
        rough = [mm for mm in rough if _stud_fits(studs, mm)]
        believed = _sized(boxes, axis, rough, sign).mean(axis=1) >= MAJORITY
        for mm in dict.fromkeys([expected_mm, *named]):
            if _stud_fits(studs, mm) and sized(boxes, axis, mm, sign).any():
                yield _Guess(mm, axis, sign)
        for mm in _distinct([rough[n] for n in np.flatnonzero(believed)]):
            yield _Guess(mm, axis, sign)
            yield _Guess(_sharpened(boxes, axis, sign, mm), axis, sign)


def commonest(sizes: np.ndarray) -> list[float]:
    """The commonest of positive sizes (N,), equal to within 0.1 %."""
    sizes = np.sort(sizes[sizes > 0])
    if not len(sizes):
        return []
    starts = np.flatnonzero(np.r_[True, np.diff(sizes) > 1e-3 * sizes[1:]])
    counts = np.diff(np.r_[starts, len(sizes)])
    order = np.argsort(-counts, kind="stable")[:COMMONEST]
    return [float(np.median(sizes[starts[i] : starts[i] + counts[i]])) for i in order]


def _distinct(scales):
    """Scales apart by more than 0.01 %, the first of each kept."""
    kept: list[float] = []
    for scale in scales:
        if all(abs(scale - other) > 1e-4 * other for other in kept):
            kept.append(scale)
    return kept


def _heights(boxes, axis, sign=0):
    """(K, N) what bodies may measure with studs on the end of that sign, 0 for any: their walls, and with what stands
    out at the other end, where feet and grooves are."""
    low, high = boxes.low[:, axis], boxes.high[:, axis]
    foot, top = boxes.body_low[:, axis], boxes.body_high[:, axis]
    grounded = [top - low] * (sign >= 0) + [high - foot] * (sign <= 0)
    walls = np.stack([top - foot, *grounded])
    return np.where(walls > 0.5 * (high - low), walls, high - low)  # a cone's walls end at its foot


def _sides(boxes, axis):
    return np.delete(boxes.high - boxes.low, axis, axis=1)


def _walled(boxes):
    """The boxes without studs that point sideways: from wall to wall where the walls reach over most of it."""
    plain = boxes.body_high - boxes.body_low > 0.5 * (boxes.high - boxes.low)
    low, high = np.where(plain, boxes.body_low, boxes.low), np.where(plain, boxes.body_high, boxes.high)
    return replace(boxes, low=low, high=high)


def _stud_fits(studs, mm):
    return studs is None or bool(MET.marked_stud_height.holds(studs[2] * mm))


def sized(boxes: Boxes, axis: int, mm: float, sign: int = 0) -> np.ndarray:
    """Which objects measure whole studs sideways and whole plates in height at this scale, (N,) bool; with studs on
    the end of that sign, 0 for any."""
    return _sized(boxes, axis, [mm], sign)[0]


def _sized(boxes, axis, scales, sign):
    """The same at each of K scales, (K, N) bool."""
    sides = np.stack([_sides(each, axis) for each in (boxes, _walled(boxes))])
    heights, scales = _heights(boxes, axis, sign), np.array(scales, dtype=float)

    def at_some(some):
        mm = scales[some, None, None]
        across = whole(sides * mm[..., None], TRADE.pitch, MET.off_studs).any(axis=1).all(axis=2)
        return across & whole(heights * mm, TRADE.plate_height, MET.off_plates).any(axis=1)

    return threads.joined(at_some, len(scales), max(1, threads.CHUNK // max(len(boxes), 1)))


def whole(size: np.ndarray, step: float, lacks: Span) -> np.ndarray:
    """Which sizes are whole steps, but for what they may lack of them."""
    count = np.maximum(np.rint((size + (lacks.least + lacks.most) / 2) / step), 1)
    lack = count * step - size
    noise = 1e-5 * size
    return (lack >= lacks.least - noise) & (lack <= lacks.most + noise)


def _seats(boxes, axis, sign):
    """Positions (N, 3) that fall on the lattice, with its step along each axis in mm: middles sideways, the seat
    along the upright axis."""
    walled = _walled(boxes)
    seats = (walled.low + walled.high) / 2
    seats[:, axis] = (boxes.low if sign > 0 else boxes.high)[:, axis]
    steps = np.full(3, TRADE.half_pitch)
    steps[axis] = TRADE.plate_height
    return seats - np.median(seats, axis=0), steps


def _judged(boxes, guess):
    seats, steps = _seats(boxes, guess.up, guess.sign)
    turns = seats * guess.mm_per_unit / steps
    on = _on_lattice(turns, MET.off_lattice / steps)
    whole = sized(boxes, guess.up, guess.mm_per_unit, guess.sign)
    return replace(guess, fit=(on & whole).mean(), on_lattice=on.mean(), sharpness=_sharpness(turns[on]))


def _on_lattice(turns, near):
    """Which seats are near the commonest fraction of a turn along every axis, (N,) bool."""
    some = evenly(len(turns), 48)
    return np.stack([_on_mode(turns[:, axis], some, near[axis]) for axis in range(3)], axis=1).all(axis=1)


def _on_mode(turns, some, near):
    """Which values share the commonest fraction of a turn, of which some rows are tried; (N,) bool."""
    tried = turns[some]
    off = np.abs(_wrapped(turns[None] - tried[:, None]))
    centre = tried[(off <= near).sum(axis=1).argmax()]
    close = _wrapped(turns - centre)
    centre = centre + close[np.abs(close) <= near].mean()
    return np.abs(_wrapped(turns - centre)) <= near


def _wrapped(turns):
    return turns - np.rint(turns)


def _sharpness(turns):
    """Circular concentration summed over the axes: 3 when every seat is exactly on the lattice."""
    return float(np.abs(np.exp(2j * np.pi * turns).mean(axis=0)).sum()) if len(turns) else 0.0


def _sharpened(boxes, axis, sign, mm):
    """The scale within 3 % of `mm` at which the seats are sharpest, fitted to those on the lattice by least squares."""
    seats, steps = _seats(boxes[:: max(1, len(boxes) // 300)], axis, sign)
    turns = seats * mm / steps
    periods = max(np.abs(turns).max(), 1.0)
    factors = 1 + np.linspace(-0.03, 0.03, 2 * int(min(0.3 * periods, 1500)) + 3)
    best = max([1.0, *factors], key=lambda factor: round(_sharpness(turns * factor), 6))
    for near_mm in (0.3, 0.1, 0.03):  # closing in drops those that are near the lattice by chance
        best *= _fitted(turns * best, near_mm / steps)
    return mm * best


def _fitted(turns, near):
    """Factor that brings the seats on their nearest whole turns, by least squares over those that are near; 1 where
    they do not tell."""
    own = turns[_on_lattice(turns, near)]
    if len(own) < MAJORITY * len(turns):
        return 1.0
    whole = np.rint(own - own[0])
    own, whole = own - own.mean(axis=0), whole - whole.mean(axis=0)
    spread = (own * own).sum()
    return (own * whole).sum() / spread if spread > 1e-6 else 1.0


def _smallest(judged, expected_mm, up):
    """The smallest scale among those that fit about as well as the best; a named unit where it does as well."""
    best = max((guess.fit for guess in judged), default=0.0)
    if best < MAJORITY:
        return None
    fitting = [guess for guess in judged if guess.fit >= NEARLY * best]
    least = min(guess.mm_per_unit for guess in fitting)
    rivals = [guess for guess in fitting if guess.mm_per_unit <= 1.06 * least]
    most = max(guess.fit for guess in rivals)
    rivals = [guess for guess in rivals if guess.fit >= most - CHANCE]
    blur = 1.5 * min(3 - guess.sharpness for guess in rivals) + SHARP  # within 5 µm of each other
    named = {expected_mm, *NOMINAL_MM.values()}

    def merit(guess):
        is_named = guess.mm_per_unit in named and 3 - guess.sharpness <= blur
        return is_named, guess.up == up if is_named else False, guess.sharpness

    return max(rivals, key=merit)


def _even(boxes, guess, expected_mm):
    """The guess in a named unit near it, where the bricks' sizes say so exactly: builds that stand side by side out of
    step are on one lattice at a scale a little off."""
    for mm in dict.fromkeys([expected_mm, *NOMINAL_MM.values()]):
        near = guess.mm_per_unit != mm and abs(guess.mm_per_unit / mm - 1) <= SHRUNK
        if near and _lacks_the_same(boxes, guess.up, mm):
            return _judged(boxes, replace(guess, mm_per_unit=mm))
    return guess


def _lacks_the_same(boxes, axis, mm):
    """Whether sides of all lengths lack the same of whole studs, as they do at the true scale alone."""
    sides = _sides(boxes, axis).ravel() * mm
    count = np.rint((sides + (MET.off_studs.least + MET.off_studs.most) / 2) / TRADE.pitch)
    lack = count * TRADE.pitch - sides
    whole = (count > 0) & (lack >= MET.off_studs.least) & (lack <= MET.off_studs.most)
    if not whole.any():
        return False
    same = whole & (np.abs(lack - np.median(lack[whole])) <= EXACTLY_MM)
    longer = count > np.median(count[whole])
    return same.sum() >= NEARLY * whole.sum() and (same & longer).sum() >= CHANCE * whole.sum()


def _said(guess, boxes, expected_mm):
    said = []
    if len(boxes) == 1:
        said.append("There is one brick only, so the scale is read off its size alone.")
    found, told = _unit(guess.mm_per_unit), _unit(expected_mm)
    if found != told:
        said.append(f"The bricks measure {found}, not {told} as the file says: the bricks are believed.")
    off = round((1 - guess.on_lattice) * 100)
    if off >= 10:
        said.append(f"{off} % of the objects stand off the brick lattice.")
    return tuple(said)


def _unit(mm):
    named = (name for name, nominal in NOMINAL_MM.items() if abs(mm / nominal - 1.0) < 1e-6)  # a scene's is single
    return next(named, f"{mm:.6g} mm per unit")
