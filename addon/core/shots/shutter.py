"""When a shutter is open about the frames that are rendered, and where between them one shot may take over."""

from dataclasses import dataclass
from math import ceil

START, CENTRE, END = "START", "CENTER", "END"  # of the shutter at the frame's own time, as Blender says it
LONGEST = 0.98  # rendered frames: what is left between two shutters has to take the rounding of Blender's times
_OPENS = {START: 0.0, CENTRE: -0.5, END: -1.0}  # shares of its length before the frame's own time


@dataclass(frozen=True)
class Shutter:
    """The shutter of a scene; times are the timeline's frames, whether one of them is rendered or many."""

    position: str = CENTRE
    length: float = 0.5  # rendered frames that it is open for, 0 without motion blur
    step: float = 1.0  # frames of the timeline from one rendered frame to the next: its remapping

    @property
    def is_open_too_long(self) -> bool:
        """Whether a shutter opens before the one of the frame before has shut, or as good as that: no moment is left at
        which bricks could move unseen."""
        return self.length > LONGEST + 1e-6  # Blender has the length in single precision

    def shown(self, first: int) -> float:
        """The first time from a frame of the timeline on that is rendered."""
        return ceil(first / self.step - 1e-6) * self.step

    def cut(self, first: int) -> float:
        """When a shot that begins on a frame takes over: the middle between the shutter of the last frame rendered
        before it and its own first, for any length up to `LONGEST`."""
        opens = _OPENS[self.position] * LONGEST
        shut_before = opens + LONGEST - 1.0
        return self.shown(first) + 0.5 * (opens + shut_before) * self.step

    def parts(self, first: int, cut: float) -> bool:
        """Whether a cut falls into no open shutter, before the shot's first frame and after the last of the other."""
        shown = self.shown(first)
        return self.open(shown - self.step)[1] < cut <= self.open(shown)[0]

    def open(self, time: float) -> tuple[float, float]:
        """From when until when it is open for a frame that is rendered at a time."""
        opens = _OPENS[self.position] * self.length
        return time + opens * self.step, time + (opens + self.length) * self.step
