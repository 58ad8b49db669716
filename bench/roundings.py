"""What round edges cost, by who makes them: a twin for each part, or Blender anew for each brick.

    python bench/roundings.py [--bricks 1000 2000] [--size 1920 1080] [--samples 64] [--card CUDA] [WAYS]

- sharp: the meshes of the export, one for each part.
- twins: a rounded mesh for each part, as Rounding > Geometry shows.
- modifiers: the export's meshes, and on each brick Weld and Bevel.
- nodes: the export's meshes, and on each brick nodes that take the geometry of its part's rounded mesh in their place.
- instances: the same, as an instance of it.

Each in a process of its own. Told are the seconds until everything is evaluated, the memory that it takes, the size of
the saved file, and time and peak memory of a picture by Cycles: of 64 x 64 pixels, one ray for each, on the processor,
where no other is asked for. Seconds are the processor's, and the clock's where a graphics card renders.
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import bpy
import numpy as np

from addon.demo.parts import PARTS
from addon.scene.exports.forms import points_of
from addon.scene.wear.rounded import Raw, rounded

RADIUS_MM, SEGMENTS, KINDS, MB = 0.2, 4, 30, 2.0**20
WAYS = ("sharp", "twins", "modifiers", "nodes", "instances")


def parts() -> list[bpy.types.Mesh]:
    made = []
    for name in sorted(PARTS)[:KINDS]:
        drawn, mesh = PARTS[name].mesh(), bpy.data.meshes.new(name)
        mesh.from_pydata(drawn.positions.tolist(), [], drawn.triangles.tolist())
        made.append(mesh)
    return made


def twins_of(meshes: list[bpy.types.Mesh]) -> list[bpy.types.Mesh]:
    raws = []
    for mesh in meshes:
        raws.append(Raw(mesh, points_of(mesh).astype(float), np.ones(3), np.zeros(3)))
    made = rounded(raws, RADIUS_MM)
    return [mesh if isinstance(each, str) else each for mesh, each in zip(meshes, made, strict=True)]


def stand(meshes: list[bpy.types.Mesh], count: int) -> list[bpy.types.Object]:
    things, side = [], int(np.ceil(count**0.5))
    for n in range(count):
        thing = bpy.data.objects.new(f"brick {n}", meshes[n % len(meshes)])
        thing.location = (70.0 * (n % side), 70.0 * (n // side), 0.0)
        bpy.context.scene.collection.objects.link(thing)
        things.append(thing)
    return things


def shown_instead(shown: bpy.types.Object, as_instance: bool) -> bpy.types.NodeTree:
    tree = bpy.data.node_groups.new("rounded", "GeometryNodeTree")
    tree.interface.new_socket("Geometry", in_out="OUTPUT", socket_type="NodeSocketGeometry")
    info, out = tree.nodes.new("GeometryNodeObjectInfo"), tree.nodes.new("NodeGroupOutput")
    info.inputs["Object"].default_value, info.inputs["As Instance"].default_value = shown, as_instance
    tree.links.new(info.outputs["Geometry"], out.inputs[0])
    return tree


def round_all(way: str, things: list[bpy.types.Object], meshes: list[bpy.types.Mesh]) -> None:
    if way == "sharp":
        return
    if way == "modifiers":
        for thing in things:
            thing.modifiers.new("weld", "WELD").merge_threshold = 1e-4
            bevel = thing.modifiers.new("round", "BEVEL")
            bevel.width, bevel.segments, bevel.limit_method = RADIUS_MM, SEGMENTS, "ANGLE"
        return
    twins = twins_of(meshes)
    if way == "twins":
        for n, thing in enumerate(things):
            thing.data = twins[n % len(twins)]
        return
    trees = []
    for mesh in twins:
        shown = bpy.data.objects.new("shown", mesh)
        shown.use_fake_user = True
        trees.append(shown_instead(shown, way == "instances"))
    for n, thing in enumerate(things):
        thing.modifiers.new("round", "NODES").node_group = trees[n % len(trees)]


def look_down(scene: bpy.types.Scene, count: int) -> None:
    """A camera that sees half of the bricks from above and aslant, and a sun."""
    side = 70.0 * count**0.5
    camera = bpy.data.objects.new("camera", bpy.data.cameras.new("camera"))
    camera.data.type, camera.data.ortho_scale, camera.data.clip_end = "ORTHO", 0.7 * side, 1e5
    camera.location, camera.rotation_euler = (side / 2, side / 2 - 2000.0, 2000.0), (np.pi / 4, 0.0, 0.0)
    sun = bpy.data.objects.new("sun", bpy.data.lights.new("sun", "SUN"))
    sun.rotation_euler = (0.5, 0.4, 0.0)
    for thing in (camera, sun):
        scene.collection.objects.link(thing)
    scene.camera = camera


def use(card: str, scene: bpy.types.Scene) -> None:
    preferences = bpy.context.preferences.addons["cycles"].preferences
    preferences.compute_device_type = card
    preferences.get_devices()
    for device in preferences.devices:
        device.use = device.type == card
    scene.cycles.device = "GPU"


def resident_mb() -> float:
    with open("/proc/self/statm") as told:
        return int(told.read().split()[1]) * resource.getpagesize() / MB


def measured(way: str, asked: argparse.Namespace) -> dict[str, float]:
    count = asked.bricks[0]
    bpy.ops.wm.read_factory_settings(use_empty=True)
    meshes = parts()
    things = stand(meshes, count)
    bpy.context.view_layer.update()
    before = resident_mb()
    round_all(way, things, meshes)
    start = time.process_time()
    bpy.context.view_layer.update()
    told = {"evaluated_s": time.process_time() - start, "memory_mb": resident_mb() - before}
    scene = bpy.context.scene
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "saved.blend"
        bpy.ops.wm.save_as_mainfile(filepath=str(path), copy=True)
        told["file_mb"] = path.stat().st_size / MB
        look_down(scene, count)
        scene.render.engine, scene.cycles.samples, scene.cycles.use_adaptive_sampling = "CYCLES", asked.samples, False
        scene.render.resolution_x, scene.render.resolution_y = asked.size
        scene.render.filepath = str(Path(asked.keep or folder) / f"{way}-{count}.png")
        if asked.card:
            use(asked.card, scene)
        clock = time.perf_counter if asked.card else time.process_time
        start = clock()
        bpy.ops.render.render(write_still=True)
        told["render_s"] = clock() - start
    told["peak_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    return told


def _one(way: str, count: int, asked: argparse.Namespace) -> list[str]:
    """The command that measures one way in a process of its own."""
    words = [way, "--one", "--bricks", count, "--size", *asked.size, "--samples", asked.samples]
    for name in ("card", "keep"):
        if value := getattr(asked, name):
            words += [f"--{name}", value]
    return [sys.executable, __file__, *map(str, words)]


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("ways", nargs="*", default=WAYS)
    parser.add_argument("--bricks", type=int, nargs="+", default=[1000, 2000])
    parser.add_argument("--size", type=int, nargs=2, default=[64, 64])
    parser.add_argument("--samples", type=int, default=1)
    parser.add_argument("--card", help="CUDA, OPTIX, HIP, METAL or ONEAPI")
    parser.add_argument("--keep", help="a folder for the pictures")
    parser.add_argument("--one", action="store_true", help="measure in this process, as JSON")
    asked = parser.parse_args()
    if asked.one:
        print("\n" + json.dumps(measured(asked.ways[0], asked)), flush=True)
        os._exit(0)  # past Blender's own end, which hangs now and then
    print("| way | bricks | evaluated, s | memory, MB | file, MB | render, s | its peak, MB |")
    print("|---|---|---|---|---|---|---|")
    for way in asked.ways:
        for count in asked.bricks:
            out = subprocess.run(_one(way, count, asked), capture_output=True, text=True, check=True).stdout
            told = json.loads(next(line for line in out.splitlines()[::-1] if line.startswith("{")))
            print(f"| {way} | {count:,} |", " | ".join(f"{value:.2f}" for value in told.values()), "|", flush=True)


if __name__ == "__main__":
    main()
