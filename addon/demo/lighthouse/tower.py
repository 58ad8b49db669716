"""The tower: an eight-sided foot, two narrowing shafts with red bands, gallery, lamp room and roof."""

from .site import BACK, FRONT, LEFT, RIGHT, Cell, Site

MIDDLE = (8, 13)  # the node between cells the tower is centred on
DOOR = "door teal"
SIZES = "1x1 1x2 1x3 1x4 2x2 2x3"


def disc(width: int, middle: Cell = MIDDLE) -> set[Cell]:
    """Cells of a round plan, `width` cells across."""
    radius = {2: 1.5, 4: 1.6, 6: 3.2, 8: 4.0}[width]
    around = range(-(width // 2), width // 2)
    return {
        (middle[0] + i, middle[1] + j) for i in around for j in around if (i + 0.5) ** 2 + (j + 0.5) ** 2 <= radius**2
    }


def raise_tower(site: Site, level: int) -> None:
    """The whole tower, standing on studs at `level`."""
    x, y = MIDDLE
    for at in (level, level + 3):
        site.put("brick_1x2", DOOR, x - 1, y - 4, at, RIGHT)
        site.lay(disc(8) - disc(4), at, "brick", SIZES, "chalk white")
    level += 6
    _skirt(site, level, 4)
    level += 3
    for course, colour in enumerate(["chalk white"] * 2 + ["signal red"] * 2 + ["chalk white"] * 2):
        at = level + 3 * course
        if course in (1, 4):
            site.put("brick_1x2", "slate", x - 1, y - 3, at, RIGHT)
            site.put("brick_1x2", "slate", x + 2, y - 1, at)
        site.lay(disc(6) - disc(2), at, "brick", SIZES, colour)
    level += 18
    _skirt(site, level, 3)
    level += 3
    for course, colour in enumerate(["chalk white", "signal red", "signal red", "chalk white"]):
        _column(site, level + 3 * course, colour, window=course == 3)
    _gallery(site, level + 12)
    _lamp(site, level + 14)
    _roof(site, level + 23)


def _skirt(site: Site, level: int, half: int) -> None:
    """Slopes on the step from a shaft of twice `half` cells to the next; cones in the corners they leave."""
    x, y = MIDDLE
    flanks, corners = ((-2, 0), (-3, 2)) if half == 4 else ((-1,), (-2, 1))
    for side in (-2, 0):
        site.put("slope_2x2", "chalk white", x + side, y - half, level, FRONT)
        site.put("slope_2x2", "chalk white", x + side, y + half - 2, level, BACK)
    for side in flanks:
        site.put("slope_2x2", "chalk white", x - half, y + side, level, LEFT)
        site.put("slope_2x2", "chalk white", x + half - 2, y + side, level, RIGHT)
    for i in (-3, 2):
        for j in corners:
            site.put("cone_1x1", "chalk white", x + i, y + j, level)


def _column(site: Site, level: int, colour: str, window: bool) -> None:
    x, y = MIDDLE
    for i in (-2, 1):
        for j in (-2, 1):
            site.put("round_brick_1x1", colour, x + i, y + j, level)
    if window:
        site.put("brick_1x2", "slate", x - 1, y - 2, level, RIGHT)
        site.put("brick_1x2", "slate", x + 1, y - 1, level)
    site.lay(disc(4), level, "brick", "1x2 2x2 2x3 2x4", colour)


def _gallery(site: Site, level: int) -> None:
    x, y = MIDDLE
    site.put("plate_4x6", "stone", x - 3, y - 3, level, RIGHT)
    site.put("plate_2x6", "stone", x - 3, y + 1, level, RIGHT)
    site.put("plate_4x6", "signal red", x - 3, y - 3, level + 1)
    site.put("plate_2x6", "signal red", x + 1, y - 3, level + 1)
    level += 2
    site.put("fence_1x4", "chalk white", x - 2, y - 3, level)
    site.put("fence_1x4", "chalk white", x - 2, y + 2, level)
    site.put("fence_1x4", "chalk white", x - 3, y - 2, level, RIGHT)
    site.put("fence_1x4", "chalk white", x + 2, y - 2, level, RIGHT)
    for i in (-3, 2):
        for j in (-3, 2):
            site.put("round_brick_1x1", "chalk white", x + i, y + j, level)


def _lamp(site: Site, level: int) -> None:
    x, y = MIDDLE
    site.lay({(x + i, y + j) for i in range(-2, 2) for j in range(-2, 2)}, level, "brick", "1x2 2x2 2x3", "chalk white")
    for course in (1, 2):
        at = level + 3 * course
        for i in (-2, 1):
            for j in (-2, 1):
                site.put("round_brick_1x1", "signal red", x + i, y + j, at)
        site.put("brick_1x2", "lamp amber", x - 1, y - 2, at, RIGHT)
        site.put("brick_1x2", "lamp amber", x - 1, y + 1, at, RIGHT)
        site.put("brick_1x2", "lamp amber", x - 2, y - 1, at)
        site.put("brick_1x2", "lamp amber", x + 1, y - 1, at)
    site.put("jumper_2x2", "chalk white", x - 1, y - 1, level + 3)
    for plate in (4, 5):
        site.put("round_plate_1x1", "clear pane", x - 0.5, y - 0.5, level + plate)


def _roof(site: Site, level: int) -> None:
    x, y = MIDDLE
    site.put("plate_4x6", "chalk white", x - 3, y - 3, level)
    site.put("plate_2x6", "chalk white", x + 1, y - 3, level)
    level += 1
    for half in (3, 2):
        for turns, i, j in (
            (FRONT, -half, -half),
            (RIGHT, half - 2, -half),
            (BACK, half - 2, half - 2),
            (LEFT, -half, half - 2),
        ):
            site.put("hip_2x2", "signal red", x + i, y + j, level, turns)
        if half == 3:
            for turns, i, j in ((FRONT, -1, -3), (RIGHT, 1, -1), (BACK, -1, 1), (LEFT, -3, -1)):
                site.put("slope_2x2", "signal red", x + i, y + j, level, turns)
        level += 3
    site.put("jumper_2x2", "signal red", x - 1, y - 1, level)
    site.put("round_plate_1x1", "slate", x - 0.5, y - 0.5, level + 1)
    site.put("cone_1x1", "slate", x - 0.5, y - 0.5, level + 2)
