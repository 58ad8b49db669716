"""Textures for users who bring none: seamless hairline scratches, finger smudges and dust, drawn from a seed.

All are height-like greys in 0..1, row 0 on top. Sizes are real: they hold when the texture repeats every *_SIZE_MM.
Widths, lengths, directions and the ridge spacing are common practice, no published source.
"""

import numpy as np

from .texture import DUST, SCRATCHES, SMUDGES

SCRATCHES_SIZE_MM = 40.0
SMUDGES_SIZE_MM = 60.0
DUST_SIZE_MM = 30.0

_SCRATCHES_PX = 2048
_SMUDGES_PX = 1024
_DUST_PX = 1024
_TURN = 2.0 * np.pi


def stand_in(kind: str, seed: int = 0) -> np.ndarray:
    """The texture of a kind as a square float array; the same seed always gives the same picture."""
    return {SCRATCHES: scratches, SMUDGES: smudges, DUST: dust}[kind](seed)


def scratches(seed: int = 0, size_px: int = _SCRATCHES_PX) -> np.ndarray:
    """Hairlines: 1 is the untouched surface, 0 the floor of the deepest groove.

    Many are short and faint, few are long and deep. Most keep to the way the part is slid, some cross it, the rest lie
    anyhow; some come in bundles, from one pass over grit. Tracks bend a little, thin out at both ends and skip.
    """
    draw = np.random.Generator(np.random.Philox(seed))
    px_per_mm = size_px / SCRATCHES_SIZE_MM
    tracks = np.concatenate([_single_tracks(draw, 1500), _bundled_tracks(draw, 110)])
    grooves = np.zeros((size_px, size_px), np.float32)
    for wide in (False, True):
        group = tracks[(tracks["width_um"] * px_per_mm / 1000.0 > 1.4) == wide]
        _carve(grooves, group, px_per_mm, reach=2 if wide else 1, draw=draw)
    return 1.0 - grooves


def smudges(seed: int = 0, size_px: int = _SMUDGES_PX) -> np.ndarray:
    """Finger grease: 0 is clean, 1 the thickest film. Prints with a hint of ridges, streaky wipes, a faint haze."""
    draw = np.random.Generator(np.random.Philox(seed))
    px_per_mm = size_px / SMUDGES_SIZE_MM
    patchy = _level(_noise(draw, size_px, 2.5 * px_per_mm))
    film = 0.22 * _level(_noise(draw, size_px, 7.0 * px_per_mm)) ** 2
    for _ in range(13):
        _press(film, _print(draw, px_per_mm), draw)
    for _ in range(9):
        _press(film, _wipe(draw, px_per_mm), draw)
    grain = _level(_noise(draw, size_px, 0.12 * px_per_mm))
    return np.clip(film * (0.55 + 0.45 * patchy) * (0.8 + 0.4 * grain), 0.0, 1.0)


def dust(seed: int = 0, size_px: int = _DUST_PX) -> np.ndarray:
    """Dust as it falls: 0 is clean, 1 the thickest. A grainy film, specks 20 to 100 µm wide and a few fibres."""
    draw = np.random.Generator(np.random.Philox(seed))
    px_per_mm = size_px / DUST_SIZE_MM
    drifts = _level(_noise(draw, size_px, 4.0 * px_per_mm))
    film = 0.1 + 0.3 * drifts * _level(_noise(draw, size_px, 0.08 * px_per_mm))
    specks = np.zeros((size_px, size_px), np.float32)
    _scatter(specks, 7000, px_per_mm, draw)
    _carve(specks, _fibres(draw, 70), px_per_mm, reach=1, draw=draw)
    return np.clip(film + (1.0 - film) * specks * (0.5 + 0.5 * drifts), 0.0, 1.0)


_TRACK = np.dtype(
    [(name, np.float64) for name in ("x_mm", "y_mm", "angle", "length_mm", "width_um", "depth", "bend_per_mm")]
)


def _single_tracks(draw: np.random.Generator, count: int) -> np.ndarray:
    tracks = np.empty(count, _TRACK)
    tracks["x_mm"], tracks["y_mm"] = draw.random((2, count)) * SCRATCHES_SIZE_MM
    lie = draw.random(count)
    spread = _bell(draw, count)
    slid, crossed = np.radians(9.0) * spread, np.pi / 2.0 + np.radians(16.0) * spread
    tracks["angle"] = np.where(lie < 0.5, slid, np.where(lie < 0.65, crossed, draw.random(count) * _TURN))
    strength = draw.random(count) ** 3.2  # many faint, few strong
    tracks["length_mm"] = (0.35 + 2.2 * draw.random(count) ** 2) * (1.0 + 7.0 * strength)
    tracks["width_um"] = 6.0 + 30.0 * strength * draw.random(count) + 10.0 * draw.random(count)
    tracks["depth"] = 0.10 + 0.90 * strength
    tracks["bend_per_mm"] = _bell(draw, count) / 45.0
    return tracks


def _bundled_tracks(draw: np.random.Generator, bundles: int) -> np.ndarray:
    leaders = _single_tracks(draw, bundles)
    members = 3 + (draw.random(bundles) * 7).astype(int)
    tracks = np.repeat(leaders, members)
    count = len(tracks)
    aside = _bell(draw, count) * 0.16
    along = _bell(draw, count) * 0.5
    cos, sin = np.cos(tracks["angle"]), np.sin(tracks["angle"])
    tracks["x_mm"] += along * cos - aside * sin
    tracks["y_mm"] += along * sin + aside * cos
    tracks["angle"] += _bell(draw, count) * np.radians(1.2)
    tracks["length_mm"] *= 0.5 + draw.random(count)
    tracks["depth"] *= 0.3 + 0.6 * draw.random(count)
    tracks["width_um"] *= 0.6 + 0.4 * draw.random(count)
    return tracks


def _scatter(film: np.ndarray, count: int, px_per_mm: float, draw: np.random.Generator) -> None:
    """Drops specks, soft and longish; thickest wins. Most are small and faint, few large and thick."""
    size, reach = film.shape[0], 3
    x, y = draw.random((2, count)) * size
    large = draw.random(count) ** 5
    radius = (10.0 + 40.0 * large) * px_per_mm / 1000.0
    thick = (0.3 + 0.7 * draw.random(count)) * np.minimum(1.0, 1.5 * radius)  # smaller than a pixel: thinner
    longer, angle = 1.0 + draw.random(count), _TURN * draw.random(count)
    cos, sin = np.cos(angle), np.sin(angle)
    column, row = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
    for down in range(-reach, reach + 1):
        for right in range(-reach, reach + 1):
            across, along = column + right + 0.5 - x, row + down + 0.5 - y
            off = np.hypot((across * cos + along * sin) / longer, along * cos - across * sin)
            cover = thick * _soft(1.5 + radius - off, 2.0)
            np.maximum.at(film.reshape(-1), (row + down) % size * size + (column + right) % size, cover)


def _fibres(draw: np.random.Generator, count: int) -> np.ndarray:
    """Lint, 10 to 20 µm wide and 0.5 to 3 mm long, curled."""
    tracks = np.zeros(count, _TRACK)
    tracks["x_mm"], tracks["y_mm"] = draw.random((2, count)) * DUST_SIZE_MM
    tracks["angle"] = draw.random(count) * _TURN
    tracks["length_mm"] = 0.5 + 2.5 * draw.random(count) ** 2
    tracks["width_um"] = 10.0 + 10.0 * draw.random(count)
    tracks["depth"] = 0.7 + 0.3 * draw.random(count)
    tracks["bend_per_mm"] = _bell(draw, count) * 0.9
    return tracks


def _carve(grooves: np.ndarray, tracks: np.ndarray, px_per_mm: float, reach: int, draw: np.random.Generator) -> None:
    """Cuts tracks into a depth map, deepest wins: points every 0.6 px, each shaping the pixels within reach."""
    size = grooves.shape[0]
    steps = np.maximum(2, (tracks["length_mm"] * px_per_mm / 0.6).astype(int))
    which = np.repeat(np.arange(len(tracks)), steps)
    step = np.arange(steps.sum()) - np.repeat(np.cumsum(steps) - steps, steps)
    share = step / (steps[which] - 1)
    track = tracks[which]
    run = (share - 0.5) * track["length_mm"]
    turned = track["angle"] + run * track["bend_per_mm"]
    chord = track["angle"] + 0.5 * run * track["bend_per_mm"]  # an arc's chord lies half-way between both tangents
    x = (track["x_mm"] + run * np.cos(chord)) * px_per_mm
    y = (track["y_mm"] + run * np.sin(chord)) * px_per_mm
    skip = np.repeat(draw.random(len(tracks)), steps) * _TURN
    pressure = np.sin(np.pi * share) ** 0.4 * (0.75 + 0.25 * np.sin(skip + run * (2.0 + skip)))
    depth = (track["depth"] * pressure).astype(np.float32)
    half = track["width_um"] * px_per_mm / 2000.0
    column, row = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
    cos, sin = np.cos(turned), np.sin(turned)
    flat = grooves.reshape(-1)
    for down in range(-reach, reach + 1):
        for right in range(-reach, reach + 1):
            off = np.abs((row + down + 0.5 - y) * cos - (column + right + 0.5 - x) * sin)
            inside = np.minimum(half, np.clip(0.5 + half - off, 0.0, 1.0)) / np.minimum(half, 1.0)
            cover = np.clip(inside, 0.0, 1.0) * np.minimum(1.0, 2.0 * half)  # thinner than a pixel: shallower
            touched = cover > 0.0
            where = ((row + down) % size)[touched] * size + ((column + right) % size)[touched]
            np.maximum.at(flat, where, depth[touched] * cover[touched].astype(np.float32))


def _print(draw: np.random.Generator, px_per_mm: float) -> np.ndarray:
    """One fingertip: a soft patch 9 to 13 by 12 to 18 mm; ridges 0.46 mm apart arch over the tip and show in part."""
    wide, long = 4.5 + 2.0 * draw.random(), 6.0 + 3.0 * draw.random()
    x, y = _turned_grid(draw, 1.3 * long, px_per_mm)
    waves = ((0.5, 0.2), (0.25, 0.6), (0.9, -0.4))
    sway = [np.sin(across * x + along * y + _TURN * draw.random()) for across, along in waves]
    arch = y + (2.0 + 2.5 * draw.random()) * np.exp(-((x / (0.6 * wide)) ** 2)) + 0.5 * sway[0] + 0.35 * sway[2]
    ridges = 0.5 + 0.5 * np.cos(_TURN * arch / 0.46)
    oval = np.hypot(x / wide, y / long) + 0.07 * sway[0] + 0.07 * sway[1] + 0.04 * sway[2]
    pressed = _soft(1.0 - oval, 0.55) * (0.7 + 0.3 * sway[1])
    clarity = (0.05 + 0.4 * draw.random() ** 2) * (0.5 + 0.5 * sway[2])
    return pressed * (1.0 - clarity + clarity * ridges) * (0.4 + 0.55 * draw.random())


def _wipe(draw: np.random.Generator, px_per_mm: float) -> np.ndarray:
    """One drag of a finger: a soft band 7 to 14 by 14 to 34 mm of streaks that fade along the way."""
    wide, long = 3.5 + 3.5 * draw.random(), 7.0 + 10.0 * draw.random()
    x, y = _turned_grid(draw, 1.15 * long, px_per_mm)
    x = x + 0.03 * (draw.random() - 0.5) * y * y
    streaks = np.zeros_like(x)
    for period in (4.3, 2.3, 1.3, 0.7, 0.37):
        drift = 0.9 * np.sin(y / (3.0 + 5.0 * draw.random()) + _TURN * draw.random())
        strength = 0.6 + 0.4 * np.sin(y / (2.0 + 4.0 * draw.random()) + _TURN * draw.random())
        streaks += period**0.5 * strength * np.sin(_TURN * x / period + drift + _TURN * draw.random())
    streaks = 0.5 + 0.5 * np.tanh(0.5 * streaks)
    reach = np.abs(y) / long + 0.25 * (streaks - 0.5)  # every streak breaks off at a place of its own
    band = _soft(1.0 - np.abs(x) / wide, 0.9) * _soft(1.0 - reach, 0.7)
    fading = 0.35 + 0.65 * (0.5 - 0.5 * y / long)
    return band * fading * (0.35 + 0.65 * streaks) * (0.4 + 0.5 * draw.random())


def _press(film: np.ndarray, stamp: np.ndarray, draw: np.random.Generator) -> None:
    """Adds a stamp at a random place, around the edges too: film on film saturates."""
    size = film.shape[0]
    down, right = (draw.random(2) * size).astype(int)
    where = np.ix_((down + np.arange(stamp.shape[0])) % size, (right + np.arange(stamp.shape[1])) % size)
    film[where] = 1.0 - (1.0 - film[where]) * (1.0 - np.clip(stamp, 0.0, 1.0))


def _turned_grid(draw: np.random.Generator, reach_mm: float, px_per_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Coordinates in mm around a centre, turned at random, out to reach_mm on both axes."""
    side = np.linspace(-reach_mm, reach_mm, int(2.0 * reach_mm * px_per_mm))
    angle = _TURN * draw.random()
    x, y = np.meshgrid(side, side)
    return x * np.cos(angle) + y * np.sin(angle), y * np.cos(angle) - x * np.sin(angle)


def _soft(inside: np.ndarray, edge: float) -> np.ndarray:
    """0 outside to 1 well inside, with a smooth step over `edge`."""
    share = np.clip(inside / edge, 0.0, 1.0)
    return share * share * (3.0 - 2.0 * share)


def _noise(draw: np.random.Generator, size: int, grain_px: float) -> np.ndarray:
    """Seamless Gaussian noise with bumps about grain_px wide, mean 0 and deviation 1."""
    waves = np.fft.rfft2(_bell(draw, size * size).reshape(size, size))
    along, down = np.fft.rfftfreq(size), np.fft.fftfreq(size)[:, None]
    smooth = np.fft.irfft2(waves * np.exp(-0.5 * (np.pi * grain_px) ** 2 * (along**2 + down**2)), (size, size))
    return (smooth - smooth.mean()) / smooth.std()


def _level(noise: np.ndarray) -> np.ndarray:
    """Noise of deviation 1 as a share of 0..1."""
    return 0.5 + 0.5 * np.tanh(0.8 * noise)


def _bell(draw: np.random.Generator, count: int) -> np.ndarray:
    """Standard normal numbers (Box and Muller 1958) from uniform ones, whose stream numpy keeps stable."""
    first, second = draw.random((2, count))
    return np.sqrt(-2.0 * np.log1p(-first)) * np.cos(_TURN * second)
