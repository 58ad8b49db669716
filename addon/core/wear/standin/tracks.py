"""Thin marks drawn as points along a way and as spots, into a depth map that joins at its edges; the deepest wins."""

import numpy as np

from ... import threads
from ...units import UM_PER_MM
from .noise import TURN

TRACK = np.dtype(
    [
        (name, np.float64)
        for name in (
            "x_mm",
            "y_mm",
            "angle",
            "length_mm",
            "width_um",
            "depth",
            "bend_per_mm",  # steady turn
            "curl",  # turn to and fro, radians
            "skew",  # where along it is deepest: 1 in the middle, more towards the end
            "skip",  # 0 unbroken, 1 breaks up
            "chatter",  # 0 smooth, 1 a row of dashes: what slid stuck and slipped
        )
    ]
)
SPOT = np.dtype([(name, np.float64) for name in ("x_mm", "y_mm", "radius_um", "depth", "longer", "angle", "ragged")])

_STEP_PX = 0.6
_THIN_PX = 1.4  # up to this width a track is drawn with fewer pixels across


def carve(depths: np.ndarray, tracks: np.ndarray, px_per_mm: float, draw: np.random.Generator) -> None:
    """Cuts tracks into a depth map (size, size)."""
    wide_px = tracks["width_um"] * px_per_mm / UM_PER_MM
    for group, reach in ((tracks[wide_px <= _THIN_PX], 1), (tracks[wide_px > _THIN_PX], 2)):
        if len(group):
            _carve(depths, group, px_per_mm, reach, draw)


def _carve(depths: np.ndarray, tracks: np.ndarray, px_per_mm: float, reach: int, draw: np.random.Generator) -> None:
    steps = np.maximum(2, (tracks["length_mm"] * px_per_mm / _STEP_PX).astype(int))
    which = np.repeat(np.arange(len(tracks)), steps)
    first = np.cumsum(steps) - steps
    share = (np.arange(steps.sum()) - first[which]) / (steps[which] - 1)
    track = tracks[which]
    run = (share - 0.5) * track["length_mm"]
    phase, pace = (np.repeat(draw.random(len(tracks)), steps) * TURN for _ in range(2))

    angle = track["angle"] + run * track["bend_per_mm"] + track["curl"] * np.sin(phase + run * (0.4 + 0.25 * pace))
    cos, sin = np.cos(angle), np.sin(angle)
    hop = track["length_mm"] / (steps[which] - 1)
    x, y = (_along(part * hop, first, which) for part in (cos, sin))
    x, y = (track["x_mm"] + x) * px_per_mm, (track["y_mm"] + y) * px_per_mm

    taper = np.sin(np.pi * share ** track["skew"]) ** 0.5
    tremble = 0.85 + 0.15 * np.sin(phase + run * (9.0 + pace))
    lifted = (
        np.sin(pace + run * (0.5 + 0.2 * phase)) + np.sin(phase + run * (1.3 + 0.4 * pace)) + 0.6 * np.sin(7.0 * run)
    )
    held = np.clip(1.0 - track["skip"] * (0.4 + 0.6 * lifted), 0.0, 1.0)
    stuck = 0.5 - 0.5 * np.sin(pace + run * (18.0 + 4.0 * phase))  # 0.15 to 0.35 mm from dash to dash
    struck = 1.0 - track["chatter"] * stuck
    depth = (track["depth"] * taper * tremble * held * struck).astype(np.float32)

    half = track["width_um"] * px_per_mm / 2000.0
    for part in threads.slices(len(x), threads.CHUNK):
        _cut(depths, [each[part] for each in (x, y, cos, sin, half, depth)], reach)


def _cut(depths: np.ndarray, points: list[np.ndarray], reach: int) -> None:
    """Cuts points of tracks, each into the pixels so near to it: where it lies, its way, half its width, its depth."""
    x, y, cos, sin, half, depth = points
    column, row = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
    for down in range(-reach, reach + 1):
        for right in range(-reach, reach + 1):
            off = np.abs((row + down + 0.5 - y) * cos - (column + right + 0.5 - x) * sin)
            cover = np.clip(np.minimum(0.5 + half - off, 2.0 * half), 0.0, 1.0)  # share of the pixel that lies in it
            _deepen(depths, row + down, column + right, depth * cover.astype(np.float32))


def _along(hops: np.ndarray, first: np.ndarray, which: np.ndarray) -> np.ndarray:
    """Where each point of each track is, its middle at 0: the sum of the hops so far."""
    gone = np.cumsum(hops)
    last = np.append(first[1:], len(hops)) - 1
    return gone - (0.5 * (gone[first] + gone[last]))[which]


def scatter(depths: np.ndarray, spots: np.ndarray, px_per_mm: float) -> None:
    """Drops spots, soft, longish and ragged, into a depth map (size, size)."""
    radius_px = spots["radius_um"] * px_per_mm / UM_PER_MM
    reach = np.ceil(radius_px * spots["longer"] * (1.0 + spots["ragged"]) + 1.0).astype(int)
    for each in np.unique(reach):
        _scatter(depths, spots[reach == each], px_per_mm, int(each))


def _scatter(depths: np.ndarray, spots: np.ndarray, px_per_mm: float, reach: int) -> None:
    x, y = spots["x_mm"] * px_per_mm, spots["y_mm"] * px_per_mm
    radius = spots["radius_um"] * px_per_mm / UM_PER_MM
    depth = spots["depth"] * np.minimum(1.0, 1.5 * radius)  # smaller than a pixel: fainter
    cos, sin = np.cos(spots["angle"]), np.sin(spots["angle"])
    column, row = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
    for down in range(-reach, reach + 1):
        for right in range(-reach, reach + 1):
            across, along = column + right + 0.5 - x, row + down + 0.5 - y
            ahead, aside = (across * cos + along * sin) / spots["longer"], along * cos - across * sin
            bearing = np.arctan2(aside, ahead)
            wobble = np.sin(2.0 * bearing + 9.0 * spots["angle"]) + np.sin(5.0 * bearing + 5.0 * spots["angle"])
            rim = radius * (1.0 + 0.5 * spots["ragged"] * wobble)
            cover = np.clip(0.5 + rim - np.hypot(ahead, aside), 0.0, 1.0)
            _deepen(depths, row + down, column + right, (depth * cover).astype(np.float32))


def _deepen(depths: np.ndarray, rows: np.ndarray, columns: np.ndarray, by: np.ndarray) -> None:
    touched, size = by > 0.0, len(depths)
    where = (rows[touched] % size) * size + columns[touched] % size
    np.maximum.at(depths.reshape(-1), where, by[touched])
