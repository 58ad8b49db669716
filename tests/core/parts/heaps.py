"""Heaps of loose shells made with trimesh, each known to be of a brick.

Sizes: common practice of the trade, no published source.
"""

import numpy as np
import pytest
import trimesh

from addon.core.parts.assembly import Shells, assembled
from addon.core.parts.solids import Solids
from tests.core import shapes

PITCH, PLATE, STUD = 8.0, 3.2, 1.7


class Heap:
    """Shells one after the other, each with the brick it truly belongs to."""

    def __init__(self):
        self.meshes, self.brick, self.thing, self.colour, self.family = [], [], [], [], {}

    def put(self, mesh, brick, thing=None, family=-1, colour=0):
        self.meshes.append(mesh)
        self.brick.append(brick)
        self.colour.append(colour)
        self.thing.append(len(self.thing) if thing is None else thing)
        self.family[self.thing[-1]] = family
        return self

    def shells(self, scale=1.0, turn=None):
        turn = np.eye(3) if turn is None else turn
        meshes = [trimesh.Trimesh(m.vertices @ turn.T * scale, m.faces, process=False) for m in self.meshes]
        starts = np.cumsum([0, *(len(mesh.faces) for mesh in meshes[:-1])])
        measured = Solids.of(np.concatenate([mesh.triangles for mesh in meshes]), starts)
        things = max(self.thing) + 1
        return Shells(
            boxes=measured.boxes,
            own_size=measured.size,
            volume=measured.volume,
            area=measured.area,
            closed=np.array([mesh.is_watertight for mesh in meshes]),
            facing=measured.facing,
            thing=np.array(self.thing),
            colour=np.array(self.colour),
            family=np.array([self.family.get(n, -1) for n in range(things)]),
            frame=np.tile(np.eye(4), (things, 1, 1)),
            own=measured.boxes,
            triangles=lambda number: meshes[number].triangles,
        )

    def check(self, scale=1.0, turn=None, expected_mm=1.0, up=2):
        """Each shell is with its brick and no other; the scale is the true one."""
        shells = self.shells(scale, turn)
        found = assembled(shells, expected_mm, up)
        _, told = np.unique(found.home, return_inverse=True)
        pairs = {*zip(told.tolist(), self.brick, strict=True)}
        wrong = [n for n, (a, b) in enumerate(zip(told.tolist(), self.brick, strict=True))
                 if len({y for x, y in pairs if x == a}) > 1 or len({x for x, y in pairs if y == b}) > 1]  # fmt: skip
        assert not wrong, f"shells {wrong}"
        assert found.lattice.mm_per_unit == pytest.approx(1 / scale, rel=1e-4)
        assert len(set(told.tolist())) == len(set(self.brick))
        return found


def box(low, high):
    low, high = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    return trimesh.creation.box(high - low).apply_translation(0.5 * (low + high))


def stud(x, y, z, deep=0.0):
    return trimesh.creation.cylinder(2.4, STUD + deep, sections=16).apply_translation((x, y, z + (STUD - deep) / 2))


def tray(at, studs=(4, 2), height=9.6):
    return shapes.tray((PITCH * studs[0], PITCH * studs[1], height), at)


def tube(x, y, z, height=8.1):
    return trimesh.creation.annulus(2.4, 3.25, height, sections=24).apply_translation((x, y, z + height / 2))


def post(x, y, z, height=8.1):
    return trimesh.creation.cylinder(1.6, height, sections=16).apply_translation((x, y, z + height / 2))


def wall(courses=4, length=3, body=tray, studs=True, tubes=False):
    """4x2 bricks in running bond with all their studs loose; studs of a course stand in the bricks above."""
    heap, brick = Heap(), 0
    for course in range(courses):
        for n in range(length):
            x, z = PITCH * (4 * n + 2 * (course % 2)), 9.6 * course
            heap.put(body((x, 0, z)), brick)
            for i, j in np.ndindex(4, 2) if studs else ():
                heap.put(stud(x + 4 + PITCH * i, 4 + PITCH * j, z + 9.6), brick)
            for i in range(3) if tubes else ():
                heap.put(tube(x + PITCH * (i + 1), PITCH, z), brick)
            brick += 1
    return heap
