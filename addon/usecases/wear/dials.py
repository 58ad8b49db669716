"""What an artist turns over a preset."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import inf
from pathlib import Path

from ...core.errors import DialProblem
from ...core.wear import quality as tiers
from ...core.wear.layers import LAYERS
from ...core.wear.purpose import CHOICES, Chosen

MOST = 2.0  # of a dial
LARGEST_SEED = 2**31 - 1  # Blender's own whole numbers end there


def check(what: str, value: float) -> None:
    """Raises DialProblem where a dial is turned past its ends."""
    if not 0.0 <= value <= MOST:
        raise DialProblem(f"the {what} is at {value:g}: give a number from 0 to {MOST:g}")


def over(layers: Mapping[str, float], factors: Mapping[str, float]) -> dict[str, float]:
    """A build's dials of layers with further factors over them, as a shot has."""
    return {name: layers.get(name, 1.0) * factors.get(name, 1.0) for name in {**layers, **factors}}


@dataclass(frozen=True)
class Dials:
    """What an artist turns over a preset; 1 is the preset itself."""

    seed: int = 0
    looseness: float = 1.0
    wear: float = 1.0
    textures: Path | None = None  # None: stand-ins
    quality: str = tiers.STANDARD.name
    rounding: str = tiers.SHADING
    budget: float | None = None  # sweeps over all contacts that the fit may take; None: as many as it needs
    layers: Mapping[str, float] = field(default_factory=dict)  # over the preset's amounts; what is not named is at 1
    window_deg: float | None = None  # which side faced the window: from the build's x axis anticlockwise; None: none
    wall_deg: float | None = None  # and which stood to a wall
    uses: Chosen = field(default_factory=dict)  # what pictures of the folder are for by hand, by file name

    def __post_init__(self) -> None:
        for name in ("looseness", "wear"):
            check(f"dial {name}", getattr(self, name))
        for layer, value in self.layers.items():
            if layer not in LAYERS:
                raise DialProblem(f'there is no layer "{layer}": choose one of {", ".join(LAYERS)}')
            check(f"dial of {layer}", value)
        if self.budget is not None and not 0.0 <= self.budget < inf:
            raise DialProblem(f"the budget is {self.budget:g} sweeps: give a number from 0, or none at all")
        for what, angle in (("window", self.window_deg), ("wall", self.wall_deg)):
            if angle is not None and not 0.0 <= angle <= 360.0:
                raise DialProblem(f"the {what} stands at {angle:g}°: give an angle from 0 to 360, or none at all")
        for name, use in self.uses.items():
            if use not in CHOICES:
                raise DialProblem(f'"{name}" is to be used as "{use}": choose one of {", ".join(CHOICES)}')
        if not 0 <= self.seed <= LARGEST_SEED:
            raise DialProblem(f"the seed is {self.seed}: give a whole number from 0 to {LARGEST_SEED}")
        tiers.named(self.quality)
        if self.rounding not in tiers.ROUNDINGS:
            raise DialProblem(f'there is no rounding "{self.rounding}": choose one of {", ".join(tiers.ROUNDINGS)}')
