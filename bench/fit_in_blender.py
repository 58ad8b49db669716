"""How much the fit costs over what Blender itself asks for moving as many objects.

    python bench/fit_in_blender.py [BRICKS]

Ours: read the build, compute the motions, write them, let Blender update. The floor: write as many deltas as arrays,
tag every object, let Blender update. Both in one run on one file, the best of several; the ratio is what counts.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

import bpy
import numpy as np

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon import register, unregister, usecases  # noqa: E402  the checkout is no installed package
from tests.blender import scenes  # noqa: E402

PARTS, ROUNDS, MOST = 20, 7, 3.0
DELTAS = {"delta_location": 3, "delta_rotation_euler": 3, "delta_rotation_quaternion": 4, "delta_scale": 3}


def build_of(count: int) -> bpy.types.Collection:
    """A block of bricks that share 20 parts, layer upon layer on the lattice, in metres."""
    collection, unit = scenes.collection(), 0.001
    sizes = [(x, y) for x in range(1, 6) for y in range(1, 3)]
    meshes = [scenes.brick_mesh(f"{x}x{y}x{high}", x, y, high, unit) for high in (1, 3) for x, y in sizes]
    side = int(np.ceil(np.sqrt(count / 20)))
    for n in range(count):
        layer, cell = divmod(n, side * side)
        place = np.array([40.0 * (cell % side), 16.0 * (cell // side), 9.6 * layer]) * unit
        scenes.put(collection, meshes[n % PARTS], f"part.{n:05d}", place)
    bpy.context.view_layer.update()
    return collection


def best(job: Callable[[int], None]) -> float:
    """Milliseconds of the quickest round."""
    took = []
    for number in range(ROUNDS):
        start = perf_counter()
        job(number)
        took.append(perf_counter() - start)
    return 1000.0 * min(took)


def measure(count: int) -> float:
    """Prints the table and returns the ratio."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    collection = build_of(count)
    objects, layer = list(collection.objects), bpy.context.view_layer
    preset = usecases.find_preset("well-loved")
    values = {name: np.zeros(width * count, np.float32) for name, width in DELTAS.items()}
    values["delta_scale"][:] = 1.0

    def floor(number: int) -> None:
        values["delta_location"][:] = 1e-5 * number
        for name, flat in values.items():
            collection.objects.foreach_set(name, flat)
        for thing in objects:
            thing.update_tag(refresh={"OBJECT"})
        layer.update()

    def ours(number: int) -> None:
        usecases.dial(collection, preset, usecases.Dials(seed=number))
        layer.update()

    bare = best(floor)
    floor(0)
    full = best(ours)
    print(f"{'Blender ' + bpy.app.version_string:24}{count:>8} bricks {PARTS:>4} parts")
    print(f"{'floor':24}{bare:8.1f} ms")
    print(f"{'fit':24}{full:8.1f} ms")
    print(f"{'ratio':24}{full / bare:8.2f}     at most {MOST}")
    return full / bare


if __name__ == "__main__":
    register()
    try:
        ratio = measure(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
    finally:
        unregister()  # classes left registered make the wheel of Blender 4.5 hang at exit
    sys.exit(ratio > MOST)
