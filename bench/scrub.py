"""How much keys of shots cost while scrubbing, over what Blender itself asks for showing as many bricks moved.

    python bench/scrub.py [BRICKS] [SHOTS]

In one run on one file: jumps to 200 frames in a fixed order that changes the shot nearly each time, the worst that a
scrub can do, and the same frames one after another, as playing does. The floor writes as many deltas as arrays and tags
every object, what a handler would do. Without keys nothing moves, and a frame costs next to nothing. Best of several
rounds.
"""

import sys
from collections.abc import Sequence
from pathlib import Path
from time import perf_counter

import bpy
import numpy as np

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon import register, unregister, usecases  # noqa: E402  the checkout is no installed package
from bench import builds  # noqa: E402
from bench.fit_in_blender import build_of  # noqa: E402

FRAMES, ROUNDS = 200, 3


def per_frame(frames: Sequence[int]) -> float:
    """Milliseconds of a frame_set, the mean over the frames of the quickest round."""
    took = []
    for _ in range(ROUNDS):
        start = perf_counter()
        for frame in frames:
            bpy.context.scene.frame_set(frame)
        took.append(perf_counter() - start)
    return 1000.0 * min(took) / len(frames)


def floor(collection: bpy.types.Collection) -> float:
    """Milliseconds of moving all bricks once."""
    objects, took = list(collection.objects), []
    places = np.zeros(3 * len(objects), np.float32)
    collection.objects.foreach_get("delta_location", places)
    for _ in range(20):
        start = perf_counter()
        collection.objects.foreach_set("delta_location", places)
        for thing in objects:
            thing.update_tag(refresh={"OBJECT"})
        bpy.context.view_layer.update()
        took.append(perf_counter() - start)
    return 1000.0 * min(took)


def measure(count: int, shots: int) -> None:
    """Prints the table."""
    collection = build_of(builds.KINDS["city"](count))
    usecases.apply(collection, usecases.find_preset("well-loved"), usecases.Dials())
    played = list(range(1, 1 + FRAMES))
    scrubbed = np.random.default_rng(0).permutation(played).tolist()
    moved, bare = floor(collection), (per_frame(scrubbed), per_frame(played))
    first = np.linspace(1, FRAMES, shots, endpoint=False).astype(int).tolist()
    looseness = np.linspace(0.2, 1.8, shots).tolist()
    start = perf_counter()
    told = usecases.on_timeline(
        collection,
        [
            usecases.OnFrame(f"shot {n}", first[n], usecases.Dials(looseness=looseness[n], wear=looseness[n]))
            for n in range(shots)
        ],
    )
    wrote = perf_counter() - start
    keyed = per_frame(scrubbed), per_frame(played)
    start = perf_counter()
    usecases.off_timeline(collection)
    print(f"{told.sentence}; on in {wrote:.2f} s, off in {perf_counter() - start:.2f} s")
    for kind, before, after in zip(("scrubbed", "played"), bare, keyed, strict=True):
        floored = f"{after / moved:.1f} times the floor of {moved:.3f} ms"
        print(f"{kind:10}{before:>9.3f} ms without{after:>9.3f} ms with, {floored}")


if __name__ == "__main__":
    register()
    try:
        print(f"Blender {bpy.app.version_string}, {FRAMES} frames")
        measure(*(int(given) for given in (*sys.argv[1:], *("1000", "10")[len(sys.argv) - 1 :])))
    finally:
        unregister()  # classes left registered make the wheel of Blender 4.5 hang at exit
