"""The fit's quadratic programme as matrices, for solvers from elsewhere, and the closed-form fit without one.

A row of a contact is the way of one point of b against the same point of a, along one of the contact's axes: along the
normal at the corners of the shared face, along the face at its outermost studs. A rigid motion (shift s, turn w about
a centre c) moves a point p by s + w x (p - c); nothing here comes from the fit's own rows but their limits.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import optimize, sparse

from addon.core.build import contacts
from addon.core.build.bricks import Bricks
from addon.core.build.touching import CORNER, JOINT, REST, SIDE
from addon.core.fit import clearance, problem, rows, solver, targets
from addon.core.fit import limits as of_rows
from addon.core.presets.preset import Fit

SEATS = (JOINT, REST)
FACES = (*SEATS, SIDE)
ALL = (*FACES, CORNER)


@dataclass(frozen=True)
class Programme:
    """minimise 1/2 |x - wanted|^2 subject to low <= A x <= high and least <= x <= most.

    x holds the motions of the moving bricks, turns times the root of their weight, so that all is in millimetres.
    """

    wanted: np.ndarray  # (n,)
    matrix: sparse.csc_matrix  # (m, n)
    low: np.ndarray  # (m,)
    high: np.ndarray  # (m,)
    least: np.ndarray  # (n,)
    most: np.ndarray  # (n,)

    def objective(self, x: np.ndarray) -> float:
        return 0.5 * float(((x - self.wanted) ** 2).sum())

    def violation(self, x: np.ndarray) -> float:
        """How far (mm) x is beyond any row or limit."""
        value = self.matrix @ x
        beyond = [self.low - value, value - self.high, self.least - x, x - self.most]
        return max(0.0, *(float(each.max(initial=0.0)) for each in beyond))

    def certificate(self, x: np.ndarray, near: float) -> tuple[np.ndarray, float]:
        """Multipliers of the rows and limits that x touches within `near` mm, and what they leave unexplained.

        Non-negative least squares on the condition of optimality: x - wanted is a sum of gradients of what x touches,
        each pushing inwards. The residual, relative to |x - wanted|, is 0 at the optimum alone.
        """
        value, own = self.matrix @ x, sparse.identity(len(x), format="csr")
        by_row = self.matrix.tocsr()
        touched = sparse.vstack([
            by_row[value < self.low + near], -by_row[value > self.high - near],
            own[x < self.least + near], -own[x > self.most - near],
        ])  # fmt: skip
        if not touched.shape[0]:
            return np.zeros(0), 1.0
        found = optimize.lsq_linear(touched.toarray().T, x - self.wanted, bounds=(0.0, np.inf))
        return found.x, float(np.linalg.norm(found.fun) / np.linalg.norm(x - self.wanted))


@dataclass(frozen=True)
class Posed:
    """A build's problem: what the fit solves and the same as a programme."""

    bricks: Bricks
    touching: contacts.Contacts  # those contacts that have rows
    goal: targets.Targets
    lean: np.ndarray  # (N, 6) what neighbours share
    low: np.ndarray  # (K, 8) corners, then studs
    high: np.ndarray  # (K, 8)
    own: rows.Rows

    def ours(self, sweeps: int) -> np.ndarray:
        """Motions (N, 6) by the fit's own solver, without the exact check and the repair after it."""
        goal = self.goal
        return solver.closest(goal.wanted, goal.least, goal.most, goal.mobility, self.own, sweeps).motions

    @cached_property
    def moving(self) -> np.ndarray:
        return np.flatnonzero(self.goal.mobility[0] > 0)

    @cached_property
    def _root(self) -> np.ndarray:
        """(M, 6) roots of the moving bricks' weights."""
        shift, turn = 1.0 / np.sqrt(self.goal.mobility[:, self.moving])
        return np.stack([shift] * 3 + [turn] * 3, axis=1)

    def packed(self, motions: np.ndarray) -> np.ndarray:
        return (motions[self.moving] * self._root).ravel()

    def unpacked(self, x: np.ndarray) -> np.ndarray:
        motions = self.goal.wanted.copy()
        motions[self.moving] = x.reshape(-1, 6) / self._root
        return motions

    @cached_property
    def dense_rows(self) -> tuple[np.ndarray, np.ndarray]:
        """Gradients (K, 8, 6) of each row in the motion of a and of b."""
        t = self.touching
        (middle_x, middle_y), (span_x, span_y) = t.stud_middle.T, t.stud_half.T
        nought = np.zeros(len(t))
        places = [(sx * t.half[:, 0], sy * t.half[:, 1]) for sx in (-1, 1) for sy in (-1, 1)]
        places += [(nought, middle_y - span_y), (nought, middle_y + span_y)]
        places += [(middle_x - span_x, nought), (middle_x + span_x, nought)]
        x, y, normal = (t.axes[:, n] for n in range(3))
        a, b = [], []
        for (at_x, at_y), along in zip(places, [normal] * 4 + [x] * 2 + [y] * 2, strict=True):
            point = t.place + at_x[:, None] * x + at_y[:, None] * y
            for gradients, ends, sign in ((a, t.a, -1.0), (b, t.b, 1.0)):
                gradients.append(sign * np.hstack([along, np.cross(point - self.bricks.centre[ends], along)]))
        return np.stack(a, axis=1), np.stack(b, axis=1)

    @cached_property
    def programme(self) -> Programme:
        of_a, of_b = self.dense_rows
        limited = np.isfinite(self.low) | np.isfinite(self.high)
        contact, _ = np.nonzero(limited)
        place = np.full(len(self.bricks), -1)
        place[self.moving] = np.arange(len(self.moving))
        known = np.zeros(len(contact))
        data, row, column = [], [], []
        for gradients, ends in ((of_a[limited], self.touching.a[contact]), (of_b[limited], self.touching.b[contact])):
            free = place[ends] >= 0
            known += np.where(free, 0.0, (gradients * self.goal.wanted[ends]).sum(axis=1))
            data.append((gradients[free] / self._root[place[ends[free]]]).ravel())
            row.append(np.repeat(np.flatnonzero(free), 6))
            column.append((6 * place[ends[free]][:, None] + np.arange(6)).ravel())
        shape = (len(contact), 6 * len(self.moving))
        matrix = sparse.csc_matrix((np.concatenate(data), (np.concatenate(row), np.concatenate(column))), shape)
        return Programme(self.packed(self.goal.wanted), matrix, self.low[limited] - known, self.high[limited] - known,
                         self.packed(self.goal.least), self.packed(self.goal.most))  # fmt: skip

    def clamped(self) -> np.ndarray:
        """Motions (N, 6) without a solver: each brick keeps to half of every limit around the lean that all share.

        What a limit leaves beside the lean is halved between its two bricks, for good; each brick then scales its own
        wish until it keeps to its half: first lift and tilt, then shift and twist into what these leave.
        """
        goal, touching = self.goal, self.touching
        lean = np.where(goal.mobility[0][:, None] > 0, self.lean, goal.wanted)
        lean[goal.pressed, 2:5] = 0.0
        of_a, of_b = self.dense_rows
        settled = (of_a * lean[touching.a][:, None]).sum(-1) + (of_b * lean[touching.b][:, None]).sum(-1)
        shares = (goal.mobility[0][touching.a] > 0).astype(float) + (goal.mobility[0][touching.b] > 0)
        down, up = (
            np.maximum(each, 0.0) / np.maximum(shares, 1.0)[:, None]
            for each in (settled - self.low, self.high - settled)
        )
        wish, kept = goal.wanted - lean, np.zeros_like(lean)
        for dofs in (np.array([0, 0, 1, 1, 1, 0]), np.array([1, 1, 0, 0, 0, 1])):
            scale = np.ones(len(lean))
            for gradients, ends in ((of_a, touching.a), (of_b, touching.b)):
                used = (gradients * kept[ends][:, None]).sum(-1)
                more = (gradients * (wish * dofs)[ends][:, None]).sum(-1)
                with np.errstate(divide="ignore", invalid="ignore"):
                    fits = np.where(more > 0, (up - used) / more, np.where(more < 0, (-down - used) / more, np.inf))
                np.minimum.at(scale, ends, np.clip(fits, 0.0, 1.0).min(axis=1))
            kept = kept + scale[:, None] * wish * dofs
        return lean + kept


def posed(bricks: Bricks, limits: Fit, seed: int = 0, looseness: float = 1.0, kinds: tuple[int, ...] = SEATS) -> Posed:
    """The problem of a build with the rows of these kinds of contacts; by `SEATS` as the fit poses it first.

    The fit then holds `FACES` too. Rows of corners are stricter than the bodies: those may pass on either side.
    """
    shrink = clearance.shrinkage(bricks, limits.clearance_mm)
    touching = contacts.contacts(bricks, shrink)
    goal = targets.targets(bricks, touching, limits, seed, looseness, np.zeros(len(bricks), dtype=bool))
    whole = problem.Problem.of(bricks, touching, goal, shrink, limits, looseness)
    active = np.isin(touching.kind, kinds)
    own = of_rows.rows(whole, active, goal.mobility)
    lean = targets.leaning(bricks, targets.heights(bricks, touching), limits, seed, looseness)
    low, high = (each.repeat(rows.OF_ROWS, axis=1) for each in of_rows.limits(whole, active))
    return Posed(bricks, touching.only(active), goal, lean, low, high, own)


def clarabel(programme: Programme, tolerance: float = 1e-8) -> np.ndarray:
    import clarabel

    matrix = sparse.vstack([programme.matrix, sparse.identity(len(programme.wanted))], format="csr")
    low, high = np.append(programme.low, programme.least), np.append(programme.high, programme.most)
    below, above = np.isfinite(low), np.isfinite(high)
    stacked = sparse.vstack([-matrix[below], matrix[above]], format="csc")
    settings = clarabel.DefaultSettings()
    settings.verbose, settings.max_threads = False, 1
    settings.tol_feas = settings.tol_gap_abs = settings.tol_gap_rel = tolerance
    cones = [clarabel.NonnegativeConeT(stacked.shape[0])]
    weights = sparse.identity(len(programme.wanted), format="csc")
    limits = np.append(-low[below], high[above])
    return np.array(clarabel.DefaultSolver(weights, -programme.wanted, stacked, limits, cones, settings).solve().x)


def osqp(programme: Programme, tolerance: float = 1e-7) -> np.ndarray:
    import osqp

    matrix = sparse.vstack([programme.matrix, sparse.identity(len(programme.wanted))], format="csc")
    low, high = np.append(programme.low, programme.least), np.append(programme.high, programme.most)
    weights = sparse.identity(len(programme.wanted), format="csc")
    model = osqp.OSQP()
    model.setup(
        weights, -programme.wanted, matrix, low, high, eps_abs=tolerance, eps_rel=0.0, max_iter=200_000, verbose=False
    )
    return np.array(model.solve().x)


def piqp(programme: Programme, tolerance: float = 1e-8) -> np.ndarray:
    import piqp

    model = piqp.SparseSolver()
    model.settings.eps_abs, model.settings.eps_rel = tolerance, 0.1 * tolerance
    weights = sparse.identity(len(programme.wanted), format="csc")
    model.setup(weights, -programme.wanted, None, None, programme.matrix, programme.low, programme.high,
                programme.least, programme.most)  # fmt: skip
    model.solve()
    return np.array(model.result.x)


ORACLES: dict[str, Callable[[Programme], np.ndarray]] = {"Clarabel": clarabel, "OSQP": osqp, "PIQP": piqp}
