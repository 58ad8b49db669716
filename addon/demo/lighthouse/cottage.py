"""The keeper's cottage: four walls, a gabled roof with a chimney, and a porch over the door."""

from .site import BACK, FRONT, RIGHT, Site

CORNER = (15, 10)
SIZE = (8, 6)
WALLS, ROOF, DOOR, PANE = "cream", "slate", "door teal", "clear pane"


def build_cottage(site: Site, level: int) -> None:
    """The whole cottage, standing on studs at `level`."""
    _walls(site, level)
    _porch(site, level)
    _roof(site, level + 9)


def _walls(site: Site, level: int) -> None:
    x, y = CORNER
    ring = {
        (x + i, y + j) for i in range(SIZE[0]) for j in range(SIZE[1]) if i in (0, SIZE[0] - 1) or j in (0, SIZE[1] - 1)
    }
    for course in range(3):
        at = level + 3 * course
        if course < 2:
            site.put("brick_1x2", DOOR, x + 2, y, at, RIGHT)
        if course == 1:
            site.put("brick_1x2", PANE, x + 5, y, at, RIGHT)
            site.put("brick_1x2", PANE, x + 7, y + 2, at)
            site.put("brick_1x2", PANE, x, y + 2, at)
        site.lay(ring, at, "brick", "1x1 1x2 1x3 1x4", WALLS)


def _porch(site: Site, level: int) -> None:
    x, y = CORNER[0] + 1, CORNER[1] - 1
    for side in (0, 3):
        site.put("brick_1x1", "chalk white", x + side, y, level)
    site.put("arch_1x4", "chalk white", x, y, level + 3)
    for side in (0, 2):
        site.put("wedge_1x2", ROOF, x + side, y, level + 6, FRONT)


def _roof(site: Site, level: int) -> None:
    x, y = CORNER
    for gable in (x, x + 7):
        site.put("brick_1x2", WALLS, gable, y + 2, level)
    for row, widths in enumerate(["2222", "12221"]):
        at, left = level + 3 * row, x
        for width in map(int, widths):
            site.put(f"slope_{width}x2", ROOF, left, y + row, at, FRONT)
            site.put(f"slope_{width}x2", ROOF, left, y + 4 - row, at, BACK)
            left += width
    top = level + 6
    for left in (x, x + 2, x + 6):
        site.put("ridge_2x2", ROOF, left, y + 2, top)
    site.put("brick_2x2", "signal red", x + 4, y + 2, top)
    site.put("brick_2x2", "signal red", x + 4, y + 2, top + 3)
    site.put("plate_2x2", "pale stone", x + 4, y + 2, top + 6)
    site.put("round_brick_1x1", "stone", x + 4, y + 2, top + 7)
    site.put("round_plate_1x1", "stone", x + 5, y + 3, top + 7)
