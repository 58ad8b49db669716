"""How much a turned dial costs over what Blender itself asks for moving as many objects.

    python bench/fit_in_blender.py [BRICKS]

Ours: read the build, solve the fit, write the motions, let Blender update; another seed in every round. The floor:
write the deltas as they stand as arrays, tag every object, let Blender update. Both in turns in one run on one file
with a look on, seconds of processors; the ratio is what counts, of the medians and of the quickest rounds. What the
floor takes of bricks that carry no look stands before, where Blender has no raw properties to copy.
"""

import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import median
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

ROUNDS = 11
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


def floor_of(collection: bpy.types.Collection) -> Callable[[], float]:
    """What Blender itself asks (ms of processors) for writing the deltas to every object, as they stand when asked."""
    objects = list(collection.objects)
    values = {name: np.empty(width * len(objects), np.float32) for name, width in DELTAS.items()}

    def write() -> None:
        for name, flat in values.items():
            collection.objects.foreach_set(name, flat)
        for thing in objects:
            thing.update_tag(refresh={"OBJECT"})
        bpy.context.view_layer.update()

    def floor() -> float:
        for name, flat in values.items():  # others than these would be an artist's hand on the bricks
            collection.objects.foreach_get(name, flat)
        return took(write)

    return floor


def took(job: Callable[[], None]) -> float:
    """Milliseconds of processors."""
    start = process_time()
    job()
    return 1000.0 * (process_time() - start)


def measure(kind: str, count: int) -> None:
    """Prints one row of the table."""
    bricks = builds.KINDS[kind](count)
    collection, preset = build_of(bricks), usecases.find_preset("well-loved")
    floor = floor_of(collection)
    bare = [floor() for _ in range(ROUNDS)]
    usecases.apply(collection, preset, usecases.Dials(seed=ROUNDS))
    bpy.context.view_layer.update()

    def dial(seed: int) -> None:
        usecases.dial(collection, preset, usecases.Dials(seed=seed))
        bpy.context.view_layer.update()

    turns = np.array([(floor(), took(partial(dial, seed))) for seed in range(ROUNDS)])
    told = [f"{kind:8}{count:>8}{len(bricks.parts):>7}{median(bare):>9.0f} ms"]
    for least, most in (np.median(turns, axis=0), turns.min(axis=0)):
        told.append(f"{least:>9.0f} ms{most:>7.0f} ms{most / least:>6.2f}")
    print(*told, sep="", flush=True)


if __name__ == "__main__":
    register()
    try:
        print(f"Blender {bpy.app.version_string}, numpy {np.__version__}")
        columns = f"{'floor':>12}{'dial':>10}{'ratio':>6}"
        print(f"{'build':8}{'bricks':>8}{'parts':>7}{'bare floor':>12}{columns}{columns}  (medians, then quickest)")
        for kind in ("city", "wall", "block"):
            measure(kind, int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
    finally:
        unregister()  # classes left registered make the wheel of Blender 4.5 hang at exit
