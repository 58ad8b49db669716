"""Plain builds on which a fit is judged by eye: a tower, a long wall and a block, each on a plate that stays."""

from addon.demo.lighthouse import Placed, placed
from addon.demo.parts import BRICK, PLATE

TOWER_COURSES, WALL_COURSES, BLOCK_COURSES = 20, 8, 6
WALL_STUDS, BLOCK_STUDS = 30, 8


def tower() -> tuple[Placed, ...]:
    """2x4 and 2x2 bricks in bond, four studs square, two courses in seven red; one-stud pieces on its top."""
    bricks = [placed("plate_8x8", "stone", -2, -2, 0.0)]
    for course in range(TOWER_COURSES):
        turned, far = course % 2, course % 6 > 3  # the long one lies along each side in turn, so that all courses bind
        colour = "signal red" if course % 7 in (4, 5) else "chalk white"
        for part, along, across in (("brick_2x4", 0, 0), ("brick_2x2", 0, 2), ("brick_2x2", 2, 2)):
            across = 2 - across if far else across
            x, y = (across, along) if turned else (along, across)
            bricks.append(placed(part, colour, x, y, PLATE + BRICK * course, turns=1 - turned))
    top = PLATE + BRICK * TOWER_COURSES
    bricks += [placed("brick_1x1", "chalk white", x, y, top) for x in (0, 3) for y in (0, 3)]
    return tuple(bricks)


def wall() -> tuple[Placed, ...]:
    """Two studs thick in running bond, one-stud bricks and tiles along its top."""
    bricks = [placed("plate_8x8", "stone", 8 * n - 1, -3, 0.0) for n in range(4)]
    for course in range(WALL_COURSES):
        x = 0
        while x < WALL_STUDS:
            length = 2 if x == 0 and course % 2 else min(4, WALL_STUDS - x)
            bricks.append(placed(f"brick_2x{length}", "signal red", x, 0, PLATE + BRICK * course, turns=1))
            x += length
    top = PLATE + BRICK * WALL_COURSES
    bricks += [placed("brick_1x1", "chalk white", x, 0, top) for x in range(0, WALL_STUDS, 2)]
    bricks += [placed("tile_1x1", "chalk white", x, 1, top) for x in range(WALL_STUDS)]
    return tuple(bricks)


def block() -> tuple[Placed, ...]:
    """Solid, 2x4 and 2x2 bricks in courses laid crosswise, single studs and tiles on its top."""
    bricks = [placed("plate_8x8", "stone", 0, 0, 0.0)]
    for course in range(BLOCK_COURSES):
        lengths = ((4, 4), (2, 4, 2))[course // 2 % 2]
        for across in range(0, BLOCK_STUDS, 2):
            along = 0
            for length in lengths:
                x, y = (along, across) if course % 2 else (across, along)
                bricks.append(placed(f"brick_2x{length}", "door teal", x, y, PLATE + BRICK * course, turns=course % 2))
                along += length
    top = PLATE + BRICK * BLOCK_COURSES
    bricks += [placed("tile_1x1", "cream", x, y, top) for x in range(8) for y in range(0, 8, 2)]
    bricks += [placed("round_plate_1x1", "chalk white", x, y, top) for x in range(0, 8, 3) for y in range(1, 8, 2)]
    return tuple(bricks)
