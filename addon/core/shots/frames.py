"""Which frames of shots are rendered."""

from collections.abc import Iterable
from dataclasses import replace

from ..errors import ShotProblem
from .shot import Shot


def within(shots: Iterable[Shot], first: int, last: int) -> tuple[Shot, ...]:
    """The parts of shots that lie in a range of frames, both within; ShotProblem where none does."""
    shots = tuple(shots)
    parts = tuple(
        replace(shot, first=max(shot.first, first), last=min(shot.last, last))
        for shot in shots
        if shot.first <= last and first <= shot.last
    )
    if not parts:
        there = ", ".join(f"{shot.name} {shot.first} to {shot.last}" for shot in shots[:12])
        raise ShotProblem(f"no shot has a frame from {first} to {last}: these are their frames: {there}")
    return parts
