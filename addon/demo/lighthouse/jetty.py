"""The jetty: round posts in the water, stringers, planks, bollards, and a dinghy made fast beside it."""

from .site import BACK, FRONT, RIGHT, Cell, Site

X, LENGTH = 16, 8  # left edge, and how far it reaches from the front of the plot
SIDES = (X, X + 3)
POSTS = (0, 3, 6)
DINGHY = (11, 0)


def jetty_cells() -> set[Cell]:
    """Cells the jetty stands over."""
    return {(X + i, j) for i in range(4) for j in range(LENGTH)}


def dinghy_cells() -> set[Cell]:
    """Cells the dinghy floats on."""
    return {(DINGHY[0] + i, DINGHY[1] + j) for i in range(2) for j in range(5)}


def build_jetty(site: Site, water: int, deck: int) -> None:
    """Posts from `water` up, planks whose upper side lies at level `deck`."""
    for side in SIDES:
        for y in POSTS:
            site.put("round_brick_1x1", "oak", side, y, water)
            site.put("round_plate_1x1", "oak", side, y, water + 3)
        site.put("plate_1x8", "oak", side, 0, deck - 2)
    for y in range(1, LENGTH):
        site.put("tile_1x4", site.luck.choice(["driftwood", "driftwood", "oak"]), X, y, deck - 1, RIGHT)
    site.put("plate_1x4", "driftwood", X, 0, deck - 1, RIGHT)
    for side in SIDES:
        site.put("round_brick_1x1", "wet stone", side, 0, deck)
        site.put("round_plate_1x1", "pale stone", side, 0, deck + 3)


def build_dinghy(site: Site, water: int) -> None:
    """A small boat on studs at `water`."""
    x, y = DINGHY
    site.put("plate_2x4", "signal red", x, y + 1, water)
    site.put("slope_2x2", "chalk white", x, y, water + 1, FRONT)
    for side in (0, 1):
        site.put("plate_1x2", "chalk white", x + side, y + 2, water + 1)
    site.put("tile_1x2", "oak", x, y + 3, water + 2, RIGHT)
    site.put("wedge_1x2", "chalk white", x, y + 4, water + 1, BACK)
