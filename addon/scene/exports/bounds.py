"""What a file may ask for: how far its coordinates reach, and what a process that tries it takes of the machine."""

from contextlib import suppress

import numpy as np

MOST_UNITS = 1e12  # away from the origin: far beyond any unit of length, and its square still fits into a float
_FEW = 64  # whose sum of squares is worked out sooner than their least and their most are found
_START_BYTES, _BYTES_PER_BYTE = 4 << 30, 100
_START_S, _BYTES_PER_S = 600, 10_000  # of all processors; who waits for it gives up long before


def are_near(numbers: np.ndarray) -> bool:
    """Whether all are numbers and within those bounds."""
    if numbers.size <= _FEW and np.vdot(numbers, numbers) < MOST_UNITS:
        return True
    return not numbers.size or bool(numbers.min() > -MOST_UNITS and numbers.max() < MOST_UNITS)


def hold(size: int) -> None:
    """Ends this process where a file of `size` bytes takes more memory than it may, or no end, also once nobody waits
    for it any more."""
    with suppress(ImportError, OSError, ValueError):  # Windows has none; some systems refuse
        import resource

        most = _START_BYTES + _BYTES_PER_BYTE * size
        resource.setrlimit(resource.RLIMIT_DATA, (most, most))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        most_s = _START_S + size // _BYTES_PER_S
        resource.setrlimit(resource.RLIMIT_CPU, (most_s, most_s))
