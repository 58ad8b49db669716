"""Scratches: hairlines of parts that slid past each other, patches where something rubbed along, a few pits.

Widths, lengths and depths have heavy tails: nearly all are fine, short and faint, and a few bold ones stand out, as of
anything that grits of all sizes and all forces make. Their exponents, and where tracks gather: common practice, no
published source.
"""

import numpy as np

from ... import units
from .noise import SIZE_PX, TURN, bell, source
from .tracks import SPOT, TRACK, carve, scatter

SCRATCHES_SIZE_MM = 40.0
LENGTH_MM, LENGTH_TAIL = (0.4, 16.0), 1.05  # least, most, and the exponent of a Pareto law cut off there
WIDTH_UM, WIDTH_TAIL = (7.0, 80.0), 1.4
_WIDEST_UM_PER_MM = 14.0  # of its length: what is short and wide is a dent
_HAUNTS = 60  # places where tracks gather
_HAUNT_MM = 1.9  # how wide one is
_STRAY = 0.3  # share of the tracks that lie anywhere


def scratches(seed: int = 0, size_px: int = SIZE_PX) -> np.ndarray:
    """Hairlines: 1 is the untouched surface, 0 the floor of the deepest groove.

    Most lie where the part was gripped and knocked, and leave others almost bare. Most keep to the way the part is
    slid, some cross it, the rest lie anyhow. Straight ones lie beside arcs, smooth ones beside rows of dashes.
    """
    draw = source(seed)
    px_per_mm = size_px / SCRATCHES_SIZE_MM
    grooves = np.zeros((size_px, size_px), np.float32)
    carve(grooves, np.concatenate([strokes(draw, 4200), _rubs(draw, 300)]), px_per_mm, draw)
    scatter(grooves, _pits(draw, 260), px_per_mm)
    return 1.0 - grooves


def strokes(draw: np.random.Generator, count: int) -> np.ndarray:
    """Single tracks."""
    tracks = np.empty(count, TRACK)
    tracks["x_mm"], tracks["y_mm"] = _haunts(draw, count)
    lie = draw.random(count)
    spread = bell(draw, count)
    slid, crossed = units.radians(9.0) * spread, np.pi / 2.0 + units.radians(16.0) * spread
    tracks["angle"] = np.where(lie < 0.55, slid, np.where(lie < 0.65, crossed, draw.random(count) * TURN))
    tracks["angle"] += np.pi * (draw.random(count) < 0.5)  # to or fro
    tracks["length_mm"] = _tail(draw.random(count), LENGTH_MM, LENGTH_TAIL)
    tracks["width_um"] = _tail(draw.random(count), WIDTH_UM, WIDTH_TAIL)
    tracks["width_um"] = np.minimum(tracks["width_um"], WIDTH_UM[0] + _WIDEST_UM_PER_MM * tracks["length_mm"])
    wide = np.sqrt((tracks["width_um"] - WIDTH_UM[0]) / (WIDTH_UM[1] - WIDTH_UM[0]))
    tracks["depth"] = np.clip((0.17 + 0.85 * wide) * (0.5 + 0.9 * draw.random(count)), 0.0, 1.0)  # the wide are deep
    arc = draw.random(count) ** 4  # most all but straight, some as tight as a turn of the wrist
    tracks["bend_per_mm"] = bell(draw, count) * (0.015 + 0.3 * arc)
    tracks["curl"] = 0.02 * bell(draw, count)
    tracks["skew"] = 0.7 + 2.3 * draw.random(count) ** 1.5
    tracks["skip"] = draw.random(count) ** 2
    tracks["chatter"] = np.maximum(2.2 * draw.random(count) - 1.4, 0.0)
    return tracks


def _tail(even: np.ndarray, ends: tuple[float, float], exponent: float) -> np.ndarray:
    """Numbers of a Pareto law that is cut off at its far end, from even ones in 0..1."""
    least, most = ends
    return least * (1.0 - even * (1.0 - (least / most) ** exponent)) ** (-1.0 / exponent)


def _haunts(draw: np.random.Generator, count: int) -> np.ndarray:
    """Where tracks lie (2, N) in mm: most of them around a few places, the rest anywhere."""
    places = draw.random((2, _HAUNTS)) * SCRATCHES_SIZE_MM
    liked = (draw.random(count) ** 1.4 * _HAUNTS).astype(int)  # some places more than others
    around = places[:, liked] + _HAUNT_MM * np.stack([bell(draw, count), bell(draw, count)])
    return np.where(draw.random(count) < _STRAY, draw.random((2, count)) * SCRATCHES_SIZE_MM, around)


def _rubs(draw: np.random.Generator, rubs: int) -> np.ndarray:
    """Patches where something rubbed along: tracks that share one way and one arc, few over one grit or many fine."""
    leaders = strokes(draw, rubs)
    members = (3.0 * (1.0 - draw.random(rubs)) ** -0.9).clip(max=70.0).astype(int)
    patch = 0.1 + 0.05 * np.sqrt(members) * (0.6 + 1.2 * draw.random(rubs))  # half as wide, mm
    tracks, aside = np.repeat(leaders, members), np.repeat(patch, members)
    count = len(tracks)
    aside, along = bell(draw, count) * aside, bell(draw, count) * (0.3 + aside)
    cos, sin = np.cos(tracks["angle"]), np.sin(tracks["angle"])
    tracks["x_mm"] += along * cos - aside * sin
    tracks["y_mm"] += along * sin + aside * cos
    tracks["angle"] += bell(draw, count) * units.radians(2.0)
    own = strokes(draw, count)
    tracks["length_mm"] = (0.5 + 0.5 * tracks["length_mm"]) * (0.3 + draw.random(count))
    for name in ("width_um", "depth", "skew", "skip", "chatter"):
        tracks[name] = own[name]
    tracks["width_um"] = np.minimum(tracks["width_um"], 20.0)
    tracks["depth"] *= 0.8
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
