"""Scratches: hairlines from parts that slid past each other, bundles from grit, a few pits."""

import numpy as np

from ... import units
from .noise import SIZE_PX, TURN, bell, source
from .tracks import SPOT, TRACK, carve, scatter

SCRATCHES_SIZE_MM = 40.0
# Where tracks gather. Common practice, no published source.
_HAUNTS = 60  # places
_HAUNT_MM = 1.9  # how wide one is
_STRAY = 0.3  # share of the tracks that lie anywhere


def scratches(seed: int = 0, size_px: int = SIZE_PX) -> np.ndarray:
    """Hairlines: 1 is the untouched surface, 0 the floor of the deepest groove.

    Many are short and faint, few are long and deep. Most lie where the part was gripped and knocked, and leave others
    almost bare. Most keep to the way the part is slid, some cross it, the rest lie anyhow; some come in bundles, from
    one pass over grit. Tracks bend and waver a little, are deepest towards the end
    of the stroke, and break up where the pressure was low.
    """
    draw = source(seed)
    px_per_mm = size_px / SCRATCHES_SIZE_MM
    grooves = np.zeros((size_px, size_px), np.float32)
    tracks = np.concatenate([_strokes(draw, 2400), _bundles(draw, 150), _scuffs(draw, 130)])
    carve(grooves, tracks, px_per_mm, draw)
    scatter(grooves, _pits(draw, 260), px_per_mm)
    return 1.0 - grooves


def _strokes(draw: np.random.Generator, count: int) -> np.ndarray:
    tracks = np.empty(count, TRACK)
    tracks["x_mm"], tracks["y_mm"] = _haunts(draw, count)
    lie = draw.random(count)
    spread = bell(draw, count)
    slid, crossed = units.radians(9.0) * spread, np.pi / 2.0 + units.radians(16.0) * spread
    tracks["angle"] = np.where(lie < 0.5, slid, np.where(lie < 0.65, crossed, draw.random(count) * TURN))
    tracks["angle"] += np.pi * (draw.random(count) < 0.5)  # to or fro
    strength = draw.random(count) ** 3.2  # many faint, few strong
    tracks["length_mm"] = (0.35 + 2.2 * draw.random(count) ** 2) * (1.0 + 4.0 * strength)
    tracks["width_um"] = 6.0 + 34.0 * strength * draw.random(count) + 10.0 * draw.random(count)
    tracks["depth"] = 0.10 + 0.90 * strength
    tracks["bend_per_mm"] = bell(draw, count) / 45.0
    tracks["curl"] = 0.012 * bell(draw, count)
    tracks["skew"] = 0.8 + 1.6 * draw.random(count)
    tracks["skip"] = draw.random(count) ** 2
    return tracks


def _haunts(draw: np.random.Generator, count: int) -> np.ndarray:
    """Where tracks lie (2, N) in mm: most of them around a few places, the rest anywhere."""
    places = draw.random((2, _HAUNTS)) * SCRATCHES_SIZE_MM
    liked = (draw.random(count) ** 1.4 * _HAUNTS).astype(int)  # some places more than others
    around = places[:, liked] + _HAUNT_MM * np.stack([bell(draw, count), bell(draw, count)])
    return np.where(draw.random(count) < _STRAY, draw.random((2, count)) * SCRATCHES_SIZE_MM, around)


def _bundles(draw: np.random.Generator, bundles: int) -> np.ndarray:
    members = 3 + (draw.random(bundles) * 7).astype(int)
    tracks = _beside(draw, _strokes(draw, bundles), members, aside_mm=0.16, along_mm=0.5, astray_deg=1.2)
    tracks["depth"] *= 0.3 + 0.6 * draw.random(len(tracks))
    tracks["width_um"] *= 0.6 + 0.4 * draw.random(len(tracks))
    return tracks


def _scuffs(draw: np.random.Generator, scuffs: int) -> np.ndarray:
    """Patches a few millimetres wide of fine short lines, where another part was pressed on and shoved."""
    members = 20 + (draw.random(scuffs) * 30).astype(int)
    tracks = _beside(draw, _strokes(draw, scuffs), members, aside_mm=0.7, along_mm=0.9, astray_deg=4.0)
    count = len(tracks)
    tracks["length_mm"] = 0.2 + 1.0 * draw.random(count) ** 2
    tracks["width_um"] = 5.0 + 8.0 * draw.random(count)
    tracks["depth"] = 0.08 + 0.25 * draw.random(count) ** 2
    return tracks


def _beside(draw: np.random.Generator, leaders, members, aside_mm: float, along_mm: float, astray_deg: float):
    tracks = np.repeat(leaders, members)
    count = len(tracks)
    aside, along = bell(draw, count) * aside_mm, bell(draw, count) * along_mm
    cos, sin = np.cos(tracks["angle"]), np.sin(tracks["angle"])
    tracks["x_mm"] += along * cos - aside * sin
    tracks["y_mm"] += along * sin + aside * cos
    tracks["angle"] += bell(draw, count) * units.radians(astray_deg)
    tracks["length_mm"] *= 0.5 + draw.random(count)
    tracks["skip"] = draw.random(count)
    return tracks


def _pits(draw: np.random.Generator, count: int) -> np.ndarray:
    """Dents of corners and grit, 15 to 90 µm across."""
    spots = np.empty(count, SPOT)
    spots["x_mm"], spots["y_mm"] = draw.random((2, count)) * SCRATCHES_SIZE_MM
    large = draw.random(count) ** 3
    spots["radius_um"] = 8.0 + 37.0 * large
    spots["depth"] = 0.15 + 0.6 * draw.random(count) ** 2
    spots["longer"] = 1.0 + 1.2 * draw.random(count)
    spots["angle"] = draw.random(count) * TURN
    spots["ragged"] = 0.3 + 0.4 * draw.random(count)
    return spots
