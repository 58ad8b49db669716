"""Finger grease: prints with their ridges, drags, a haze where many hands have been."""

import numpy as np

from .noise import SIZE_PX, TURN, level, noise, soft, source

SMUDGES_SIZE_MM = 60.0

_RIDGE_MM = 0.46  # from ridge to ridge
_CLEAREST = 0.75  # share of a film that lies on ridges alone, in the best of prints


def smudges(seed: int = 0, size_px: int = SIZE_PX) -> np.ndarray:
    """Smudges: 0 is clean, 1 the thickest film."""
    draw = source(seed)
    px_per_mm = size_px / SMUDGES_SIZE_MM
    film = 0.22 * level(noise(draw, size_px, 7.0 * px_per_mm)) ** 2
    for _ in range(9):
        _drag(film, draw, px_per_mm)
    for _ in range(13):
        _print(film, draw, px_per_mm)
    patchy = level(noise(draw, size_px, 2.5 * px_per_mm))
    grain = 1.0 + 0.13 * noise(draw, size_px, 0.2 * px_per_mm) + 0.1 * noise(draw, size_px, 0.06 * px_per_mm)
    return np.clip(film * (0.55 + 0.5 * patchy) * grain, 0.0, 1.0)


def _print(film: np.ndarray, draw: np.random.Generator, px_per_mm: float) -> None:
    """One fingertip, 9 to 13 by 12 to 18 mm; its ridges arch over the tip or close around a core, and show in part.

    Most are smeared: ten clear ridges on a stud's top, closed around a core, would be a grain of wood to the eye.
    """
    wide, long = 4.5 + 2.0 * draw.random(), 6.0 + 3.0 * draw.random()
    place, x, y = _around(film.shape[0], draw, px_per_mm, 1.2 * wide, 1.2 * long)
    waves = ((0.5, 0.2), (0.25, 0.6), (0.9, -0.4), (1.7, 1.3))
    sway = [np.sin(across * x + along * y + TURN * draw.random(dtype=np.float32)) for across, along in waves]
    arch = y + (2.0 + 2.5 * draw.random()) * np.exp(-((x / (0.6 * wide)) ** 2))
    loop = np.hypot(x, np.where(y > 0.0, 0.95, 0.75) * y)
    closes = draw.random() < 0.2
    way = (loop if closes else arch) + 0.45 * sway[0] + 0.3 * sway[1] + 0.15 * sway[2] + 0.06 * sway[3]
    ridges = 0.5 + 0.5 * np.cos(TURN / np.float32(_RIDGE_MM) * way)
    oval = np.hypot(x / wide, y / long) + 0.07 * sway[0] + 0.07 * sway[1] + 0.04 * sway[2]
    pressed = soft(1.0 - oval, 0.5) * (0.75 + 0.25 * sway[1])
    clarity = _CLEAREST * draw.random() ** 2.5 * (0.6 + 0.4 * sway[2])
    touching = soft(ridges - 0.75 * (1.0 - pressed), 0.7)  # pressed harder, ridges widen until they close
    _press(film, place, pressed * (1.0 - clarity + clarity * touching) * (0.4 + 0.48 * draw.random()))


def _drag(film: np.ndarray, draw: np.random.Generator, px_per_mm: float) -> None:
    """One drag of a finger: a soft band 7 to 14 by 14 to 34 mm of streaks that fade along the way."""
    wide, long = 3.5 + 3.5 * draw.random(), 7.0 + 10.0 * draw.random()
    place, x, y = _around(film.shape[0], draw, px_per_mm, wide, 1.15 * long)
    x = x + np.float32(0.03 * (draw.random() - 0.5)) * y * y
    streaks = np.zeros_like(x)
    for period in (4.3, 2.3, 1.3, 0.7, 0.37, 0.21):
        pace, phase = 1.0 / (2.0 + 4.0 * draw.random(2)), TURN * draw.random(3)
        drift = np.float32(0.9) * np.sin(y * np.float32(pace[0]) + np.float32(phase[0]))
        strength = np.float32(0.6) + np.float32(0.4) * np.sin(y * np.float32(pace[1]) + np.float32(phase[1]))
        streaks += np.float32(period**0.5) * strength * np.sin(x * (TURN / np.float32(period)) + drift + phase[2])
    streaks = 0.5 + 0.5 * np.tanh(0.5 * streaks)
    reach = np.abs(y) / np.float32(long) + 0.25 * (streaks - 0.5)  # every streak breaks off at a place of its own
    band = soft(1.0 - np.abs(x) / np.float32(wide), 0.9) * soft(1.0 - reach, 0.7)
    fading = 0.35 + 0.65 * (0.5 - 0.5 * y / np.float32(long))
    _press(film, place, band * fading * (0.3 + 0.7 * streaks) * (0.4 + 0.5 * draw.random()))


def _around(size: int, draw: np.random.Generator, px_per_mm: float, wide_mm: float, long_mm: float):
    """Pixels of a turned rectangle at a random place, and where they lie in it, in mm."""
    reach = int(np.hypot(wide_mm, long_mm) * px_per_mm)
    angle, at = TURN * draw.random(), (draw.random(2) * size).astype(int)
    side = (np.arange(-reach, reach + 1) / px_per_mm).astype(np.float32)
    cos, sin = np.float32(np.cos(angle)), np.float32(np.sin(angle))
    x, y = side * cos + side[:, None] * sin, side[:, None] * cos - side * sin
    down, right = np.nonzero((np.abs(x) < wide_mm) & (np.abs(y) < long_mm))
    place = (down + at[0]) % size, (right + at[1]) % size
    return place, x[down, right], y[down, right]


def _press(film: np.ndarray, place: tuple[np.ndarray, np.ndarray], stamp: np.ndarray) -> None:
    """Adds a stamp: film on film saturates."""
    film[place] = 1.0 - (1.0 - film[place]) * (1.0 - np.clip(stamp, 0.0, 1.0))
