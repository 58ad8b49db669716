"""The fit: motions close to seeded targets that joints, neighbours and tolerances allow together.

bricks ─▶ contacts ─▶ targets ─▶ closest motions ─▶ exact check ─▶ repair where bodies still cut
"""

from dataclasses import dataclass
from functools import partial

import numpy as np

from . import colouring, interference, play, preset, rigid
from . import rows as constraint
from .bricks import Bricks, Pieces
from .contacts import JOINT, REST, Contacts, contacts
from .parts import PITCH
from .remembered import digest, remembered
from .rows import Rows
from .solver import closest
from .targets import Targets, rise, targets

MARGIN_MM = 5e-4  # kept clear of every limit: pays for what the rows, being linear, leave out
SWEEPS = 12  # brings the objective within 0.1 % of the optimum at a looseness of 1
REPAIRS = 6  # attempts at the most, from the third on with twice the sweeps each, and ever wider around
_EXACT_MM = 1e-7  # a cut shallower than this is none
_GRID = np.repeat([2.0**-14, 2.0**-18], 3)  # mm and radians that solved motions are rounded to: 0.06 micrometres
_HOPS = 2  # neighbourhood first solved again


@dataclass(frozen=True)
class Motions:
    """Small rigid motions of N bricks about their bodies' centres, in the build's frame, and their shrinkage."""

    shift: np.ndarray  # (N, 3) mm: sideways, sideways, lift
    turn: np.ndarray  # (N, 3) rotation vectors in radians: tilt, tilt, twist
    shrink: np.ndarray  # (N, 3) factors along the part's own axes


@dataclass(frozen=True)
class Fitted:
    """A solved fit and what it took."""

    motions: Motions
    contacts: Contacts
    repaired: int  # contacts that the exact checks sent back
    cut: int  # contacts not kept in the end; 0 unless the limits leave no way out


def fitted(bricks: Bricks, fit: preset.Fit, seed: int, looseness: float, fixed: np.ndarray | None = None) -> Fitted:
    """The fit of a build. What a brick does depends on its key, its neighbourhood, the seed and the limits alone.

    `fixed` (N,) are bricks that cannot be moved; the others keep clear of them.
    """
    shrink = shrinkage(bricks, fit.clearance_mm)
    place = digest(bricks.key, bricks.part, bricks.origin, bricks.turn, shrink)
    touching: Contacts = remembered("contacts", place, lambda: contacts(bricks, shrink))
    if looseness <= 0.0:
        still = np.zeros((len(bricks), 3))
        return Fitted(Motions(still, still.copy(), shrink), touching, 0, 0)
    fixed = np.zeros(len(bricks), dtype=bool) if fixed is None else fixed
    goal = targets(bricks, touching, fit, seed, looseness, fixed)
    problem = Problem(bricks, touching, goal, shrink, fit, looseness, place)
    motions = problem.solved()
    motions, repaired, cut = problem.repaired(motions)
    return Fitted(Motions(motions[:, :3].copy(), motions[:, 3:].copy(), shrink), touching, repaired, cut)


def shrinkage(bricks: Bricks, clearance_mm: float) -> np.ndarray:
    """Factors (N, 3) along the part's axes that leave `clearance_mm` on each side, where the export leaves less."""
    size = 2.0 * bricks.half_in_part
    missing = np.maximum(clearance_mm - _clearance_in_export(size), 0.0)
    level = np.abs(bricks.turn[:, 2, :]) < 0.7
    return np.where(level, (size - 2.0 * missing) / size, 1.0)


def moved(bricks: Bricks, motions: Motions) -> Pieces:
    """The boxes of all bodies after their motions."""
    pieces = bricks.pieces(motions.shrink)
    turn, shift = rigid.rotation(motions.turn)[pieces.brick], motions.shift[pieces.brick]
    about = bricks.centre[pieces.brick]
    return Pieces(
        pieces.brick,
        about + shift + rigid.turned(turn, pieces.centre - about),
        pieces.half,
        rigid.product(turn, pieces.turn),
        np.zeros(len(pieces.brick), dtype=bool),
    )


def _clearance_in_export(size: np.ndarray) -> np.ndarray:
    """What the export leaves on each side of a body of this size: the rest to a whole number of half pitches."""
    half_pitch = 0.5 * PITCH
    return 0.5 * (np.ceil(size / half_pitch - 1e-4) * half_pitch - size)


class Problem:
    """One build's rows and targets, solved whole and again in part."""

    def __init__(
        self,
        bricks: Bricks,
        touching: Contacts,
        goal: Targets,
        shrink,
        fit: preset.Fit,
        looseness: float,
        place: bytes = b"",
    ):
        self.bricks, self.touching, self.goal, self.shrink, self.play = bricks, touching, goal, shrink, fit.play_mm
        self.place = place  # tells this build's contacts from all others; without it nothing is remembered
        self.low, self.high = _limits(bricks, touching, goal.pressed, fit, looseness)
        self.active = np.isin(touching.kind, (JOINT, REST))
        self.priority = colouring.priorities(bricks.key, touching.a, touching.b, touching.kind)
        self.radius = rigid.length(bricks.half)

    def solved(self) -> np.ndarray:
        goal = self.goal
        work = partial(self._unlimited, self.active, goal.mobility)
        held: Rows = remembered("rows", self.place + digest(goal.mobility), work) if self.place else work()
        rows = held.limited(self.low[self.active], self.high[self.active])
        return _rounded(closest(goal.wanted, goal.least, goal.most, goal.mobility, rows, SWEEPS))

    def repaired(self, motions: np.ndarray) -> tuple[np.ndarray, int, int]:
        """Sends contacts back that are not kept, with their neighbourhoods, until none is left."""
        touching, sent_back = self.touching, 0
        wrong = self._wrong(motions, np.arange(len(touching)))
        for attempt in range(REPAIRS):
            if not len(wrong):
                break
            sent_back += len(wrong)
            free = self._around(wrong, _HOPS + attempt)
            motions = self._solved_again(motions, free, 2 * SWEEPS << max(attempt - 1, 0))
            wrong = self._wrong(motions, np.flatnonzero(free[touching.a] | free[touching.b]))
        return motions, sent_back, len(wrong)

    def _wrong(self, motions: np.ndarray, among: np.ndarray) -> np.ndarray:
        """Those of some contacts where bodies cut or studs leave their play; they are active from now on.

        One whose rows are kept all the same is beyond what is linear: its limits are drawn tighter by as much.
        """
        touching = self.touching
        reach = rigid.length(motions[:, :3]) + rigid.length(motions[:, 3:]) * self.radius
        among = among[reach[touching.a[among]] + reach[touching.b[among]] >= touching.gap[among]]
        pairs = np.stack([touching.piece_a[among], touching.piece_b[among]], axis=1)
        after = moved(self.bricks, Motions(motions[:, :3], motions[:, 3:], self.shrink))
        at_rest = np.maximum(-touching.gap[among], 0.0)  # the export's own
        depth = interference.cuts(after, pairs, touching.axes[among, 2]) - at_rest
        over = np.zeros(len(among))
        joint = touching.kind[among] == JOINT
        steps = play.steps(self.bricks, touching, among[joint], motions[:, :3], motions[:, 3:])
        over[joint] = steps - max(self.play, MARGIN_MM)
        bad = (depth > _EXACT_MM) | (over > _EXACT_MM)
        wrong, depth, over = among[bad], np.maximum(depth[bad], 0.0), np.maximum(over[bad], 0.0)
        kept = self.active[wrong] & (self._excess(motions, wrong) < 0.5 * MARGIN_MM)
        self._tighten(wrong[kept], depth[kept], over[kept])
        self.active[wrong] = True
        return wrong

    def _tighten(self, contact: np.ndarray, depth: np.ndarray, over: np.ndarray) -> None:
        self.low[contact, :4] += np.where(depth > 0, depth + MARGIN_MM, 0.0)[:, None]
        joint = self.touching.kind[contact] == JOINT
        tighter = self.high[contact[joint], 4:] - np.where(over > 0, over + MARGIN_MM, 0.0)[joint, None]
        self.high[contact[joint], 4:] = np.maximum(tighter, 0.0)
        self.low[contact[joint], 4:] = -np.maximum(tighter, 0.0)

    def _excess(self, motions: np.ndarray, contact: np.ndarray) -> np.ndarray:
        """How far (mm) the rows of some contacts are beyond their limits, in the order of the contacts."""
        chosen = np.zeros(len(self.touching), dtype=bool)
        chosen[contact] = True
        return constraint.excess(self._rows(chosen, self.goal.mobility), motions)

    def _around(self, contact: np.ndarray, hops: int) -> np.ndarray:
        """Which bricks (N,) stand within some hops of some contacts."""
        near = np.zeros(len(self.bricks), dtype=bool)
        near[self.touching.a[contact]] = near[self.touching.b[contact]] = True
        a, b = self.touching.a[self.active], self.touching.b[self.active]
        for _ in range(hops):
            reached = near[a] | near[b]
            near[a[reached]] = near[b[reached]] = True
        return near

    def _solved_again(self, motions: np.ndarray, free: np.ndarray, sweeps: int) -> np.ndarray:
        """The motions with those of the free bricks solved anew, among all others as they are."""
        goal, held = self.goal, ~free[:, None]
        chosen = self.active & (free[self.touching.a] | free[self.touching.b])
        mobility = np.where(free, goal.mobility, 0.0)
        wanted, least, most = (np.where(held, motions, each) for each in (goal.wanted, goal.least, goal.most))
        solved = closest(wanted, least, most, mobility, self._rows(chosen, mobility), sweeps)
        return np.where(held, motions, _rounded(solved))

    def _rows(self, chosen: np.ndarray, mobility: np.ndarray) -> Rows:
        return self._unlimited(chosen, mobility).limited(self.low[chosen], self.high[chosen])

    def _unlimited(self, chosen: np.ndarray, mobility: np.ndarray) -> Rows:
        some = self.touching.only(chosen)
        moving = mobility[0] > 0
        (x, y), (span_x, span_y) = some.stud_middle.T, some.stud_half.T
        return constraint.rows(
            some.a,
            some.b,
            some.axes,
            some.place,
            some.half,
            np.stack([-y - span_y, -y + span_y, x + span_x, x - span_x], axis=1),
            self.bricks.centre,
            mobility,
            colouring.colours(some.a, some.b, moving, self.priority[chosen]),
        )


def _rounded(motions: np.ndarray) -> np.ndarray:
    """Motions (N, 6) on a grid far below any limit: what a distant change does to the last bits ends here."""
    return np.rint(motions / _GRID) * _GRID


def _limits(
    bricks: Bricks, touching: Contacts, pressed: np.ndarray, fit: preset.Fit, looseness: float
) -> tuple[np.ndarray, np.ndarray]:
    """Lowest and highest value (K, 8) of each contact's rows."""
    joint, gap = touching.kind == JOINT, touching.gap
    lift = fit.lift_mm * looseness
    margin = np.where(joint, min(MARGIN_MM, lift / 12.0), np.minimum(MARGIN_MM, 0.5 * np.maximum(gap, 0.0)))
    margin = np.where(touching.kind == REST, min(MARGIN_MM, lift / 12.0), margin)
    margin[pressed[touching.a] & pressed[touching.b]] = 0.0
    low, high = np.full((len(gap), 8), -np.inf), np.full((len(gap), 8), np.inf)
    low[:, :4] = (margin - np.maximum(gap, 0.0))[:, None]
    climb = rise(fit, looseness) * np.abs(bricks.low[touching.b, 2] - bricks.low[touching.a, 2])
    high[joint, :4] = (np.maximum(lift, 1.5 * climb) - gap)[joint, None]
    play = max(fit.play_mm - MARGIN_MM, 0.0)
    low[joint, 4:], high[joint, 4:] = -play, play
    return low, high
