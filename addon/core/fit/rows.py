"""The limits of a fit as rows over the bricks' motions: eight a contact, linear in the motions of its two bricks.

Seen in a contact's own axes (x and y in the shared face, n from a to b), b moves against a by a shift (x, y, n) and a
turn (wx, wy, w). Four rows say how far the corners of the shared face may part or close, n + oy wx - ox wy for a corner
at (ox, oy); four say how far the outermost studs may move in their sockets, x - oy w and y + ox w.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from .. import rigid, threads
from ..build.touching import Contacts

OF_ROWS = (4, 2, 2)  # a contact's eight rows have three limits: of its corners, and of its studs in x and in y
_CHUNK = threads.CHUNK // 2  # contacts whose constants are worked out at once
_RIGID = 1e-12  # compliance of a row between two bricks that stay: none, and nothing is divided by it


@dataclass(frozen=True)
class Frame:
    """How vectors (3, 2, k) of k contacts go into their axes; most lie level: no turning."""

    level: bool
    axes: np.ndarray  # (3, 3, 1, k) rows are the contacts' axes; the first one's where all lie level

    def into(self, vectors: np.ndarray) -> np.ndarray:
        return vectors if self.level else _applied(self.axes, vectors)

    def back(self, vectors: np.ndarray) -> np.ndarray:
        """From the contacts' axes into the build's."""
        return vectors if self.level else _applied(self.axes.swapaxes(0, 1), vectors)


@dataclass(frozen=True)
class Rows:
    """C contacts, sorted by colour. Arrays hold one contact a column, float32 but for indices and frames."""

    order: np.ndarray  # (C,) the contacts as they were given
    a: np.ndarray  # (C,) brick
    b: np.ndarray  # (C,) brick
    frame: np.ndarray  # (C,) the contact's axes, an index into `frames`
    frames: np.ndarray  # (F, 3, 3) rows are a contact's axes
    starts: np.ndarray  # first contact of each block of one colour, level or not, and C at the end
    colours: np.ndarray  # of each block
    arm: np.ndarray  # (4, 2, C) y, z, x, y from both bricks' centres to the contact, in its axes
    half: np.ndarray  # (2, C) half sizes of the shared face along y and x: what wx and wy see a corner at
    stud: np.ndarray  # (4, C) what a twist does to x, x, y, y at the outermost studs
    low: np.ndarray  # (3, C) of corners, and of studs in x and y; minus infinity until limited
    high: np.ndarray  # (3, C)
    give_corner: np.ndarray  # (6, C) what meeting a corner's row does to the corners met after it: 12 13 14 23 24 34
    give_stud: np.ndarray  # (6, C) what meeting a stud's row does to the studs met after it
    coupling: np.ndarray  # (3, 3, C) what a push on n, wx and wy (rows) does to w, x and y (columns)
    mass: np.ndarray  # (8, C) effective mass: the push that moves a row's value by one

    def __len__(self) -> int:
        return len(self.a)

    @property
    def slices(self) -> Iterator[slice]:
        return (slice(start, stop) for start, stop in zip(self.starts[:-1], self.starts[1:], strict=True))

    def limited(self, low: np.ndarray, high: np.ndarray) -> "Rows":
        """The same rows with limits (C, 3) of corners and of studs in x and y, in the order the contacts were given."""
        low, high = (np.ascontiguousarray(each[self.order].T, dtype=np.float32) for each in (low, high))
        return replace(self, low=low, high=high)

    def frame_of(self, part: slice) -> Frame:
        """How vectors of contacts in a part of one block go into their axes."""
        level = bool(is_level(self.frames[self.frame[part.start]]))
        axes = self.frames[self.frame[part.start : part.start + 1 if level else part.stop]]
        return Frame(level, np.ascontiguousarray(axes.transpose(1, 2, 0), dtype=np.float32)[:, :, None])


def rows(touching: Contacts, chosen: np.ndarray, centre: np.ndarray, mobility: np.ndarray, colour: np.ndarray) -> Rows:
    """Rows of the contacts chosen (C,) between bricks with centres (N, 3) and `mobility` (2, N).

    `colour` (C,) is shared by no two contacts of one moving brick.
    """
    block = 2 * colour + is_level(touching.frames)[touching.frame[chosen]]
    order = np.argsort(block, kind="stable")
    found, block = chosen[order], block[order]
    a, b, frame = touching.a[found], touching.b[found], touching.frame[found]
    first = np.flatnonzero(np.diff(block, prepend=-1))
    wide = {"arm": (4, 2), "half": (2,), "stud": (4,), "give_corner": (6,), "give_stud": (6,), "coupling": (3, 3),
            "mass": (8,)}  # fmt: skip
    filled = {name: np.empty((*shape, len(order)), dtype=np.float32) for name, shape in wide.items()}

    def fill(part: slice) -> None:
        at, axes = found[part], touching.frames[frame[part]].transpose(1, 2, 0)
        arm_a, arm_b = (_applied(axes, (touching.place[at] - centre[ends[part]]).T) for ends in (a, b))
        (x, y), (span_x, span_y) = touching.stud_middle[at].T, touching.stud_half[at].T
        stud = np.stack([-y - span_y, -y + span_y, x + span_x, x - span_x])
        constants = _constants(arm_a, arm_b, mobility[:, a[part]], mobility[:, b[part]], touching.half[at].T, stud)
        for name, values in constants.items():
            filled[name][..., part] = values

    for _ in threads.each(fill, threads.slices(len(order), _CHUNK)):
        pass
    low, high = (np.broadcast_to(np.float32(limit), (len(OF_ROWS), len(order))) for limit in (-np.inf, np.inf))
    starts, colours = np.append(first, len(order)), block[first] // 2
    return Rows(order, a, b, frame, touching.frames, starts=starts, colours=colours, low=low, high=high, **filled)


def _constants(arm_a, arm_b, mobility_a, mobility_b, half, stud) -> dict[str, np.ndarray]:
    compliance = _compliance(arm_a, mobility_a) + _compliance(arm_b, mobility_b)
    give_corner, mass_corner = _gives(compliance, _corner_rows(half))
    give_stud, mass_stud = _gives(compliance, _stud_rows(stud))
    return {
        "arm": np.stack([arm_a, arm_b], axis=1)[[1, 2, 0, 1]],
        "half": half[::-1],
        "stud": stud,
        "give_corner": give_corner,
        "give_stud": give_stud,
        "coupling": compliance[[[2], [3], [4]], [[5, 0, 1]]],
        "mass": np.concatenate([mass_corner, mass_stud]),
    }


def is_level(frames: np.ndarray) -> np.ndarray:
    """Which axes (..., 3, 3) are the build's, so that nothing needs turning."""
    return np.all(frames == np.eye(3), axis=(-2, -1))


def values(built: Rows, motions: np.ndarray) -> np.ndarray:
    """What the rows (8, C) come to under motions (N, 6), in double precision."""
    ends = np.stack([motions[built.a].T, motions[built.b].T], axis=1)
    arms = built.arm[[2, 0, 1]].astype(float)
    step = np.empty((6, len(built)))
    for part in built.slices:
        frame = built.frame_of(part)
        shift, turn = frame.into(ends[:3, :, part]), frame.into(ends[3:, :, part])
        way = shift + np.cross(turn, arms[..., part], axis=0)
        step[:3, part], step[3:, part] = way[:, 1] - way[:, 0], turn[:, 1] - turn[:, 0]
    corner = [step[2] + row[3] * step[3] + row[4] * step[4] for row in _corner_rows(built.half[::-1])]
    studs = [step[0 if n < 2 else 1] + built.stud[n] * step[5] for n in range(4)]
    return np.stack([*corner, *studs])


def excess(built: Rows, motions: np.ndarray) -> np.ndarray:
    """How far (C,) each contact, in the order they were given, is beyond its limits; 0 where it keeps them all."""
    found = values(built, motions)
    low, high = (each.repeat(OF_ROWS, axis=0) for each in (built.low, built.high))
    over = np.maximum(np.maximum(low - found, found - high), 0.0).max(axis=0, initial=0.0)
    given = np.empty(len(built))
    given[built.order] = over
    return given


def _applied(matrices: np.ndarray, vectors: np.ndarray) -> np.ndarray:
    """Matrices (3, 3, k) applied to vectors (3, k)."""
    return rigid.weighted(matrices.swapaxes(0, 1), vectors)


def _compliance(arm: np.ndarray, mobility: np.ndarray) -> np.ndarray:
    """How a brick's point at `arm` (3, K) moves under forces and turns there: (6, 6, K), symmetric."""
    shift, turn = mobility
    x, y, z = arm
    matrix = np.zeros((6, 6, arm.shape[1]))
    square = x * x + y * y + z * z
    for row in range(3):
        for column in range(3):
            matrix[row, column] = -turn * arm[row] * arm[column]
        matrix[row, row] += turn * square + shift
        matrix[row + 3, row + 3] = turn
    matrix[0, 4], matrix[0, 5] = turn * z, -turn * y
    matrix[1, 3], matrix[1, 5] = -turn * z, turn * x
    matrix[2, 3], matrix[2, 4] = turn * y, -turn * x
    for row in range(3):
        for column in range(3, 6):
            matrix[column, row] = matrix[row, column]
    return matrix


def _corner_rows(half: np.ndarray) -> list[dict]:
    one = np.ones(half.shape[1])
    return [{2: one, 3: sy * half[1], 4: -sx * half[0]} for sx, sy in ((1, 1), (-1, -1), (1, -1), (-1, 1))]


def _stud_rows(stud: np.ndarray) -> list[dict]:
    one = np.ones(stud.shape[1])
    return [{(0 if n < 2 else 1): one, 5: stud[n]} for n in range(4)]


def _gives(compliance: np.ndarray, row_list: list[dict]) -> tuple[np.ndarray, np.ndarray]:
    """What meeting each row by one unit does to each that is met after it, and the effective mass of each row."""
    gives, masses = [], []
    for number, row in enumerate(row_list):
        reaction = np.sum([compliance[:, column] * weight for column, weight in row.items()], axis=0)
        own, *later = (
            np.sum([reaction[column] * weight for column, weight in other.items()], axis=0)
            for other in row_list[number:]
        )
        masses.append(1.0 / np.maximum(own, _RIGID))
        gives += [masses[-1] * each for each in later]
    return np.stack(gives), np.stack(masses)
