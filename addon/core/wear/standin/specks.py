"""Dust as it settles: fine powder, single grains, lint."""

import numpy as np

from .noise import SIZE_PX, TURN, bell, level, noise, source
from .tracks import SPOT, TRACK, carve, scatter

DUST_SIZE_MM = 30.0

FIBRES = 450  # 500 000 a square metre: at the published 1600 to 11 000 a day what 45 days to 10 months let fall


def dust(seed: int = 0, size_px: int = SIZE_PX) -> np.ndarray:
    """Dust: 0 is clean, 1 the thickest. A powder without clouds, grains 10 to 120 µm wide and fibres.

    Where it lies thick and thin is the shader's to say: a picture that repeats knows no stud and no wall.
    """
    draw = source(seed)
    px_per_mm = size_px / DUST_SIZE_MM
    uneven = level(0.7 * noise(draw, size_px, 1.1 * px_per_mm))
    clumps = np.exp(0.6 * noise(draw, size_px, 0.14 * px_per_mm))
    powder = np.maximum(noise(draw, size_px, 0.03 * px_per_mm) + 0.2, 0.0)
    film = 0.04 + (0.05 + 0.1 * uneven) * clumps * powder
    marks = np.zeros((size_px, size_px), np.float32)
    scatter(marks, grains(draw, 16000), px_per_mm)
    carve(marks, fibres(draw, FIBRES), px_per_mm, draw)
    return np.clip(film + (1.0 - film) * marks, 0.0, 1.0)


def grains(draw: np.random.Generator, count: int) -> np.ndarray:
    """Most are small and faint, few are large and thick."""
    spots = np.empty(count, SPOT)
    spots["x_mm"], spots["y_mm"] = draw.random((2, count)) * DUST_SIZE_MM
    large = draw.random(count) ** 7
    spots["radius_um"] = 6.0 + 9.0 * draw.random(count) + 45.0 * large
    spots["depth"] = 0.15 + 0.45 * draw.random(count) ** 1.5 + 0.4 * large
    spots["longer"] = 1.0 + 0.9 * draw.random(count)
    spots["angle"] = draw.random(count) * TURN
    spots["ragged"] = 0.2 + 0.5 * draw.random(count)
    return spots


def fibres(draw: np.random.Generator, count: int) -> np.ndarray:
    """Lint, 12 to 22 µm wide and 0.5 to 3 mm long, the long ones few; some all but straight, some curled up."""
    tracks = np.zeros(count, TRACK)
    tracks["x_mm"], tracks["y_mm"] = draw.random((2, count)) * DUST_SIZE_MM
    tracks["angle"] = draw.random(count) * TURN
    tracks["length_mm"] = 0.5 + 2.5 * draw.random(count) ** 2.5
    tracks["width_um"] = 12.0 + 10.0 * draw.random(count)
    tracks["depth"] = 0.85 + 0.15 * draw.random(count)
    curled = draw.random(count) ** 2
    tracks["bend_per_mm"] = bell(draw, count) * (0.2 + 1.6 * curled)
    tracks["curl"] = bell(draw, count) * (0.2 + 1.2 * curled)
    tracks["skew"] = 1.0
    return tracks
