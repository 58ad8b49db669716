"""How much the fit costs over what Blender itself asks for moving as many objects.

    python bench/fit_in_blender.py [BRICKS]

Ours: read the build, compute the motions, write them, let Blender update. The floor: write as many deltas as arrays,
tag every object, let Blender update. Both in one run on one file, the best of several; the ratio is what counts.
"""

import sys
from collections.abc import Callable, Iterator
from itertools import count, islice, product
from pathlib import Path
from time import perf_counter

import bpy
import numpy as np

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon import register, unregister, usecases  # noqa: E402  the checkout is no installed package
from tests.blender import scenes  # noqa: E402

WIDTHS, DEPTHS, PLATES = (5, 1, 4, 2, 3), (2, 1), (3, 1)  # studs, studs, height: every combination is a part
PARTS = len(WIDTHS) * len(DEPTHS) * len(PLATES)
ROWS, REPEATS = 16, 4  # of a layer, and how often the widths follow each other in a row
ROUNDS, MOST = 7, 3.0
DELTAS = {"delta_location": 3, "delta_rotation_euler": 3, "delta_rotation_quaternion": 4, "delta_scale": 3}


def laid() -> Iterator[tuple[tuple[int, int, int], tuple[float, float, float]]]:
    """Bricks of a solid block without end, part and place in mm: layers of bricks and of plates, seams staggered."""
    height = 0.0
    for layer in count():
        plates, y = PLATES[layer % 2], 0.0
        for row in range(ROWS):
            depth = DEPTHS[(layer // 2 + row) % 2]
            start, x = layer + 2 * row, 0.0
            for n in range(REPEATS * len(WIDTHS)):
                width = WIDTHS[(start + n) % len(WIDTHS)]
                yield (width, depth, plates), (x, y, height)
                x += 8.0 * width
            y += 8.0 * depth
        height += 3.2 * plates


def build_of(bricks: int) -> bpy.types.Collection:
    """The first so many of them, in metres."""
    collection, unit = scenes.collection(), 0.001
    sizes = product(WIDTHS, DEPTHS, PLATES)
    meshes = {size: scenes.brick_mesh("x".join(map(str, size)), *size, unit) for size in sizes}
    for n, (size, place) in enumerate(islice(laid(), bricks)):
        scenes.put(collection, meshes[size], f"part.{n:05d}", np.array(place) * unit)
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


def measure(bricks: int) -> float:
    """Prints the table and returns the ratio."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    collection = build_of(bricks)
    objects, layer = list(collection.objects), bpy.context.view_layer
    preset = usecases.find_preset("well-loved")
    values = {name: np.zeros(width * bricks, np.float32) for name, width in DELTAS.items()}
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
    print(f"{'Blender ' + bpy.app.version_string:24}{bricks:>8} bricks {PARTS:>4} parts")
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
