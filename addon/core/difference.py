"""What a new version of a build changed: told brick by brick, counted, and drawn."""

from dataclasses import dataclass

import numpy as np

from .report import Skipped

KEPT, MOVED, RECOLOURED, ADDED, REMOVED = "kept", "moved", "recoloured", "added", "removed"
CHANGES = (KEPT, MOVED, RECOLOURED, ADDED, REMOVED)


@dataclass(frozen=True)
class Updated:
    """What updating a build to a new version did."""

    build: str
    bricks: int  # of the new version
    kept: int  # as they stood, in place and colour
    moved: int
    recoloured: int
    added: int
    removed: int
    solved: int  # bricks within reach of a change
    resat: int  # of these, the ones that sit otherwise than before
    cut: int  # places beyond the limits all the same
    origin_mm: tuple[float, float, float]  # how far the export's origin lies from that of the version before
    turned_deg: int
    changes: tuple[Skipped, ...]  # what happened to which brick
    skipped: tuple[Skipped, ...]  # what could not follow the export, and why
    shots: int = 0  # whose keys were set anew

    @property
    def sentence(self) -> str:
        if self.kept == self.bricks and not self.removed:
            return f"nothing has changed: all {self.bricks} bricks stand as they stood"
        told = [f"{getattr(self, each)} {each}" for each in CHANGES if getattr(self, each)]
        return f"{', '.join(told)}; {self.resat} of {self.bricks} bricks sit otherwise than before"


def way(mm: np.ndarray) -> str:
    """A way (3,) in words."""
    return ", ".join(f"{value:g}" for value in np.round(mm, 2) + 0.0) + " mm"
