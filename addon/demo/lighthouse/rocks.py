"""The breakwater: two layers of rock in three greys, broken up by slopes, loose stones and moss."""

from math import hypot

from ..parts import PARTS
from .site import OUTWARD, Cell, Site

SPINE = ((8, 13), (21, 13), (30, 14.5))  # the breakwater's axis, in cells
END = 14  # the row of cells in which the spine ends
REACH = ((5.6, 5.3, 1.2), (7.0, 6.7, 2.6))  # half widths along the spine: upper layer, lower layer
GREYS = ["stone"] * 5 + ["wet stone"] * 3 + ["pale stone"] * 2
SIZES = "1x1 1x2 1x3 1x4 2x2 2x3 2x4 2x6 2x8"


def mound(site: Site, layer: int, keep_free: set[Cell]) -> set[Cell]:
    """Cells of the upper (0) or lower (1) layer, with a ragged edge."""
    cells = set()
    for x in range(site.cells[0]):
        for y in range(site.cells[1]):
            ragged = 0.55 * (((x * 7 + y * 13 + layer * 5) % 11) / 10 - 0.5) * 2
            if _depth(x + 0.5, y + 0.5, layer) + ragged > 0 and (x, y) not in keep_free:
                cells.add((x, y))
    return cells


def beacon(site: Site, level: int) -> None:
    """A small light at the far end of the breakwater's lower layer, whose upper side lies at `level`."""
    x, y = max((x, y) for x, y, at in site.studs if (y, at) == (END, level) and site.free(x, y, level, 9))
    for part, colour in (
        ("round_plate_1x1", "chalk white"),
        ("round_brick_1x1", "door teal"),
        ("round_brick_1x1", "chalk white"),
        ("cone_1x1", "door teal"),
    ):
        site.put(part, colour, x, y, level)
        level += PARTS[part].plates


def rim(cells: set[Cell]) -> set[Cell]:
    """Cells right outside of these."""
    return {(x + dx, y + dy) for x, y in cells for dx, dy in OUTWARD.values()} - cells


def grey(site: Site) -> str:
    """A rock's colour."""
    return site.luck.choice(GREYS)


def scatter(site: Site, terrace: set[Cell], level: int, inside: set[Cell]) -> None:
    """Loose rock on the free studs of a terrace, tilted away from the `inside` it leans on."""
    for x, y in sorted(terrace):
        ways = [t for t, (dx, dy) in OUTWARD.items() if (x - dx, y - dy) in inside]
        if not (site.free(x, y, level, 3) and site.standing(x, y, level)):
            continue
        dice = site.luck.random()
        if ways and dice < 0.40:
            turns = site.luck.choice(ways)
            dx, dy = OUTWARD[turns]
            if (x + dx, y + dy) in terrace and site.free(x + dx, y + dy, level, 3):
                site.put("slope_1x2", grey(site), min(x, x + dx), min(y, y + dy), level, turns)
            else:
                site.put("wedge_1x1", grey(site), x, y, level, turns)
        elif ways and dice < 0.48:
            site.put("wedge_1x1", grey(site), x, y, level, site.luck.choice(ways))
        elif dice < 0.55:
            site.put("plate_1x1", grey(site), x, y, level)
        elif dice < 0.61:
            site.put("round_plate_1x1", "moss", x, y, level)
        elif dice < 0.65:
            site.put("tile_1x1", "pale stone", x, y, level)


def _depth(x: float, y: float, layer: int) -> float:
    """How far inside the layer a point lies, in cells."""
    best = -99.0
    for k in range(len(SPINE) - 1):
        (ax, ay), (bx, by) = SPINE[k], SPINE[k + 1]
        along = ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / ((bx - ax) ** 2 + (by - ay) ** 2)
        t = min(max(along, 0.0), 1.0)
        width = REACH[layer][k] + t * (REACH[layer][k + 1] - REACH[layer][k])
        best = max(best, width - hypot(x - ax - t * (bx - ax), y - ay - t * (by - ay)))
    return best
