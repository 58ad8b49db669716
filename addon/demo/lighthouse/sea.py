"""The sea: base plates, a choppy layer of plates and clear tiles on them, and foam where it meets the rock."""

from math import sin

from .site import OUTWARD, RIGHT, Cell, Site


def base(site: Site) -> None:
    """Large plates that carry everything, from the table up."""
    for x in range(0, 32, 8):
        site.put("plate_8x8", "deep sea", x, 0, 0)
        site.put("plate_4x8", "deep sea", x, 8, 0, RIGHT)
        site.put("plate_8x8", "deep sea", x, 12, 0)


def water(site: Site, cells: set[Cell], shore: set[Cell], quiet: set[Cell]) -> None:
    """Waves over the free cells at level 1; `quiet` ones stay studded for what floats there."""
    foam = {(x, y) for x, y in cells - quiet for dx, dy in OUTWARD.values() if (x + dx, y + dy) in shore}
    for cell in sorted(foam):
        if site.free(*cell, 1) and site.luck.random() < 0.4:
            site.put(site.luck.choice(["round_plate_1x1", "round_plate_1x1", "tile_1x1"]), "chalk white", *cell, 1)
    site.lay(quiet, 1, "plate", "1x1 1x2 1x3 1x4 2x2 2x3 2x4 2x6", "sea")
    height = {c: _swell(*c) for c in cells - quiet}
    site.lay(
        {c for c, h in height.items() if h > -0.25},
        1,
        "plate",
        "1x1 1x2 1x3 1x4 2x2 2x3 2x4 2x6",
        lambda: site.luck.choice(["sea", "sea", "lagoon"]),
    )
    site.lay({c for c, h in height.items() if -1.1 < h <= -0.25}, 1, "tile", "1x1 1x2 1x4 2x2", "clear water")


def _swell(x: int, y: int) -> float:
    """Long crossing waves."""
    return sin(0.5 * x + 0.85 * y) + 0.7 * sin(0.31 * x - 0.55 * y + 1.0)
