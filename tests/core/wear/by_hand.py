"""What each layer declares, written by hand: a new layer gets a row here, with values that are nobody's defaults."""

from dataclasses import dataclass
from typing import Any

from addon.core.wear.layers import Dust, Fade, Finish, Rub, Scratches, Smudges, Tint, Wear


@dataclass(frozen=True)
class Declared:
    record: Any
    strength: float
    sockets: dict[str, float]  # what each takes of the record, the strength's first
    unit: str = ""  # of the strength
    share: tuple[float, float] | None = None  # of the best kept brick and of the worst
    clips: bool = False
    past_the_preset: bool = True  # takes the dial over all beyond 1
    on_glass: bool = True
    on_coats: bool = True
    fine: tuple[str, ...] = ()  # sockets for the finest quality alone
    left_out: bool = False  # of the nodes where there is none of it
    default_mm: float | None = None  # size of its picture


BY_HAND = {
    "scratches": Declared(
        Scratches(0.21, 31.0, 4.1), 0.21, {"Scratch amount": 0.21, "Scratch size": 31.0, "Scratch depth": 4.1},
        share=(0.4, 1.6), fine=("Scratch depth",), default_mm=40.0,
    ),
    "smudges": Declared(Smudges(0.22, 32.0), 0.22, {"Smudge amount": 0.22, "Smudge size": 32.0}, default_mm=60.0),
    "dust": Declared(
        Dust(0.23, 33.0), 0.23, {"Dust amount": 0.23, "Dust size": 33.0}, on_glass=False, left_out=True, default_mm=30.0
    ),
    "rub": Declared(Rub(0.24), 0.24, {"Rub amount": 0.24}, share=(0.4, 1.6)),
    "tint": Declared(Tint(1.5), 1.5, {}, "ΔE"),
    "fade": Declared(Fade(2.6), 2.6, {}, "ΔE", share=(0.35, 1.0), clips=True),
    "finish": Declared(
        Finish(0.27, 61.0, 7.1, 0.19), 0.27,
        {"Finish amount": 0.27, "Warp": 61.0, "Sink": 7.1, "Gloss spread": 0.19},
        past_the_preset=False, on_coats=False, clips=True, fine=("Warp", "Sink"),
    ),
}  # fmt: skip
WORN = Wear(0.11, **{name: each.record for name, each in BY_HAND.items()})
SOCKETS = {"Rounding": 0.11} | {name: value for each in BY_HAND.values() for name, value in each.sockets.items()}
