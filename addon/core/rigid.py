"""Rotations and products of stacks of small matrices.

Everything is written out in + - * / and square roots, which IEEE 754 rounds the same everywhere: matrix products of
a linear algebra library and the sines of a maths library differ in the last bits from one machine to the next.
Matrices act on column vectors; stacks have shape (..., 3, 3) and (..., 3).
"""

from collections.abc import Iterable

import numpy as np

_AXES = {"X": 0, "Y": 1, "Z": 2}
_EVEN_ORDERS = {"XYZ", "YZX", "ZXY"}
_HALF_PI = 1.5707963267948966
_HALF_PI_TAIL = 6.123233995736766e-17


def product(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Matrix product of two stacks (..., 3, 3)."""
    first, second = (columns(each) for each in np.broadcast_arrays(a, b))
    found = np.empty(first.shape, dtype=np.result_type(first, second))
    more = np.empty_like(found[0])
    for own, row in zip(first, found, strict=True):  # a row at a time: room for more takes longer to get than the sums
        np.multiply(own[0], second[0], out=row)
        for k in (1, 2):
            row += np.multiply(own[k], second[k], out=more)
    return np.moveaxis(found, (0, 1), (-2, -1))


def columns(matrices: np.ndarray) -> np.ndarray:
    """Matrices (..., 3, 3) one a column (3, 3, ...): sums along a stack are quick."""
    return np.ascontiguousarray(np.moveaxis(matrices, (-2, -1), (0, 1)))


def across(vectors: np.ndarray) -> np.ndarray:
    """Vectors (N, C) one a column (C, N)."""
    return np.ascontiguousarray(vectors.T)


def turned(matrix: np.ndarray, vector: np.ndarray) -> np.ndarray:
    """Matrices (..., 3, 3) applied to vectors (..., 3)."""
    x, y, z = (vector[..., k] for k in range(3))  # sums along a stack are quick, those along a vector are not
    rows = (matrix[..., row, :] for row in range(3))
    return np.stack([row[..., 0] * x + row[..., 1] * y + row[..., 2] * z for row in rows], axis=-1)


def inverse(matrix: np.ndarray) -> np.ndarray:
    """Inverse of matrices (..., 3, 3) by cofactors; a singular one gives infinities or NaN."""
    a, b, c = (matrix[..., row, :] for row in range(3))
    cofactors = np.stack([_cross(b, c), _cross(c, a), _cross(a, b)], axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return cofactors / dot(a, cofactors[..., 0])[..., None, None]


def transpose(matrix: np.ndarray) -> np.ndarray:
    return np.swapaxes(matrix, -1, -2)


def dot(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Scalar products of vectors (..., 3)."""
    return a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1] + a[..., 2] * b[..., 2]


def weighted(values: Iterable[np.ndarray], weights: Iterable[np.ndarray]) -> np.ndarray:
    """The sum of some arrays, each times its weight: scalar products of vectors (3, ..., N) that lie one a column."""
    total, *others = (value * weight for value, weight in zip(values, weights, strict=True))
    for each in others:
        total += each
    return total


def crossed(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Cross products of vectors (3, N) that lie one a column."""
    return np.stack([a[i] * b[j] - a[j] * b[i] for i, j in ((1, 2), (2, 0), (0, 1))])


def length(vector: np.ndarray) -> np.ndarray:
    return np.sqrt(dot(vector, vector))


def _cross(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    x, y, z = (a[..., i] * b[..., j] - a[..., j] * b[..., i] for i, j in ((1, 2), (2, 0), (0, 1)))
    return np.stack([x, y, z], axis=-1)


def rotation(vector: np.ndarray) -> np.ndarray:
    """Rotation matrices (..., 3, 3) of rotation vectors (..., 3) in radians (Rodrigues' formula)."""
    angle = length(vector)
    sine, cosine = sine_cosine(angle)
    small = angle < 1e-4
    safe = np.where(small, 1.0, angle)
    a = np.where(small, 1.0 - angle * angle / 6.0, sine / safe)
    b = np.where(small, 0.5 - angle * angle / 24.0, (1.0 - cosine) / (safe * safe))
    x, y, z = (vector[..., k] for k in range(3))
    found = np.empty((3, 3, *angle.shape))
    for k, (one, other) in enumerate(((z * z, y * y), (z * z, x * x), (y * y, x * x))):
        found[k, k] = 1.0 + b * (-one - other)
    for row, column, axis, both in ((1, 0, z, x * y), (0, 2, y, z * x), (2, 1, x, y * z)):
        swung, leant = a * axis, b * both
        found[row, column], found[column, row] = 0.0 + swung + leant, 0.0 - swung + leant  # of nothing, never -0
    return np.moveaxis(found, (0, 1), (-2, -1))


def rotation_vector(matrix: np.ndarray) -> np.ndarray:
    """Rotation vectors (..., 3) of rotation matrices turned by less than half a turn."""
    axis = 0.5 * np.stack(
        [
            matrix[..., 2, 1] - matrix[..., 1, 2],
            matrix[..., 0, 2] - matrix[..., 2, 0],
            matrix[..., 1, 0] - matrix[..., 0, 1],
        ],
        axis=-1,
    )
    sine = length(axis)
    cosine = 0.5 * (matrix[..., 0, 0] + matrix[..., 1, 1] + matrix[..., 2, 2] - 1.0)
    angle = arctangent(sine, cosine)
    ratio = np.where(sine < 1e-12, 1.0, angle / np.where(sine < 1e-12, 1.0, sine))
    return axis * ratio[..., None]


def sine_cosine(angle: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Sine and cosine by reduction to an eighth of a turn and Taylor's series; good to 1e-15 for angles below 1e5."""
    quarter = np.rint(angle / _HALF_PI)
    x = (angle - quarter * _HALF_PI) - quarter * _HALF_PI_TAIL
    square = x * x
    sine, cosine = x.copy(), np.ones_like(x)
    term_s, term_c = x.copy(), np.ones_like(x)
    for k in range(1, 10):
        term_c = -term_c * square / ((2 * k - 1) * (2 * k))
        term_s = -term_s * square / ((2 * k) * (2 * k + 1))
        sine, cosine = sine + term_s, cosine + term_c
    turn = np.mod(quarter, 4.0)
    return (
        np.select([turn == 0, turn == 1, turn == 2], [sine, cosine, -sine], -cosine),
        np.select([turn == 0, turn == 1, turn == 2], [cosine, -sine, -cosine], sine),
    )


def arctangent(y: np.ndarray, x: np.ndarray) -> np.ndarray:
    """The angle of (x, y) in -pi .. pi, by reduction to an eighth of a turn and the arctangent's series."""
    steep = np.abs(y) > np.abs(x)
    over, under = np.where(steep, np.abs(x), np.abs(y)), np.where(steep, np.abs(y), np.abs(x))
    ratio = over / np.where(under == 0, 1.0, under)
    far = ratio > 0.4142135623730951
    t: np.ndarray = np.where(far, (ratio - 1.0) / (ratio + 1.0), ratio)
    square = t * t
    series = np.zeros_like(t)
    for k in range(20, -1, -1):
        series = series * -square + 1.0 / (2 * k + 1)
    angle = t * series + np.where(far, 0.5 * _HALF_PI, 0.0)
    angle = np.where(steep, _HALF_PI - angle, angle)
    angle = np.where(x < 0, 2.0 * _HALF_PI - angle, angle)
    return np.where(y < 0, -angle, angle)


def from_euler(angles: np.ndarray, order: str) -> np.ndarray:
    """Rotation matrices of Euler angles (..., 3) given as x, y, z and applied in `order`, such as "XYZ" (x first)."""
    sine, cosine = sine_cosine(angles)
    turns = np.zeros((3, *angles.shape[:-1], 3, 3))
    for axis in range(3):
        j, k = (axis + 1) % 3, (axis + 2) % 3
        turns[axis, ..., axis, axis] = 1.0
        turns[axis, ..., j, j] = turns[axis, ..., k, k] = cosine[..., axis]
        turns[axis, ..., k, j], turns[axis, ..., j, k] = sine[..., axis], -sine[..., axis]
    first, second, third = (turns[_AXES[letter]] for letter in order)
    return product(third, product(second, first))


def to_euler(matrix: np.ndarray, order: str) -> np.ndarray:
    """Euler angles (..., 3) as x, y, z that give the rotation matrices when applied in `order`."""
    i, j, k = (_AXES[letter] for letter in order)
    sign = 1.0 if order in _EVEN_ORDERS else -1.0
    m = matrix
    flat = np.sqrt(m[..., i, i] * m[..., i, i] + m[..., j, i] * m[..., j, i])
    locked = flat < 1e-9
    first = np.where(
        locked,
        arctangent(-sign * m[..., j, k], m[..., j, j]),
        arctangent(sign * m[..., k, j], m[..., k, k]),
    )
    second = arctangent(-sign * m[..., k, i], flat)
    third = np.where(locked, 0.0, arctangent(sign * m[..., j, i], m[..., i, i]))
    angles = np.empty(m.shape[:-1])
    angles[..., i], angles[..., j], angles[..., k] = first, second, third
    return angles


def from_quaternion(q: np.ndarray) -> np.ndarray:
    """Rotation matrices of quaternions (..., 4) ordered w, x, y, z; they need not be of length 1, but not 0."""
    square = q[..., 0] * q[..., 0] + q[..., 1] * q[..., 1] + q[..., 2] * q[..., 2] + q[..., 3] * q[..., 3]
    w, x, y, z = (q[..., n] / np.sqrt(square) for n in range(4))
    cells = (
        1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y),
        2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x),
        2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y),
    )  # fmt: skip
    return np.stack(cells, axis=-1).reshape(*w.shape, 3, 3)


def to_quaternion(matrix: np.ndarray) -> np.ndarray:
    """Quaternions (..., 4) ordered w, x, y, z with w >= 0 (Shepperd's method: the largest component first)."""
    m = matrix
    diagonal = [m[..., n, n] for n in range(3)]
    trace = diagonal[0] + diagonal[1] + diagonal[2]
    squares = np.stack([1 + trace, *(1 + 2 * d - trace for d in diagonal)], axis=-1)
    largest = np.argmax(squares, axis=-1)
    a, b, c = (m[..., 2, 1] - m[..., 1, 2], m[..., 0, 2] - m[..., 2, 0], m[..., 1, 0] - m[..., 0, 1])
    d, e, f = (m[..., 1, 0] + m[..., 0, 1], m[..., 0, 2] + m[..., 2, 0], m[..., 2, 1] + m[..., 1, 2])
    rows = (
        (squares[..., 0], a, b, c),
        (a, squares[..., 1], d, e),
        (b, d, squares[..., 2], f),
        (c, e, f, squares[..., 3]),
    )
    candidates = np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)
    q = np.take_along_axis(candidates, largest[..., None, None], axis=-2)[..., 0, :]
    q = q / np.sqrt(q[..., 0] ** 2 + q[..., 1] ** 2 + q[..., 2] ** 2 + q[..., 3] ** 2)[..., None]
    return np.where(q[..., :1] < 0, -q, q)
