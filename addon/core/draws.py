"""Seeded draws: a value depends on the seed, the brick's key and the channel alone, never on order or count.

Only integer operations and + - * / are used, so that every machine, numpy and Blender gives the same bits.
The mixing step is the finaliser of SplitMix64 (Steele, Lea, Flood: Fast splittable pseudorandom number
generators, OOPSLA 2014).
"""

import numpy as np

GAMMA = np.uint64(0x9E3779B97F4A7C15)
CLIP_SIGMA = 2.0  # a limit of the fit lies this many standard deviations out

# Odd rational in v = 2u - 1 for the inverse of the normal distribution cut at +-2 sigma; fitted to the exact
# inverse on [-1, 1], largest error 1.5e-9 sigma.
_NUMERATOR = (
    1.196288033701444,
    -3.392282898347194,
    3.560877312088687,
    -1.661542304741717,
    0.3145075837773341,
    -0.01377176397687909,
)
_DENOMINATOR = (
    1.0,
    -3.074190975426027,
    3.590376945047069,
    -1.951831499117077,
    0.4759624683687818,
    -0.03827895762041262,
)


def mixed(state: np.ndarray | np.uint64) -> np.ndarray:
    """One step of SplitMix64 for each 64-bit state: equal states give equal words, close ones unrelated words."""
    with np.errstate(over="ignore"):
        z = np.asarray(state, dtype=np.uint64) + GAMMA
        z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
        z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return z ^ (z >> np.uint64(31))


def words(seed: int, keys: np.ndarray, channel: int | np.ndarray) -> np.ndarray:
    """64 random bits for each key (N,), from a seed of any size and a small channel number, or from several (C, 1)."""
    stream = mixed(mixed(np.uint64(seed & 0xFFFFFFFFFFFFFFFF)) ^ np.asarray(channel, dtype=np.uint64))
    return mixed(mixed(np.asarray(keys, dtype=np.uint64) ^ stream))


def uniform(seed: int, keys: np.ndarray, channel: int | np.ndarray) -> np.ndarray:
    """Numbers strictly between 0 and 1, on a grid of 2^-53."""
    return ((words(seed, keys, channel) >> np.uint64(11)).astype(np.float64) + 0.5) * 2.0**-53


def clipped_normal(seed: int, keys: np.ndarray, channel: int | np.ndarray) -> np.ndarray:
    """Normal draws cut at +-CLIP_SIGMA and scaled so that the cut lies at +-1."""
    v = 2.0 * uniform(seed, keys, channel) - 1.0
    square = v * v
    return v * _polynomial(_NUMERATOR, square) / _polynomial(_DENOMINATOR, square) / CLIP_SIGMA


def _polynomial(coefficients: tuple[float, ...], x: np.ndarray) -> np.ndarray:
    value = np.full_like(x, coefficients[-1])
    for coefficient in coefficients[-2::-1]:
        value = value * x + coefficient
    return value
