"""How much of each layer the sides of bricks have, as the wear node works it out from what bricks and scene carry."""

from dataclasses import dataclass

import numpy as np

from .layers import HANDS, LAYERS, LIGHT, LOT, SHARES, SKY, Wear, rule_of, strength

STEEPEST, FLATTEST = 0.35, 0.95  # upward part of the normal where dust begins to hold and where it lies full


@dataclass(frozen=True)
class Carried:
    """What N bricks carry. Sides are -x, +x, -y, +y, -z, +z of each one's own axes."""

    reach: np.ndarray  # (N, 6) share that hands get to
    sky: np.ndarray  # (N, 6) share of its sky that it sees
    light: np.ndarray  # (N, 6) share of a window's light that it gets; 1 without a window
    up: np.ndarray  # (N, 6) upward part of its normal in the world
    shares: np.ndarray  # (N, S) of the layers that have any
    lot: np.ndarray  # (N,) how far its colour lot deviates, of the widest, in the channel where it does most
    use: np.ndarray  # (N,) how much of what use brings: the brick's own amount times its material's
    near: np.ndarray  # (N,) and how many times of it places bring there

    def __len__(self) -> int:
        return len(self.use)


@dataclass(frozen=True)
class Dialled:
    """How a scene shows the wear."""

    wear: float  # the dial over all
    layer: float = 1.0  # and that of one layer


def amounts(layer: str, wear: Wear, dialled: Dialled, carried: Carried) -> np.ndarray:
    """The strength (N, 6) of a layer on each side, in its unit. Masks within a material are not in it, and no limit of
    a colour that cannot age further."""
    declared = LAYERS[layer]
    here = np.full(len(carried), strength(wear, layer))
    most = rule_of(layer).high
    if declared.share:
        here = here * carried.shares[:, list(SHARES).index(layer)]
        here = np.minimum(here, most) if declared.share.is_full else here
    here = here * dialled.layer * (min(dialled.wear, 1.0) if declared.ends_as_declared else dialled.wear)
    if declared.of_use:
        near = np.minimum(carried.near, 1.0) if declared.where == LIGHT else carried.near
        here = here * carried.use * near
    if declared.clips:
        here = np.minimum(here, most)
    return here[:, None] * _let_through(declared.where, carried)


def _let_through(where: str, carried: Carried) -> np.ndarray:
    """The share (N, 6) of a layer that gets to each side."""
    if where == HANDS:
        return carried.reach
    if where == LIGHT:
        return carried.light
    if where == SKY:
        flat = np.clip((carried.up - STEEPEST) / (FLATTEST - STEEPEST), 0.0, 1.0)
        return carried.sky * (flat * flat * (3.0 - 2.0 * flat))
    if where == LOT:
        return np.repeat(carried.lot[:, None], carried.reach.shape[1], axis=1)
    return np.ones_like(carried.reach)
