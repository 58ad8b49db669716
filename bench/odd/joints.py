"""What turns: hinges, rods in clips, balls in sockets, beams on pins."""

import numpy as np

from . import fittings
from .laying import FORWARD, Laid, about, at, ground, on_front, run, set_on
from .solids import BRICK, PITCH, PLATE, X, Y, Z


def hinged(axis, degrees: float, nx: int = 1, way: int = 1) -> Laid:
    """The other half of a hinge: from an axis along x at a place (3,), up by some degrees; towards -y or +y."""
    turn = about(X, -way * degrees) @ (np.round(about(Z, 180)) if way > 0 else np.eye(3))
    return Laid(f"hinge-{nx}-1", turn, np.asarray(axis, dtype=float) - turn @ (PLATE / 2 * Z))


def doors(rng, n: int = 4, nx: int = 1):
    """Hinges side by side, each open by another angle, with plates and tiles on their leaves."""
    yield from ground(n * nx, 1)
    for i in range(n):
        x = (i + 0.5) * nx
        yield at(f"hinge-{nx}-0", x, -2 / PITCH, 0)
        leaf = hinged((x * PITCH, -2, PLATE / 2), rng.uniform(-50, 40), nx)
        yield leaf
        on_it = Laid(f"{rng.choice(['tile', 'plate'])}-{nx}-1", np.eye(3), np.array([0, 6, PLATE]))
        yield set_on(on_it, leaf.turn, leaf.at)
    yield from run(rng, 0, n * nx, 0.5, PLATE)


def folds(rng, n: int = 3, leaves: int = 3):
    """Strips of hinge on hinge that curl up."""
    yield from ground(2 * n, 1)
    for i in range(n):
        x = 2 * i + 0.5
        yield at("hinge-1-0", x, -2 / PITCH, 0)
        yield at("brick-1-1", x, 0.5, PLATE)
        leaf = hinged((x * PITCH, -2, PLATE / 2), rng.uniform(5, 35))
        yield leaf
        for _ in range(leaves - 1):
            yield set_on(Laid("hinge-1-0", np.round(about(Z, 180)), np.array([0, 12, PLATE])), leaf.turn, leaf.at)
            after = hinged((0, 12, 1.5 * PLATE), rng.uniform(5, 35), 1, -1)
            leaf = set_on(after, leaf.turn, leaf.at)
            yield leaf
        yield set_on(Laid("tile-1-1", np.eye(3), np.array([0, 6, PLATE])), leaf.turn, leaf.at)


def rails(rng, n: int = 6):
    """Rods through clips along the front and the back of a wall."""
    yield from ground(n, 1)
    yield from run(rng, 0, n, 0.5, 0)
    for i in range(n):
        if i % 3 < 2:
            yield at("clip", i + 0.5, 0.5, BRICK, 2 * (i % 3))
        else:
            yield at("plate-1-1", i + 0.5, 0.5, BRICK)
    along = np.round(about(Y, 90))
    for sign in (-1, 1):
        y = 0.5 * PITCH - sign * fittings.CLIP_AT[1]
        yield Laid(f"bar-{n}", along, np.array([n * PITCH / 2, y, BRICK + fittings.CLIP_AT[2]]))
    yield from run(rng, 0, n, 0.5, BRICK + PLATE, "plate")


def masts(rng, n: int = 2, high: int = 3):
    """Upright rods through clips on the sides of posts."""
    yield from ground(3 * n, 1)
    for i in range(n):
        x = 3 * i + 2.5
        turn = np.round(about(Y, 90)) @ FORWARD
        levels = high + int(rng.integers(0, 2))
        for k in range(levels):
            yield at("side-1-1", x, 0.5, k * BRICK)
            yield on_front("plate-1-1", x * PITCH, 0, k * BRICK + 4)
            yield Laid("clip", turn, np.array([x * PITCH, -PLATE, k * BRICK + 4]))
        clip = turn @ fittings.CLIP_AT + (x * PITCH, -PLATE, 0)
        yield Laid(f"bar-{2 * levels}", np.eye(3), np.array([clip[0], clip[1], levels * BRICK / 2]))
        yield at("tile-1-1", x, 0.5, levels * BRICK)


def arms(rng, n: int = 3, joints: int = 2):
    """Balls in sockets, arm on arm, each at an angle of its own."""
    yield from ground(3 * n, 1)
    back = np.round(about(Z, 180))
    for i in range(n):
        x = 3 * i + 0.5
        yield at("brick-1-1", x, 0.5, 0)
        held = at("socket", x, 0.5, BRICK)
        yield held
        yield at("tile-1-1", x, 0.5, BRICK + PLATE)
        for k in range(joints):
            axis = rng.normal(size=3)
            turn = held.turn @ about(axis / np.linalg.norm(axis), rng.uniform(5, 15)) @ back
            ball = Laid("ball", turn, held.at + held.turn @ fittings.SOCKET_AT - turn @ fittings.BALL_AT)
            yield ball
            last = k == joints - 1
            held = set_on(Laid("tile-1-1" if last else "socket", back, PLATE * Z), ball.turn, ball.at)
            yield held


def pinned(place, degrees: float, nx: int, hole: int) -> Laid:
    """A beam whose hole lies at a place, turned around it."""
    turn = about(Y, degrees)
    return Laid(f"beam-{nx}", turn, np.asarray(place, dtype=float) - turn @ ((hole - (nx - 1) / 2) * PITCH * X))


def crane(rng, n: int = 2):
    """Beams on both sides of bricks with holes, each on its pin."""
    yield from (set_on(plate, np.eye(3), PITCH * Y) for plate in ground(7 * n, 1))
    for i in range(n):
        x = 7 * i + 3.5
        yield at("brick-3-1", x, 1.5, 0)
        yield at("holed-3", x, 1.5, BRICK)
        yield at("plate-3-1", x, 1.5, 2 * BRICK)
        for sign, hole in ((-1, -0.5), (1, 0.5)):
            place = np.array([(x + hole) * PITCH, (1.5 + sign) * PITCH, BRICK + fittings.HOLE_AT])
            yield Laid("pin", np.eye(3), place - sign * PITCH / 2 * Y)
            yield pinned(place, rng.uniform(-60, 60), int(rng.choice([3, 5])), 0 if hole < 0 else 1)


def linkage(rng, n: int = 5):
    """A chain of beams that zigzags, end on end on pins, on a brick with holes."""
    yield from ground(3, 1)
    yield at("brick-3-1", 1.5, 0.5, 0)
    yield at("holed-3", 1.5, 0.5, BRICK)
    place = np.array([PITCH, 0.5 * PITCH, BRICK + fittings.HOLE_AT])
    side, degrees = 1, 0.0
    for k in range(n):
        degrees = rng.uniform(40, 70) * (1 if k % 2 else -1) - 90
        yield Laid("pin", np.eye(3), place + side * PITCH / 2 * Y)
        place = place + side * PITCH * Y
        beam = pinned(place, degrees, 3, 0)
        yield beam
        place = place + about(Y, degrees) @ (2 * PITCH * X)
        side = 1 if k == 0 else (-1 if side > 0 else 1)
