"""What all drawings share: numbers from a seed, seamless noise, soft steps."""

import numpy as np

SIZE_PX = 2048
TURN = np.float32(2.0 * np.pi)

_FINEST = 4.0  # samples a bump: noise is drawn no finer than it needs


def source(seed: int) -> np.random.Generator:
    """A stream of numbers that depends on the seed alone."""
    return np.random.Generator(np.random.Philox(seed))


def bell(draw: np.random.Generator, count: int) -> np.ndarray:
    """Standard normal numbers (Box and Muller 1958) from uniform ones, whose stream numpy keeps stable."""
    first, second = draw.random((2, count))
    return np.sqrt(-2.0 * np.log1p(-first)) * np.cos(2.0 * np.pi * second)


def noise(draw: np.random.Generator, size: int, grain_px: float) -> np.ndarray:
    """Seamless Gaussian noise (size, size) with bumps about grain_px wide, mean 0 and deviation 1."""
    coarse = size
    while coarse > 64 and grain_px * coarse / size >= 2.0 * _FINEST:
        coarse //= 2
    waves = np.fft.rfft2(draw.random((coarse, coarse)))  # sums of many even draws are as good as bell-shaped
    along, down = np.fft.rfftfreq(coarse), np.fft.fftfreq(coarse)[:, None]
    waves *= np.exp(-0.5 * (np.pi * grain_px * coarse / size) ** 2 * (along**2 + down**2))
    half = coarse // 2
    whole = np.zeros((size, half), np.complex128)  # there is nothing beyond
    whole[:half], whole[-half:] = waves[:half, :half], waves[-half:, :half]
    whole[0, 0] = 0.0
    smooth = np.fft.irfft(np.fft.ifft(whole, axis=0), size, axis=1).astype(np.float32)
    return smooth / smooth.std()


def level(values: np.ndarray) -> np.ndarray:
    """Noise of deviation 1 as a share of 0..1."""
    return 0.5 + 0.5 * np.tanh(0.8 * values)


def soft(inside: np.ndarray, edge: float) -> np.ndarray:
    """0 outside to 1 well inside, with a smooth step over `edge`."""
    share = np.clip(inside / edge, 0.0, 1.0)
    return share * share * (3.0 - 2.0 * share)
