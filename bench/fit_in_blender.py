"""How much a turned dial costs over what Blender itself asks for moving as many objects.

    python bench/fit_in_blender.py [BRICKS]

Ours: read the build, solve the fit, write the motions, let Blender update. The floor: write as many deltas as arrays,
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
from addon.core.build.bricks import Bricks  # noqa: E402
from addon.core.sizes import TRADE  # noqa: E402
from bench import builds  # noqa: E402
from tests.blender import scenes  # noqa: E402

ROUNDS = 7
UNIT = 0.001  # metres
DELTAS = {"delta_location": 3, "delta_rotation_euler": 3, "delta_rotation_quaternion": 4, "delta_scale": 3}


def build_of(bricks: Bricks) -> bpy.types.Collection:
    """The bricks as objects that share a mesh a part, in metres."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    collection = scenes.collection()
    meshes = []
    for part in bricks.parts:
        studs_x, studs_y, plates = np.rint(
            (part.body_high - part.body_low) / (TRADE.pitch, TRADE.pitch, TRADE.plate_height)
        ).astype(int)
        meshes.append(scenes.brick_mesh(f"{studs_x}x{studs_y}x{plates}", studs_x, studs_y, plates, UNIT))
    for n, corner in enumerate(bricks.low * UNIT):
        scenes.put(collection, meshes[bricks.part[n]], f"part.{n:05d}", corner)
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


def measure(kind: str, count: int) -> None:
    """Prints one row of the table."""
    bricks = builds.KINDS[kind](count)
    collection = build_of(bricks)
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
    print(f"{kind:8}{count:>8}{len(bricks.parts):>7}{bare:>10.0f} ms{full:>10.0f} ms{full / bare:>8.2f}")


if __name__ == "__main__":
    register()
    try:
        print(f"Blender {bpy.app.version_string}, numpy {np.__version__}")
        print(f"{'build':8}{'bricks':>8}{'parts':>7}{'floor':>13}{'dial':>13}{'ratio':>8}")
        for kind in ("city", "wall", "block"):
            measure(kind, int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
    finally:
        unregister()  # classes left registered make the wheel of Blender 4.5 hang at exit
