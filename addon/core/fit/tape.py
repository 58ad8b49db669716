"""The meeting of a block of contacts as a tape of numpy calls: `meeting.meet` to the bit, in a quarter of the time.

What is done is listed once, as calls of two operands and a result, and played again in every sweep: nothing is looked
up, cut out or allocated then, which in small blocks takes longer than the sums. The greater of a value and itself is a
copy.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import prod
from typing import Annotated, get_type_hints

import numpy as np

from .rows import OF_ROWS, Frame, Rows

FEW = 8192  # contacts: an array of fewer is quicker to go over in one piece, of more would only take room twice

_BRICK = "V32"  # one brick's motion, gathered and scattered as one piece: six float32, and two that fill it up
_WIDTH = 8  # of such a record, in numbers
_LIMIT_OF_ROW = np.repeat(np.arange(len(OF_ROWS)), OF_ROWS).tolist()
_ONWARD = (slice(0, 3), slice(3, 5), slice(5, 6))  # of a give: what a row does to the rows met after it
_CORNERS, _STUDS = slice(0, 4), slice(4, 8)  # of a contact's eight rows

# The same, as nothing here is NaN: numpy 1 takes a third of the time for the first, newer ones want its result named.
GREATER, LESSER = (np.fmax, np.fmin) if np.lib.NumpyVersion(np.__version__) >= "2.0.0" else (np.maximum, np.minimum)

_Call = tuple[np.ufunc, np.ndarray, np.ndarray, np.ndarray]  # of two operands, and where the result goes


@dataclass(frozen=True)
class Workspace:
    """What k contacts are met in: float32 arrays, k last; both bricks of each stand side by side before, a then b.

    Blocks take turns in one room: it stays in the cache.
    """

    records: Annotated[np.ndarray, (_WIDTH, 2)]  # motions of the bricks, as they are gathered and scattered
    motion: Annotated[np.ndarray, (9, 2)]  # shift and turn in the build's axes, and room for x and y of the turn again
    turned: Annotated[np.ndarray, (9, 2)]  # the same in the contacts' axes, where these are others
    way: Annotated[np.ndarray, (3, 2)]  # of cross products and matrices, the first terms
    more: Annotated[np.ndarray, (6, 2)]  # and the second; then what bricks are moved by
    coupled: Annotated[np.ndarray, (3, 3)]  # what the corners' force does to w, x and y, by n, wx and wy
    seen: Annotated[np.ndarray, (6,)]  # how b has moved against a: wx, wy, w, x, y, n
    value: Annotated[np.ndarray, (4,)]  # of four rows
    sums: Annotated[np.ndarray, (4,)]  # of two rows each
    given: Annotated[np.ndarray, (3,)]  # what the row just met does to those after it
    push: Annotated[np.ndarray, (8,)]  # what each row's force changes by
    force: Annotated[np.ndarray, (5, 1)]  # the same together, along x, y, n, and x and y again
    load: Annotated[np.ndarray, (4,)]  # of the corners: along n, turns about x and y; then the studs' turn about n

    @classmethod
    def numbers(cls, contacts: int) -> int:
        """How many numbers it takes."""
        return contacts * sum(map(prod, _SHAPES.values()))

    @classmethod
    def within(cls, room: np.ndarray, contacts: int) -> "Workspace":
        """One for so many contacts, cut out of a room of numbers."""
        arrays, start = {}, 0
        for name, shape in _SHAPES.items():
            stop = start + prod(shape) * contacts
            arrays[name] = room[start:stop].reshape(*shape, contacts)
            start = stop
        return cls(**arrays)


_SHAPES = {name: of.__metadata__[0] for name, of in get_type_hints(Workspace, include_extras=True).items()}


@dataclass(frozen=True)
class Constants:
    """What is known of k contacts before any is met; as `Rows` holds it, in one piece where there are few."""

    frame: Frame
    ends: np.ndarray  # (2 k,) the bricks, all a then all b
    arm_second: np.ndarray  # (3, 2, k) y, z, x of the arms, the second factors of cross products
    arm_third: np.ndarray  # (3, 2, k) z, x, y
    half: np.ndarray  # (2, k)
    stud: np.ndarray  # (4, k)
    mass: np.ndarray  # (8, k)
    coupling: np.ndarray  # (3, 3, k)
    give: tuple[np.ndarray, np.ndarray]  # (6, k) of corners and of studs
    low: list[np.ndarray]  # of each of the eight rows (k,)
    high: list[np.ndarray]
    shift: np.ndarray  # (2, k) how far a push along n moves each brick along n: a the other way
    turn: np.ndarray  # (2, k) the same of turns

    @classmethod
    def of(cls, rows: Rows, part: slice, mobility: np.ndarray) -> "Constants":
        """Those of the contacts in a part of one colour, between bricks with `mobility` (2, N)."""
        few = part.stop - part.start < FEW
        arm, half, stud, mass, coupling = (
            np.ascontiguousarray(each[..., part]) if few else each[..., part]
            for each in (rows.arm, rows.half, rows.stud, rows.mass, rows.coupling)
        )
        ends = np.concatenate([rows.a[part], rows.b[part]]).astype(np.intp)
        pushed = np.array([[-1.0], [1.0]], dtype=np.float32)  # b is pushed, a pushed back
        shift, turn = mobility.take(ends, axis=1).reshape(2, 2, -1) * pushed
        low, high = ([each[n, part] for n in _LIMIT_OF_ROW] for each in (rows.low, rows.high))
        give = rows.give_corner[:, part], rows.give_stud[:, part]
        return cls(
            rows.frame_of(part), ends, arm[:3], arm[1:], half, stud, mass, coupling, give, low, high, shift, turn
        )


class Block:
    """Contacts of one colour, met at once.

    `state` (N, 8) float32 are the bricks' motions as `records`, changed in place; `pull` (8 K,) float32 of all blocks:
    how far (mm) each row's force moves its own value, its multiplier times its compliance.
    """

    def __init__(self, rows: Rows, part: slice, mobility: np.ndarray, state: np.ndarray, pull: np.ndarray, room):
        number = part.stop - part.start
        self.part = part
        self._bricks = state.view(_BRICK)[:, 0]
        self._of, self._in = Constants.of(rows, part, mobility), Workspace.within(room, number)
        self._pull = pull[8 * part.start : 8 * part.stop].reshape(8, -1)
        gathered = self._in.records
        self._packed = gathered.reshape(-1, _WIDTH).view(_BRICK)[:, 0]
        self._columns = np.moveaxis(gathered.reshape(2, number, _WIDTH), 2, 0)[:6]
        self._state = self._in.motion[:6]
        told = self._of, self._in
        self._meeting = [
            *_seen_apart(*told), *_corners_seen(*told), *_met(*told, self._pull, _CORNERS), *_corners_summed(*told),
            *_coupled_on(*told), *_studs_seen(*told), *_met(*told, self._pull, _STUDS),
            *_bricks_pulled(*told, self._columns),
        ]  # fmt: skip

    @property
    def forces(self) -> np.ndarray:
        """(k, 8) multipliers of the rows, as they are met now."""
        return (self._pull * self._of.mass).T

    def begin(self, forces: np.ndarray) -> None:
        """Puts the forces (k, 8) that the rows begin with onto the two bricks: a warm start."""
        np.divide(forces.T, self._of.mass, self._pull)
        np.multiply(self._pull, self._of.mass, self._in.push)
        told = self._of, self._in
        self._play([*_corners_summed(*told), *_bricks_pulled(*told, self._columns)])

    def meet(self) -> None:
        """One pass over the eight rows of each contact; their pull goes onto the two bricks."""
        self._play(self._meeting)

    def _play(self, tape: list[_Call]) -> None:
        self._bricks.take(self._of.ends, 0, self._packed, "clip")
        np.copyto(self._state, self._columns)
        for work, first, second, result in tape:
            work(first, second, result)
        self._bricks.put(self._of.ends, self._packed, "clip")


def records(values: np.ndarray) -> np.ndarray:
    """Motions (N, 6) as the records (N, 8) that bricks are gathered by."""
    found = np.zeros((len(values), _WIDTH), dtype=np.float32)
    found[:, :6] = values
    return found


def _seen_apart(of: Constants, at: Workspace) -> Iterator[_Call]:
    """How b moves against a at the contact, in its own axes (6, k): wx, wy, w, x, y, n."""
    motion, way, more = at.motion if of.frame.level else at.turned, at.way, at.more[:3]
    shift, turn, again, at_contact = motion[:3], motion[3:6], motion[6:8], motion[6:]
    if not of.frame.level:
        yield GREATER, at.motion[:6], at.motion[:6], motion[:6]
        for vectors in (shift, turn):
            yield from _applied(of.frame.axes, vectors, way, more)
    yield GREATER, turn[:2], turn[:2], again  # x and y again for cross products
    yield np.multiply, motion[4:7], of.arm_third, way
    yield np.multiply, motion[5:8], of.arm_second, more
    yield np.subtract, way, more, way
    yield np.add, shift, way, at_contact
    yield np.subtract, motion[3:, 1], motion[3:, 0], at.seen


def _corners_seen(of: Constants, at: Workspace) -> Iterator[_Call]:
    wx, wy, *_, n = at.seen
    tip = at.seen[:2]
    up, down = at.sums[:2]
    first, second, third, fourth = at.value
    yield np.multiply, tip, of.half, tip  # a corner sees a tip as its way
    yield np.add, n, wx, up
    yield np.subtract, n, wx, down
    yield np.subtract, up, wy, first
    yield np.add, down, wy, second
    yield np.subtract, down, wy, third
    yield np.add, up, wy, fourth


def _met(of: Constants, at: Workspace, pull: np.ndarray, four: slice) -> Iterator[_Call]:
    """Moves the value of each of four rows to where it wants to be without its own pull, or to the nearer limit."""
    low, high, give = of.low[four], of.high[four], of.give[four.start // 4]
    value, pull, push = at.value, pull[four], at.push[four]
    for row, step in enumerate(push):
        yield np.subtract, value[row], pull[row], step
        yield GREATER, step, low[row], step
        yield LESSER, step, high[row], step
        yield np.subtract, step, value[row], step
        if len(after := value[row + 1 :]):
            for each, given in zip(give[_ONWARD[row]], at.given[row:], strict=True):  # flat arrays take a third as long
                yield np.multiply, each, step, given
            yield np.add, after, at.given[row:], after
    yield np.add, pull, push, pull
    yield np.multiply, push, of.mass[four], push


def _corners_summed(of: Constants, at: Workspace) -> Iterator[_Call]:
    """Force (3, k) of the corners along n, and their turns about x and y."""
    first, second, third, fourth = at.push[_CORNERS]
    (outer, inner, across, along), (n, wx, wy) = at.sums, at.load[:3]
    yield np.add, first, fourth, outer
    yield np.add, second, third, inner
    yield np.subtract, fourth, first, across
    yield np.subtract, third, second, along
    yield np.add, outer, inner, n
    yield np.subtract, outer, inner, wx
    yield np.subtract, across, along, wy
    yield np.multiply, at.load[1:3], of.half, at.load[1:3]


def _coupled_on(of: Constants, at: Workspace) -> Iterator[_Call]:
    """What the corners' force does to w, x and y."""
    twist_and_way, coupled, sums = at.seen[2:5], at.coupled, at.sums[:3]
    yield np.multiply, of.coupling, at.load[:3, None], coupled
    yield np.add, coupled[0], coupled[1], sums
    yield np.add, sums, coupled[2], sums
    yield np.add, twist_and_way, sums, twist_and_way


def _studs_seen(of: Constants, at: Workspace) -> Iterator[_Call]:
    pairs = at.value.reshape(2, 2, -1)
    yield np.multiply, of.stud, at.seen[2], at.value
    yield np.add, pairs, at.seen[3:5, None], pairs


def _bricks_pulled(of: Constants, at: Workspace, columns: np.ndarray) -> Iterator[_Call]:
    """The bricks' motions (6, 2, k), moved by what the rows push."""
    push, force, way, more = at.push, at.force, at.way, at.more
    forces, turns, twists, torque = force[:3], more[3:], at.value, at.load[1:]
    yield np.add, push[4], push[5], force[0, 0]
    yield np.add, push[6], push[7], force[1, 0]
    yield GREATER, at.load[0], at.load[0], force[2, 0]
    yield GREATER, force[:2], force[:2], force[3:]  # x and y again for cross products
    yield np.multiply, of.arm_second, force[2:], turns
    yield np.multiply, of.arm_third, force[1:4], way
    yield np.subtract, turns, way, turns
    yield np.multiply, of.stud, push[_STUDS], twists
    yield np.add, twists[:2], twists[2:], twists[:2]
    yield np.add, twists[0], twists[1], torque[2]
    yield np.add, turns, torque[:, None], turns
    if not of.frame.level:
        back = of.frame.axes.swapaxes(0, 1)
        yield from _applied(back, forces, way[:, :1], more[:3, :1])
        yield from _applied(back, turns, way, more[:3])
    yield np.multiply, of.shift, forces, more[:3]
    yield np.multiply, of.turn, turns, turns
    yield np.add, at.motion[:6], more, columns


def _applied(matrices: np.ndarray, vectors: np.ndarray, first: np.ndarray, second: np.ndarray) -> Iterator[_Call]:
    """Matrices (3, 3, 1, k) applied to vectors (3, ..., k) in place, with room for two more such."""
    yield np.multiply, matrices[:, 0], vectors[0], first
    yield np.multiply, matrices[:, 1], vectors[1], second
    yield np.add, first, second, first
    yield np.multiply, matrices[:, 2], vectors[2], second
    yield np.add, first, second, vectors
