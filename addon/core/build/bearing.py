"""Which way a build's bricks lie: along the file's axes, or turned as a whole."""

import numpy as np

LEVEL = 0.999  # cosine of an angle that makes no difference
_SQUARE = 0.02  # cosine from which a face looks across an axis
_ALIKE = 50.0  # directions to the nearest 1/50 are looked at together
_SNAPPED = 1e-4  # off a file's axis: noise
_MORE = 2.0  # times as much surface must look along other axes than along the file's
_ENOUGH = 0.01  # share of the surface


def along(normals: np.ndarray, areas: np.ndarray) -> np.ndarray:
    """Axes (3, 3) in rows along which most of the faces look: the widest face, the widest across it, and the third.

    Unit normals (T, 3) and areas (T,).
    """
    first = _commonest(normals, areas)
    side = np.abs(normals @ first) < _SQUARE
    if not side.any():
        return np.eye(3)
    second = _commonest(normals[side], areas[side])
    second -= first * (first @ second)
    second /= np.linalg.norm(second)
    return np.stack([first, second, np.cross(first, second)])


def bearing(corners: np.ndarray, walls: float = 0.0) -> np.ndarray:
    """The turn (3, 3) that lays the faces of triangles (T, 3, 3) along the file's axes, by the short way; the identity
    where these are as good as any, or where less than a share of `walls` of what looks elsewhere is laid along them:
    round things have faces that look all ways."""
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    areas = np.sqrt(np.einsum("ij,ij->i", normals, normals))
    sound = areas > 1e-9 * max(areas.max(initial=0.0), 1e-30)
    normals, areas = normals[sound] / areas[sound, None], areas[sound]
    if not len(areas):
        return np.eye(3)
    own = _the_short_way(along(normals, areas))
    apart = np.abs(own).max(axis=1) < LEVEL
    gained, lost = _looking(normals, areas, own[apart]), _looking(normals, areas, np.eye(3)[apart])
    beside = areas.sum() - _looking(normals, areas, own[~apart])
    enough = max(_MORE * lost + _ENOUGH * areas.sum(), walls * beside)
    return own if gained > enough else np.eye(3)


def _looking(normals: np.ndarray, areas: np.ndarray, axes: np.ndarray) -> float:
    """How much surface looks along one of some axes (K, 3)."""
    return float(areas[(np.abs(normals @ axes.T) > LEVEL).any(axis=1)].sum()) if len(axes) else 0.0


def _the_short_way(axes: np.ndarray) -> np.ndarray:
    """Axes (3, 3) in rows, each as near as can be to the file's axis of its number, right-handed."""
    orders = ((0, 1, 2), (0, 2, 1), (1, 0, 2), (1, 2, 0), (2, 0, 1), (2, 1, 0))
    own = max((axes[list(order)] for order in orders), key=lambda rows: np.abs(np.diag(rows)).sum())
    own = own * np.where(np.diag(own) < 0, -1.0, 1.0)[:, None]
    own[np.abs(own) < _SNAPPED] = 0.0
    first = int(np.abs(own).max(axis=1).argmax())  # what lies along the file's axis stays exactly so
    second, third = (first + 1) % 3, (first + 2) % 3
    own[first] /= np.linalg.norm(own[first])
    own[second] -= own[first] * (own[first] @ own[second])
    own[second] /= np.linalg.norm(own[second])
    own[third] = np.cross(own[first], own[second])
    return own


def _commonest(normals: np.ndarray, areas: np.ndarray) -> np.ndarray:
    """The direction (3,), one way or the other, in which most of the surface looks: the mean of what is alike."""
    ahead = np.where(normals[np.arange(len(normals)), np.abs(normals).argmax(axis=1)] < 0, -1.0, 1.0)
    ahead = normals * ahead[:, None]
    _, first, group = np.unique(np.rint(ahead * _ALIKE), axis=0, return_index=True, return_inverse=True)
    example = ahead[first[np.bincount(group.reshape(-1), areas).argmax()]]
    alike = ahead @ example > LEVEL
    mean = areas[alike] @ ahead[alike]
    return mean / np.linalg.norm(mean)
