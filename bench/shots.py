"""How much of a processor it takes to measure what a build reads as in ten shots, and to dial one to a target.

    python bench/shots.py [BRICKS]

Ten cameras around a city, wide to close, each on markers; all figures of every shot, what covers what included. Printed
beside it, from the same run: reading the build, which has to be done once, its faces, and one look at them.
"""

import sys
from math import cos, pi, sin
from pathlib import Path
from time import process_time

import bpy
import numpy as np
from mathutils import Vector

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon import register, unregister, usecases  # noqa: E402  the checkout is no installed package
from addon.core.shots.sight import Sight  # noqa: E402
from addon.scene.build import build as reading  # noqa: E402
from addon.scene.shots import lenses  # noqa: E402
from bench import builds  # noqa: E402
from bench.fit_in_blender import build_of  # noqa: E402

SHOTS = 10


def cameras(collection: bpy.types.Collection) -> None:
    """Ten shots around the build, each nearer than the one before."""
    scene = bpy.context.scene
    places = np.array([thing.location for thing in collection.objects])
    low, high = places.min(axis=0), places.max(axis=0)
    middle, size = Vector((low + high) / 2.0), float(np.linalg.norm(high - low))
    for n in range(SHOTS):
        thing = bpy.data.objects.new(f"eye.{n}", bpy.data.cameras.new(f"eye.{n}"))
        scene.collection.objects.link(thing)
        away = Vector((cos(2.0 * pi * n / SHOTS), sin(2.0 * pi * n / SHOTS), 0.5)) * size / (1.0 + 0.3 * n)
        thing.location = middle + away
        thing.rotation_euler = (-away).to_track_quat("-Z", "Y").to_euler()
        scene.timeline_markers.new(f"sh{n:03d}", frame=1 + 24 * n).camera = thing
    bpy.context.view_layer.update()


def timed(job):
    start = process_time()
    answer = job()
    return process_time() - start, answer


def measure(count: int) -> None:
    bricks = builds.KINDS["city"](count)
    collection, scene = build_of(bricks), bpy.context.scene
    usecases.apply(collection, usecases.find_preset("well-loved"), usecases.Dials(seed=1))
    cameras(collection)
    shots = usecases.list_shots(scene)
    usecases.reads_as(collection, scene, shots[:1])  # textures are measured once a session
    whole, told = timed(lambda: usecases.reads_as(collection, scene, shots))
    read, build = timed(lambda: reading.read(collection))
    ready, sight = timed(lambda: Sight(build.bricks))
    lens = lenses.lens(build, scene, bpy.data.objects["eye.0"])
    look, _ = timed(lambda: sight.view(1, lens))
    print(f"{count} bricks, {len(told)} shots: {whole:.2f} s in all; in it {read:.2f} s reading the build once,")
    print(f"{ready:.2f} s its faces once, {look:.3f} s a look. Bricks seen and median px:")
    for each in told:
        frame = each.frames[0]
        print(f"  {each.shot.name}  {frame.in_frame:4.0%} in frame  {frame.seen:6} seen  {frame.median_px:8.4f} px")
    middle = shots[SHOTS // 2]
    target = 0.5 * told[SHOTS // 2].frames[0].median_px
    took, (_, found) = timed(lambda: usecases.dial_to(collection, scene, middle, target))
    print(f"dialled to {target:.4f} px: reads as {found.px:.4f} at {found.dial:.3f}, {took:.2f} s")


if __name__ == "__main__":
    register()
    try:
        print(f"Blender {bpy.app.version_string}, numpy {np.__version__}")
        measure(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
    finally:
        unregister()  # classes left registered make the wheel of Blender 4.5 hang at exit
