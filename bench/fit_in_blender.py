"""How much a turned dial costs over what Blender itself asks for moving as many objects.

    python bench/fit_in_blender.py [BRICKS]

Ours: read the build, solve the fit, write the motions, let Blender update. The floor: write the same deltas as arrays,
tag every object, let Blender update. Both in turns in one run on one file, seconds of processors, the best of several;
the ratio is what counts: once against bricks that carry nothing yet, and once with a look applied, where Blender copies
its raw properties too.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from time import process_time

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


def best(*jobs: Callable[[int], None]) -> list[float]:
    """Milliseconds of processors of each job's quickest round; the jobs take turns."""
    took = [[0.0] * ROUNDS for _ in jobs]
    for number in range(ROUNDS):
        for own, job in zip(took, jobs, strict=True):
            start = process_time()
            job(number)
            own[number] = process_time() - start
    return [1000.0 * min(own) for own in took]


def floor_of(collection: bpy.types.Collection) -> Callable[[int], None]:
    """What Blender itself asks for writing the deltas as they stand to every object."""
    objects = list(collection.objects)
    values = {name: np.empty(width * len(objects), np.float32) for name, width in DELTAS.items()}
    for name, flat in values.items():
        collection.objects.foreach_get(name, flat)

    def floor(_: int) -> None:
        for name, flat in values.items():
            collection.objects.foreach_set(name, flat)
        for thing in objects:
            thing.update_tag(refresh={"OBJECT"})
        bpy.context.view_layer.update()

    return floor


def measure(kind: str, count: int) -> None:
    """Prints one row of the table."""
    bricks = builds.KINDS[kind](count)
    collection, preset = build_of(bricks), usecases.find_preset("well-loved")

    def ours(number: int) -> None:
        usecases.dial(collection, preset, usecases.Dials(seed=number))
        bpy.context.view_layer.update()

    told = [f"{kind:8}{count:>8}{len(bricks.parts):>7}", compared(collection, ours)]
    usecases.apply(collection, preset, usecases.Dials())
    bpy.context.view_layer.update()
    print(*told, compared(collection, ours), sep="", flush=True)


def compared(collection: bpy.types.Collection, ours: Callable[[int], None]) -> str:
    """Floor, dial and their ratio."""
    bare, full = best(floor_of(collection), ours)
    return f"{bare:>10.0f} ms{full:>10.0f} ms{full / bare:>8.2f}"


if __name__ == "__main__":
    register()
    try:
        print(f"Blender {bpy.app.version_string}, numpy {np.__version__}")
        columns = f"{'floor':>13}{'dial':>13}{'ratio':>8}"
        print(f"{'build':8}{'bricks':>8}{'parts':>7}{columns}{columns}  (with a look on)")
        for kind in ("city", "wall", "block"):
            measure(kind, int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
    finally:
        unregister()  # classes left registered make the wheel of Blender 4.5 hang at exit
