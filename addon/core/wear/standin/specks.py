"""Dust as it settles: powder that gathers in drifts, specks, lint."""

import numpy as np

from .noise import SIZE_PX, TURN, bell, level, noise, source
from .tracks import SPOT, TRACK, carve, scatter

DUST_SIZE_MM = 30.0


def dust(seed: int = 0, size_px: int = SIZE_PX) -> np.ndarray:
    """Dust: 0 is clean, 1 the thickest. A powdery film, specks 10 to 120 µm wide and a few fibres."""
    draw = source(seed)
    px_per_mm = size_px / DUST_SIZE_MM
    drifts = level(0.8 * noise(draw, size_px, 4.0 * px_per_mm) + 0.5 * noise(draw, size_px, 0.9 * px_per_mm))
    clumps = np.exp(0.55 * noise(draw, size_px, 0.16 * px_per_mm))
    powder = np.maximum(noise(draw, size_px, 0.03 * px_per_mm) + 0.3, 0.0)
    film = 0.06 + drifts * (0.06 + 0.15 * clumps * powder)
    specks = np.zeros((size_px, size_px), np.float32)
    scatter(specks, _grains(draw, 16000), px_per_mm)
    carve(specks, _fibres(draw, 90), px_per_mm, draw)
    return np.clip(film + (1.0 - film) * specks * (0.35 + 0.65 * drifts), 0.0, 1.0)


def _grains(draw: np.random.Generator, count: int) -> np.ndarray:
    """Most are small and faint, few are large and thick."""
    spots = np.empty(count, SPOT)
    spots["x_mm"], spots["y_mm"] = draw.random((2, count)) * DUST_SIZE_MM
    large = draw.random(count) ** 7
    spots["radius_um"] = 6.0 + 9.0 * draw.random(count) + 45.0 * large
    spots["depth"] = 0.25 + 0.55 * draw.random(count) ** 1.5 + 0.2 * large
    spots["longer"] = 1.0 + 0.9 * draw.random(count)
    spots["angle"] = draw.random(count) * TURN
    spots["ragged"] = 0.2 + 0.5 * draw.random(count)
    return spots


def _fibres(draw: np.random.Generator, count: int) -> np.ndarray:
    """Lint, 8 to 18 µm wide and 0.3 to 3.5 mm long, curled."""
    tracks = np.zeros(count, TRACK)
    tracks["x_mm"], tracks["y_mm"] = draw.random((2, count)) * DUST_SIZE_MM
    tracks["angle"] = draw.random(count) * TURN
    tracks["length_mm"] = 0.3 + 3.2 * draw.random(count) ** 2
    tracks["width_um"] = 8.0 + 10.0 * draw.random(count)
    tracks["depth"] = 0.55 + 0.4 * draw.random(count)
    tracks["bend_per_mm"] = bell(draw, count) * 0.5
    tracks["curl"] = 0.7 * bell(draw, count)
    tracks["skew"] = 1.0
    return tracks
