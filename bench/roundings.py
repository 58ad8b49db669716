"""What round edges cost, by who makes them: a twin for each part, or Blender anew for each brick.

    python bench/roundings.py [--bricks 1000 2000] [WAYS]

- sharp: the meshes of the export, one for each part.
- twins: a rounded mesh for each part, as Rounding > Geometry shows.
- modifiers: the export's meshes, and on each brick Weld and Bevel.
- nodes: the export's meshes, and on each brick nodes that take the geometry of its part's rounded mesh in their place.
- instances: the same, as an instance of it.

Each in a process of its own. Told are the seconds until everything is evaluated, the memory that it takes, the size of
the saved file, and time and peak memory of a picture of 64 x 64 pixels by Cycles on the processor, one ray for each.
"""

import argparse
import json
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
        points = np.empty(3 * len(mesh.vertices), np.float32)
        mesh.vertices.foreach_get("co", points)
        raws.append(Raw(mesh, points.reshape(-1, 3).astype(float), np.ones(3), np.zeros(3)))
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


def resident_mb() -> float:
    with open("/proc/self/statm") as told:
        return int(told.read().split()[1]) * resource.getpagesize() / MB


def measured(way: str, count: int) -> dict[str, float]:
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
        camera = bpy.data.objects.new("camera", bpy.data.cameras.new("camera"))
        camera.location, camera.data.clip_end = (0.0, 0.0, 4000.0), 1e5
        scene.collection.objects.link(camera)
        scene.camera, scene.render.engine, scene.cycles.samples = camera, "CYCLES", 1
        scene.render.resolution_x = scene.render.resolution_y = 64
        scene.render.filepath = str(Path(folder) / "picture.png")
        start = time.process_time()
        bpy.ops.render.render(write_still=True)
        told["render_s"] = time.process_time() - start
    told["peak_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    return told


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("ways", nargs="*", default=WAYS)
    parser.add_argument("--bricks", type=int, nargs="+", default=[1000, 2000])
    parser.add_argument("--one", action="store_true", help="measure in this process, as JSON")
    asked = parser.parse_args()
    if asked.one:
        print("\n" + json.dumps(measured(asked.ways[0], asked.bricks[0])))
        return
    print("| way | bricks | evaluated, s | memory, MB | file, MB | render, s | its peak, MB |")
    print("|---|---|---|---|---|---|---|")
    for way in asked.ways:
        for count in asked.bricks:
            call = [sys.executable, __file__, way, "--one", "--bricks", str(count)]
            out = subprocess.run(call, capture_output=True, text=True, check=True).stdout
            told = json.loads(next(line for line in out.splitlines()[::-1] if line.startswith("{")))
            print(f"| {way} | {count:,} |", " | ".join(f"{value:.2f}" for value in told.values()), "|", flush=True)


if __name__ == "__main__":
    main()
