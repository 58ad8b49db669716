"""The demo's build: a breakwater lighthouse with the keeper's cottage and a jetty, brick by brick."""

from ...core.remembered import keeping
from . import cottage, jetty, rocks, sea, tower
from .site import RIGHT, Placed, Site, placed

__all__ = ["Placed", "bricks", "placed"]

PLOT = (32, 20)
WATER, TERRACE, GROUND = 1, 4, 7  # levels, in plates


@keeping(64)
def bricks() -> tuple[Placed, ...]:
    """Every brick in building order; positions in mm, z up, the plot's middle at the origin on the table."""
    site = Site(PLOT, seed=1887)
    pier, boat = jetty.jetty_cells(), jetty.dinghy_cells()
    upper = rocks.mound(site, 0, keep_free=pier) | tower.disc(8)
    lower = rocks.mound(site, 1, keep_free={c for c in pier if c[1] < 7}) | upper
    plot = {(x, y) for x in range(PLOT[0]) for y in range(PLOT[1])}

    sea.base(site)
    site.lay(lower, WATER, "brick", rocks.SIZES, lambda: rocks.grey(site))
    site.lay(upper, TERRACE, "brick", rocks.SIZES, lambda: rocks.grey(site))
    tower.raise_tower(site, GROUND)
    cottage.build_cottage(site, GROUND)
    jetty.build_jetty(site, WATER, deck=GROUND)
    rocks.beacon(site, TERRACE)
    rocks.scatter(site, rocks.rim(lower) - pier - boat, WATER, inside=lower)
    rocks.scatter(site, lower - upper - pier, TERRACE, inside=upper)
    _yard(site)
    _stores(site)
    rocks.scatter(site, upper, GROUND, inside=upper)
    sea.water(site, plot - lower, shore=lower, quiet=boat)
    jetty.build_dinghy(site, WATER + 1)
    return tuple(site.bricks)


def _yard(site: Site) -> None:
    """A paved way from the jetty past both doors."""
    path = {(x, 8) for x in range(7, 20)} | {(x, 9) for x in (16, 17, 18)}
    paved = {c for c in path if site.standing(*c, GROUND) and site.free(*c, GROUND, 3)}
    site.lay(paved, GROUND, "tile", "1x1 1x2", lambda: site.luck.choice(["driftwood", "pale stone"]))


def _stores(site: Site) -> None:
    """What the keeper left outside: barrels, a crate."""
    for x, y, colour in ((14, 10, "oak"), (13, 10, "driftwood"), (14, 11, "oak"), (21, 9, "mustard")):
        if site.standing(x, y, GROUND) and site.free(x, y, GROUND, 4):
            site.put("round_brick_1x1", colour, x, y, GROUND)
            site.put("round_plate_1x1", "wet stone", x, y, GROUND + 3)
    if all(site.standing(x, 9, GROUND) and site.free(x, 9, GROUND, 4) for x in (13, 14)):
        site.put("brick_1x2", "driftwood", 13, 9, GROUND, RIGHT)
        site.put("tile_1x2", "oak", 13, 9, GROUND + 3, RIGHT)
