"""What a file may ask for: how far its coordinates reach, and how much memory a process that tries it takes."""

from contextlib import suppress

MOST_UNITS = 1e12  # away from the origin: far beyond any unit of length, and its square still fits into a float
_START_BYTES, _BYTES_PER_BYTE = 4 << 30, 100


def hold_memory(size: int) -> None:
    """Ends this process where a file of `size` bytes takes more than it may."""
    with suppress(ImportError, OSError, ValueError):  # Windows has none; some systems refuse
        import resource

        most = _START_BYTES + _BYTES_PER_BYTE * size
        resource.setrlimit(resource.RLIMIT_DATA, (most, most))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
