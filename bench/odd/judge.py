"""Whether a fit holds on bodies that the tool was told nothing of: true convex pieces, known by construction.

    python -m bench.odd.judge [NAME ...]

For each build, two seeds (ten for the smallest), looseness 1 and 2: the pieces moved by scipy's rotations, each pair
that meets measured along all faces of its Minkowski difference, less what the same pair shares at rest; python-fcl is
asked whether the same pairs meet.
Prints a line a build, the worst of its fits:

cut      mm that a pair lies deeper in each other than at rest, and between which parts
step     mm that a stud has gone across its own axis, seen from the brick that it stands in
check    what the tool itself says of the same fit's cuts
off      the same against the judge for bricks thrown about at random, where there is much to be found
unheld   pairs that a stud joins in truth and no joint of the tool's
false    pairs that the tool says cut in the export where none in truth shares more than it lets pass
export   mm that bodies lie in each other in the export
rest     mm that a pair lies deeper at rest than in the export, its bodies shrunk by the clearance
calm     share of the bricks that went back to less than they wanted, no other way being left
fcl      pairs of all fits about which python-fcl says otherwise
fit, s   seconds: of all fits, and of the judge
"""

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from time import perf_counter

import fcl
import numpy as np
from scipy.spatial import ConvexHull
from scipy.spatial.transform import Rotation

from addon.core.build.contacts import CUT_MM
from addon.core.build.cuts import cut_pairs
from addon.core.fit import clearance, fit, overlap
from addon.core.fit.motions import Motions
from addon.core.presets.preset import Fit

from .builds import NAMES, Build, build
from .hulls import Hull, depth
from .parts import odd

DEEPEST_MM, AGREED_MM = 1e-6, 1e-4
LOOSENESS = 1.0, 2.0
LIMITS = Fit(
    shift_mm=0.06, lift_mm=0.04, twist_deg=1.5, tilt_deg=0.15, clearance_mm=0.1, play_mm=0.05, lean_mm=0.05,
    neatness=0.5,
)  # fmt: skip
_INSIDE_MM, _IN_SOCKET_MM = 1.5, 0.8  # around a stud's axis and above its foot lies the brick that holds it
_FCL_MM = 1e-4  # python-fcl's own tolerance leaves shallower ones open


@dataclass(frozen=True)
class Verdict:
    cut: float
    between: str
    step: float
    check: float
    pairs: int  # that lie in each other after the fit
    calm: float  # share of the bricks that went back to less than they wanted
    seconds: float  # that the fit took
    doubted: int  # pairs about which python-fcl says otherwise

    @property
    def kept(self) -> bool:
        step_kept = self.step <= LIMITS.play_mm + DEEPEST_MM
        return self.cut <= DEEPEST_MM and step_kept and abs(self.check - self.cut) <= AGREED_MM


class Court:
    """A build's true bodies."""

    def __init__(self, what: Build):
        self.build, self.bricks = what, what.bricks()
        self.odds = [odd(brick.part, what.style) for brick in what.laid]
        self.brick = np.repeat(np.arange(len(what)), [len(each.pieces) for each in self.odds])
        self._hulls: dict[tuple[str, bytes], list[Hull]] = {}

    def bodies(self, motions: Motions) -> list[Hull]:
        """All pieces where the motions take them, brick by brick."""
        turned = Rotation.from_rotvec(motions.turn).as_matrix()
        found, bricks = [], self.bricks
        for n in range(len(bricks)):
            turn, about = bricks.turn[n], bricks.centre_in_part[n]
            shift = bricks.origin[n] + turn @ about - bricks.centre[n]
            for hull in self._shrunk(n, motions.shrink[n]):
                found.append(hull.posed(turned[n] @ turn, bricks.centre[n] + motions.shift[n] + turned[n] @ shift))
        return found

    def _shrunk(self, n: int, shrink: np.ndarray) -> list[Hull]:
        """A brick's pieces, shrunk about the body's centre and seen from there."""
        key = self.build.laid[n].part, shrink.tobytes()
        if key not in self._hulls:
            about = self.bricks.centre_in_part[n]
            self._hulls[key] = [Hull.around((piece - about) * shrink) for piece in self.odds[n].pieces]
        return self._hulls[key]

    def depths(self, bodies: list[Hull], pairs: np.ndarray | None = None) -> dict[tuple[int, int], float]:
        """How deep (mm) pieces of two bricks lie in each other: all that do, or some pairs (P, 2)."""
        found = {}
        for i, j in (self.near(bodies) if pairs is None else pairs).tolist():
            deep = depth(bodies[i], bodies[j])
            if deep > 0.0:
                found[i, j] = deep
        return found

    def near(self, bodies: list[Hull]) -> np.ndarray:
        """Pairs (P, 2) of pieces of two bricks whose upright boxes meet."""
        low, high = (np.array([end(body.vertices, axis=0) for body in bodies]) for end in (np.min, np.max))
        meet = self.brick[:, None] < self.brick[None]
        for axis in range(3):
            meet &= (low[:, None, axis] <= high[None, :, axis]) & (low[None, :, axis] <= high[:, None, axis])
        return np.argwhere(meet)

    def cuts(self, motions: Motions) -> tuple[dict[tuple[int, int], float], int]:
        """What pairs of pieces share (mm) beyond what they share at rest, and how many share anything."""
        now = self.depths(self.bodies(motions))
        before = self.depths(self.bodies(still(motions.shrink)), np.array(list(now), dtype=int).reshape(-1, 2))
        return {pair: deep - before.get(pair, 0.0) for pair, deep in now.items()}, len(now)

    def called(self, pair: tuple[int, int]) -> str:
        return " / ".join(sorted(self.build.laid[self.brick[n]].part for n in pair))

    @cached_property
    def held(self) -> list[tuple[int, int, np.ndarray, np.ndarray]]:
        """Each stud that stands in another brick: whose, in which, where its axis leaves its body and its direction."""
        bodies = self.bodies(still(np.ones((len(self.bricks), 3))))
        low, high = (np.array([end(body.vertices, axis=0) for body in bodies]) for end in (np.min, np.max))
        found = []
        for n, part in enumerate(self.odds):
            turn, origin = self.bricks.turn[n], self.bricks.origin[n]
            for place, way in zip(part.studs @ turn.T + origin, part.ways @ turn.T, strict=True):
                points = _around(place + _IN_SOCKET_MM * way, way)
                near = np.flatnonzero((low < points.max(0)).all(1) & (high > points.min(0)).all(1) & (self.brick != n))
                for other in np.unique(self.brick[near]):
                    held = np.any([_holds(bodies[k], points) for k in near if self.brick[k] == other], axis=0)
                    assert held.all() or not held.any(), f"{self.bricks.names[n]} half in {self.bricks.names[other]}"
                    if held.all():
                        found.append((n, int(other), place, way))
        return found

    def step(self, motions: Motions) -> float:
        """The widest radial step (mm) of any stud that is held."""
        turned, widest = Rotation.from_rotvec(motions.turn).as_matrix() - np.eye(3), 0.0
        for a, b, place, way in self.held:
            gone = [motions.shift[n] + turned[n] @ (place - self.bricks.centre[n]) for n in (a, b)]
            step = gone[0] - gone[1]
            widest = max(widest, float(np.linalg.norm(step - (step @ way) * way)))
        return widest

    def verdict(self, seed: int, looseness: float) -> Verdict:
        started = perf_counter()
        found = fit.fitted(self.bricks, LIMITS, seed, looseness)
        seconds = perf_counter() - started
        cuts, pairs = self.cuts(found.motions)
        worst = max(cuts, key=cuts.__getitem__, default=None)
        said = overlap.largest_interference(self.bricks, found.contacts, found.motions)
        cut, between = (max(cuts[worst], 0.0), self.called(worst)) if worst else (0.0, "")
        calm = max(float((found.share < 1.0).mean()), found.held_back / len(self.bricks))
        doubted = sum(1 for _ in self.doubted(found.motions))
        return Verdict(cut, between, self.step(found.motions), said, pairs, calm, seconds, doubted)

    def doubted(self, motions: Motions) -> Iterator[tuple[int, int]]:
        """Pairs of pieces that python-fcl says meet where the measure says they do not, or the other way round."""
        bodies = self.bodies(motions)
        shapes = [fcl.CollisionObject(fcl_shape(body)) for body in bodies]
        for i, j in self.near(bodies).tolist():
            result = fcl.CollisionResult()
            collides = fcl.collide(shapes[i], shapes[j], fcl.CollisionRequest(), result) > 0
            deep = depth(bodies[i], bodies[j])
            if abs(deep) > _FCL_MM and collides != (deep > 0):
                yield i, j


def off(court: Court, seed: int) -> float:
    """How far (mm) the tool and the judge are apart about bricks that are thrown about at random."""
    rng = np.random.default_rng(seed)
    still_ = fit.fitted(court.bricks, LIMITS, seed, 0.0)
    table = rng.normal(size=(len(court.bricks), 6)) * ([0.05] * 3 + [0.004] * 3)
    motions = Motions.packed(table, still_.motions.shrink)
    said = overlap.largest_interference(court.bricks, still_.contacts, motions)
    return said - max([0.0, *court.cuts(motions)[0].values()])


def unheld(court: Court) -> int:
    found = fit.fitted(court.bricks, LIMITS, 1, 0.0).contacts.joints
    told = {tuple(sorted(pair)) for pair in found.tolist()}
    return len({tuple(sorted((a, b))) for a, b, *_ in court.held} - told)


def false(court: Court) -> int:
    """How many pairs the tool says cut in the export that do not."""
    true = court.depths(court.bodies(still(np.ones((len(court.bricks), 3)))))
    cut = {tuple(court.brick[list(pair)].tolist()) for pair, deep in true.items() if deep > CUT_MM}
    return len({tuple(sorted(pair)) for pair in cut_pairs(court.bricks).tolist()} - cut)


def rest_of(court: Court) -> tuple[float, float]:
    """How deep (mm) bodies lie in each other in the export, and how much deeper once they are shrunk."""
    export = court.depths(court.bodies(still(np.ones((len(court.bricks), 3)))))
    shrunk = court.depths(court.bodies(still(clearance.shrinkage(court.bricks, LIMITS.clearance_mm))))
    return max([0.0, *export.values()]), max([0.0, *(d - export.get(p, 0.0) for p, d in shrunk.items())])


def still(shrink: np.ndarray) -> Motions:
    return Motions.packed(np.zeros((len(shrink), 6)), shrink)


def _around(place: np.ndarray, way: np.ndarray) -> np.ndarray:
    """A point and four around it (5, 3)."""
    u = np.cross(way, np.eye(3)[np.abs(way).argmin()])
    u /= np.linalg.norm(u)
    v = np.cross(way, u)
    return place + _INSIDE_MM * np.array([0 * u, u, -u, v, -v])


def _holds(body: Hull, points: np.ndarray) -> np.ndarray:
    """Which points (P,) lie inside."""
    along = points @ body.normals.T
    own = body.vertices @ body.normals.T
    return ((along <= own.max(axis=0) + 1e-9) & (along >= own.min(axis=0) - 1e-9)).all(axis=1)


def fcl_shape(body: Hull) -> fcl.Convex:
    """A body as python-fcl takes it, its triangles turned outward."""
    hull = ConvexHull(body.vertices)
    faces = []
    for (a, b, c), plane in zip(hull.simplices, hull.equations, strict=True):
        out = np.cross(body.vertices[b] - body.vertices[a], body.vertices[c] - body.vertices[a]) @ plane[:3] > 0
        faces.append((3, a, b, c) if out else (3, a, c, b))
    return fcl.Convex(body.vertices, len(faces), np.array(faces).ravel())


def main(*names: str) -> int:
    print(f"{'build':16}{'bricks':>7}{'pairs':>6}{'cut':>10}{'step':>8}{'check':>10}{'off':>9}{'unheld':>7}{'false':>6}{'export':>8}"
          f"{'rest':>8}{'calm':>6}{'fcl':>5}{'fit':>7}{'s':>6}  worst between")  # fmt: skip
    wrong, began, fits = [], perf_counter(), 0.0
    for name in names or NAMES:
        started, court = perf_counter(), Court(build(name))
        all_ = [court.verdict(seed, looseness) for seed in court.build.seeds for looseness in LOOSENESS]
        worst = max(all_, key=lambda each: each.cut)
        step, said, calm = (max(getattr(each, what) for each in all_) for what in ("step", "check", "calm"))
        seconds, doubted = sum(each.seconds for each in all_), sum(each.doubted for each in all_)
        export, rest = rest_of(court)
        if not all(each.kept for each in all_):
            wrong.append(name)
        told = worst.between if worst.cut > DEEPEST_MM else ""
        print(f"{name:16}{len(court.bricks):7}{worst.pairs:6}{worst.cut:10.6f}{step:8.4f}{said:10.6f}"
              f"{off(court, 1):9.4f}{unheld(court):7}{false(court):6}{export:8.4f}{rest:8.4f}{calm:6.2f}{doubted:5}"
              f"{seconds:7.1f}{perf_counter() - started - seconds:6.1f}  {told}", flush=True)  # fmt: skip
        fits += seconds
    took = perf_counter() - began
    print(f"{len(names or NAMES)} builds: {fits:.0f} s of fits, {took - fits:.0f} s of judging")
    print(f"{len(wrong)} not kept: {' '.join(wrong)}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
