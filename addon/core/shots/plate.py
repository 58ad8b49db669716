"""What a shot's plate can show of the wear: marks finer than it is sharp are lost on it."""

from collections.abc import Mapping
from dataclasses import dataclass

from .grain import Grain
from .sharpness import Sharpness


@dataclass(frozen=True)
class Plate:
    """A photographed plate; where it shows too few clean edges its sharpness is None, and its grain where too little of
    it is even."""

    file: str
    width_px: int
    sharpness: Sharpness | None
    grain: Grain | None = None

    def finest_px(self, picture_width_px: float) -> float:
        """Width of the finest line it resolves, in the pixels of a picture of the same view that is so wide."""
        assert self.sharpness is not None
        return self.sharpness.finest_px * picture_width_px / self.width_px

    def lost(self, marks_px: Mapping[str, float], picture_width_px: float) -> tuple[str, ...]:
        """Which marks of that picture, by name and width, are finer than the plate holds; a sentence for each."""
        if self.sharpness is None:
            return ()
        finest = self.finest_px(picture_width_px)
        return tuple(
            f"{name} of {width:.2f} px are finer than the plate holds ({finest:.2f} px)"
            for name, width in marks_px.items()
            if 0.0 < width < finest
        )
