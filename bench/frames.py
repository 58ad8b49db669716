"""What a frame costs, by bricks and shots: shown in Blender, rendered with passes, and as tasks of a job.

    python bench/frames.py [BRICKS ...]      1000 10000 where none are given

A city before one camera, for each count clean first and then as `well-loved`, with one shot and with ten on the
timeline, every other one half as loose, the first one growing. In seconds of the processor, all threads together, in
which other work on the machine hardly shows; the best of several rounds. Shown: a frame within a shot, and one that
belongs to another shot than the frame before. Moved: what Blender itself takes for showing all bricks once they were
moved. Rendered: Cycles on the processor, one frame as a multi-layer OpenEXR, clean without passes and worn with them.
Job: the template, a task a frame.
"""

import sys
import tempfile
from collections.abc import Callable
from itertools import pairwise
from math import log10
from pathlib import Path
from time import process_time

import bpy
import numpy as np
from mathutils import Vector

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon import register, unregister, usecases  # noqa: E402  the checkout is no installed package
from addon.core.shots.shot import Shot  # noqa: E402
from addon.scene.shots import stills  # noqa: E402
from bench import builds  # noqa: E402
from bench.fit_in_blender import build_of, floor_of  # noqa: E402

WIDE, HIGH, SAMPLES = 240, 135, 4
LENGTH = 10  # frames of a shot
DIALS = usecases.Dials(seed=1)
COLUMNS = ("bricks", "shots", "shown", "at a cut", "moved", "rendered", "clean", "ratio", "job")


def best(job: Callable[[], object], rounds: int = 3) -> float:
    """Processor seconds of the quickest round."""
    took = []
    for _ in range(rounds):
        start = process_time()
        job()
        took.append(process_time() - start)
    return min(took)


def city(count: int) -> bpy.types.Collection:
    """A city that fills the picture of the scene's camera."""
    collection, scene = build_of(builds.KINDS["city"](count)), bpy.context.scene
    places = np.array([thing.location for thing in collection.objects])
    size = float(np.linalg.norm(np.ptp(places, axis=0)))
    away = 0.8 * size * Vector((0.6, -1.0, 0.7)).normalized()
    camera = bpy.data.objects.new("eye", bpy.data.cameras.new("eye"))
    camera.location = Vector((places.min(axis=0) + places.max(axis=0)) / 2.0) + away
    camera.rotation_euler = (-away).to_track_quat("-Z", "Y").to_euler()
    lamp = bpy.data.objects.new("sun", bpy.data.lights.new("sun", "SUN"))
    lamp.rotation_euler = (0.6, 0.2, 0.0)
    for thing in (camera, lamp):
        scene.collection.objects.link(thing)
    scene.camera, scene.render.engine, scene.cycles.device = camera, "CYCLES", "CPU"
    scene.cycles.samples, scene.cycles.use_denoising = SAMPLES, False
    scene.render.resolution_x, scene.render.resolution_y, scene.render.resolution_percentage = WIDE, HIGH, 100
    bpy.context.view_layer.update()
    return collection


def shown(frames: list[int]) -> float:
    """Of a frame, the mean over some that are shown one after the other."""

    def go() -> None:
        for frame in frames:
            bpy.context.scene.frame_set(frame)

    return best(go) / len(frames)


def rendered(folder: Path) -> float:
    """Of a frame with what passes there are."""
    scene = bpy.context.scene
    with stills.as_layers(scene):
        return best(lambda: stills.render(scene, scene.objects["eye"], 3, folder / "frame.exr"), 2)


def on_timeline(collection: bpy.types.Collection, shots: int) -> None:
    """So many shots, every other one half as loose, and the first one grows."""
    scene = bpy.context.scene
    usecases.forget_shots(scene)
    for n in range(shots):
        usecases.add_shot(scene, Shot(f"sh{n:03d}", "eye", 1 + LENGTH * n, LENGTH * (n + 1)))
    usecases.remove_shot(scene, "scene")
    usecases.dial_shots(scene, {(f"sh{n:03d}", "looseness"): 0.5 for n in range(1, shots, 2)})
    usecases.grow_shot(scene, "sh000", 0.5)
    usecases.shots_on_timeline(collection, scene)


def measure(count: int) -> dict[int, list[float]]:
    """By shots: the figures of a row."""
    collection, scene = city(count), bpy.context.scene
    found = {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        clean = rendered(folder)
        usecases.apply(collection, usecases.find_preset("well-loved"), DIALS)
        floor = floor_of(collection)
        moved = min(floor() for _ in range(3)) / 1000.0
        usecases.put_passes_on(collection, scene)
        for shots in (1, 10):
            on_timeline(collection, shots)
            chosen = usecases.list_shots(scene)

            def write(chosen=chosen) -> None:
                usecases.save_job(collection, scene, chosen, folder / "worn.blend", 1, folder / "job.yaml")

            within = shown(list(range(1, 1 + LENGTH)))
            cuts = shown([shot.first for shot in chosen]) if shots > 1 else float("nan")
            worn = rendered(folder)
            found[shots] = [within, cuts, moved, worn, clean, worn / clean, best(write)]
    return found


def told(value: float) -> str:
    """Seconds, as a table has them."""
    if value != value:
        return "-"
    return f"{value:.2f} s" if value >= 1.0 else f"{1000.0 * value:.3g} ms"


def main(counts: list[int]) -> None:
    rows: dict[tuple[int, int], list[float]] = {}
    print(f"Blender {bpy.app.version_string}, {WIDE} x {HIGH}, {SAMPLES} samples")
    print("|" + "|".join(f" {each} " for each in COLUMNS) + "|\n" + "|---" * len(COLUMNS) + "|")
    for count in counts:
        bpy.ops.wm.read_factory_settings(use_empty=True)
        for shots, row in measure(count).items():
            rows[count, shots] = row
            cells = [told(each) for each in row]
            cells[5] = f"{row[5]:.2f}"
            print(f"| {count:,} | {shots} | " + " | ".join(cells) + " |", flush=True)
    for shots in (1, 10):
        for few, many in pairwise(counts):
            pairs = zip(rows[few, shots], rows[many, shots], strict=True)
            slopes = [log10(two / one) / log10(many / few) for one, two in pairs]
            words = ", ".join(f"{COLUMNS[2 + n]} {slopes[n]:.2f}" for n in (0, 2, 3, 4))
            print(f"slope from {few:,} to {many:,} bricks, {shots} on the timeline: {words}")


if __name__ == "__main__":
    register()
    try:
        main([int(given) for given in sys.argv[1:]] or [1_000, 10_000])
    finally:
        unregister()  # classes left registered make the wheel of Blender 4.5 hang at exit
