"""The building site: bricks are put down cell by cell, and courses are laid in bond."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from random import Random
from typing import NamedTuple

from ..parts import PARTS, PITCH, PLATE, Part

Cell = tuple[int, int]
Paint = str | Callable[[], str]

FRONT, RIGHT, BACK, LEFT = range(4)  # quarter turns that bring a slope's low edge to -y, +x, +y, -x
OUTWARD = {FRONT: (0, -1), RIGHT: (1, 0), BACK: (0, 1), LEFT: (-1, 0)}


class Placed(NamedTuple):
    """One brick of the build."""

    part: str
    colour: str
    position: tuple[float, float, float]  # mm, of the middle of the footprint at the brick's foot
    quarter_turns: int  # counter-clockwise about the upright axis


def placed(part: str, colour: str, x: int, y: int, z: float, turns: int = 0) -> Placed:
    """A brick with the low corner of its turned footprint at cell (x, y), `z` mm above the table."""
    nx, ny = PARTS[part].cells if turns % 2 == 0 else PARTS[part].cells[::-1]
    return Placed(part, colour, ((x + nx / 2) * PITCH, (y + ny / 2) * PITCH, z), turns)


class _Spot(NamedTuple):
    part: Part
    cells: frozenset[Cell]
    corner: Cell
    turns: int


@dataclass
class Site:
    """A plot of `cells` pitches whose middle is the origin; levels count plates from the table."""

    cells: Cell
    seed: int
    bricks: list[Placed] = field(default_factory=list)
    taken: dict[tuple[int, int, int], int] = field(default_factory=dict)  # (x, y, level) -> brick
    studs: set[tuple[int, int, int]] = field(default_factory=set)  # (x, y, level a brick on it stands at)

    def __post_init__(self) -> None:
        self.luck = Random(self.seed)

    def put(self, part: str, colour: str, x: float, y: float, level: int, turns: int = FRONT) -> None:
        """One brick with the low corner of its turned footprint at cell (x, y); halves only on a jumper."""
        kind = PARTS[part]
        nx, ny = kind.cells if turns % 2 == 0 else kind.cells[::-1]
        middle = ((x + nx / 2 - self.cells[0] / 2) * PITCH, (y + ny / 2 - self.cells[1] / 2) * PITCH, level * PLATE)
        self._take(kind, int(x), int(y), nx, ny, level)
        for sx, sy in kind.studs:
            for _ in range(turns % 4):
                sx, sy = -sy, sx
            cell = (int(x + nx / 2 + sx / PITCH), int(y + ny / 2 + sy / PITCH))
            self.studs.add((*cell, level + kind.plates))
        self.bricks.append(Placed(part, colour, middle, turns % 4))

    def free(self, x: int, y: int, level: int, plates: int = 1) -> bool:
        """Whether the cell lies on the plot and is empty over so many plates."""
        inside = 0 <= x < self.cells[0] and 0 <= y < self.cells[1]
        return inside and all((x, y, level + k) not in self.taken for k in range(plates))

    def standing(self, x: int, y: int, level: int) -> bool:
        """Whether a brick at this cell and level would be held: by a stud, or by the table."""
        return level == 0 or (x, y, level) in self.studs

    def lay(self, cells: Iterable[Cell], level: int, kind: str, sizes: str, paint: Paint) -> None:
        """Cover cells with parts of a kind, in bond: pieces that bridge the seams of the course below win.

        Cells that are taken are left out; `sizes` as in "1x2 2x4". Raises ValueError where nothing can be held.
        """
        plates = PARTS[f"{kind}_{sizes.split()[0]}"].plates
        rest = {c for c in cells if self.free(*c, level, plates)}
        whole, flip = frozenset(rest), level % 2
        while rest:
            start = min(rest, key=lambda c: c if flip else c[::-1])
            spots = [s for s in self._spots(start, kind, sizes) if s.cells <= rest and self._held(s, level)]
            if not spots:
                raise ValueError(f"nothing holds a {kind} at {start}, level {level}")
            best = max(spots, key=lambda s: self._bond(s, level, whole) + self.luck.random())
            colour = paint if isinstance(paint, str) else paint()
            self.put(best.part.name, colour, *best.corner, level, best.turns)
            rest -= best.cells

    def _take(self, kind: Part, x: int, y: int, nx: int, ny: int, level: int) -> None:
        for key in ((x + i, y + j, level + k) for i in range(nx) for j in range(ny) for k in range(kind.plates)):
            if key in self.taken:
                raise ValueError(f"{kind.name} at {(x, y, level)} runs into {self.bricks[self.taken[key]]}")
            self.taken[key] = len(self.bricks)

    def _spots(self, start: Cell, kind: str, sizes: str) -> Iterable[_Spot]:
        for size in sizes.split():
            part = PARTS[f"{kind}_{size}"]
            for turns in (0, 1) if part.cells[0] != part.cells[1] else (0,):
                nx, ny = part.cells if turns == 0 else part.cells[::-1]
                for x in range(start[0] - nx + 1, start[0] + 1):
                    for y in range(start[1] - ny + 1, start[1] + 1):
                        cells = frozenset((x + i, y + j) for i in range(nx) for j in range(ny))
                        yield _Spot(part, cells, (x, y), turns)

    def _held(self, spot: _Spot, level: int) -> bool:
        return any(self.standing(*c, level) for c in spot.cells)

    def _bond(self, spot: _Spot, level: int, whole: frozenset[Cell]) -> float:
        """Larger is better: covers much, ties bricks below together, starts no seam above a seam."""
        below = {c: self.taken.get((*c, level - 1)) for c in spot.cells}
        tied = len({b for c, b in below.items() if b is not None and self.standing(*c, level)})
        stacked = 0
        for x, y in spot.cells:
            for dx, dy in OUTWARD.values():
                beyond = (x + dx, y + dy)
                if beyond in whole and beyond not in spot.cells:
                    stacked += below[(x, y)] != self.taken.get((*beyond, level - 1))
        return 0.5 * len(spot.cells) + 1.5 * tied - 1.2 * stacked
