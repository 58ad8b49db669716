"""What shots read as, beside the same told of every pixel by Blender's own rays on the meshes, studs and all.

    python bench/sight.py

Twelve shots of a wall, a block and a city, far and near, one with a prop before the build. Printed: of each the largest
motion and that which nine of ten bricks stay below, told and by all pixels; what share of the build's pixels the bricks
hold that are counted as seen, and what share was told to be missed.
"""

import sys
from math import cos, sin
from pathlib import Path

import bpy
import numpy as np
from mathutils import Vector

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon import register, unregister, usecases  # noqa: E402  the checkout is no installed package
from addon.core.fit import fit  # noqa: E402
from addon.core.shots import reading  # noqa: E402
from addon.core.shots.lens import Lens  # noqa: E402
from addon.core.shots.reading import View  # noqa: E402
from addon.scene.build.build import Build, into_build, read  # noqa: E402
from addon.scene.shots import lenses, props  # noqa: E402
from addon.scene.shots.sight import Sight  # noqa: E402
from bench import builds  # noqa: E402
from bench.fit_in_blender import build_of  # noqa: E402

SIZE = 192, 108
BUILDS = (("wall", 200), ("block", 150), ("city", 400))
NEAR = (1.0, 2.0, 4.0, 8.0)  # times as near as where the whole build is in the frame


def every_pixel(build: Build, lens: Lens) -> View:
    """What `Scene.ray_cast` meets through the middle of each pixel."""
    scene, graph = bpy.context.scene, bpy.context.evaluated_depsgraph_get()
    into = into_build(build)
    back = np.linalg.inv(into)
    row = {name: n for n, name in enumerate(build.bricks.names)}
    grid, _ = lens.grid((0.0, 0.0, lens.width_px, lens.height_px), lens.width_px * lens.height_px)
    starts, ways = lens.rays(grid)
    starts, ways = starts @ back[:3, :3].T + back[:3, 3], ways @ back[:3, :3].T
    bricks, places = [], []
    for start, way in zip(starts.tolist(), ways.tolist(), strict=True):
        met, place, _, _, thing, _ = scene.ray_cast(graph, Vector(start), Vector(way).normalized())
        if met and thing.name in row:
            bricks.append(row[thing.name])
            places.append(place[:])
    place = np.array(places).reshape(-1, 3) @ into[:3, :3].T + into[:3, 3]
    return View(1, lens, np.array(bricks, dtype=np.intp), place, len(grid))


def cameras(build: Build) -> list[bpy.types.Object]:
    """Around the build, each nearer than the one before and aimed beside its middle."""
    scene, low, high = bpy.context.scene, build.bricks.low.min(axis=0), build.bricks.high.max(axis=0)
    back = np.linalg.inv(into_build(build))
    found = []
    for n, near in enumerate(NEAR):
        aim, size = 0.5 * (low + high) + (0.1 * n) * (high - low), float(np.linalg.norm(high - low))
        away = np.array([cos(0.5 + n), sin(0.5 + n), 0.6]) * 1.4 * size / near
        data = bpy.data.cameras.new("eye")
        data.clip_start = 1e-3 / build.mm_per_world_unit
        eye = bpy.data.objects.new(f"eye.{near:g}", data)
        scene.collection.objects.link(eye)
        eye.location = Vector(back[:3, :3] @ (aim + away) + back[:3, 3])
        eye.rotation_euler = Vector(-(back[:3, :3] @ away)).to_track_quat("-Z", "Y").to_euler()
        found.append(eye)
    bpy.context.view_layer.update()
    return found


def prop_before(eye: bpy.types.Object) -> None:
    """A pole that hides a part of what the camera looks at."""
    bpy.ops.mesh.primitive_cylinder_add(radius=0.02, depth=2.0)
    pole = bpy.context.object
    pole.location = eye.location + eye.rotation_euler.to_matrix() @ Vector((0.02, 0.0, -0.25))
    bpy.context.view_layer.update()


def measure() -> None:
    print("shot             p90 told   all  largest told   all   of the pixels seen   told missed   rays")
    for kind, count in BUILDS:
        build = read(build_of(builds.KINDS[kind](count)))
        scene = bpy.context.scene
        scene.render.resolution_x, scene.render.resolution_y = SIZE
        motions = fit.fitted(build.bricks, usecases.find_preset("well-loved").fit, 3, 1.0, build.held, None).motions
        eyes = cameras(build)
        if kind == "block":
            prop_before(eyes[1])
        sight = Sight(build.bricks, props.faces(build))
        for eye in eyes:
            lens = lenses.lens(build, scene, eye)
            told, whole = sight.view(1, lens), every_pixel(build, lens)
            figures = []
            for percent in (90.0, 100.0):
                figures += [
                    np.percentile(reading.motions_px(build.bricks, motions, view), percent) for view in (told, whole)
                ]
            seen = np.isin(whole.brick, told.seen).mean()
            print(
                f"{kind:6} {eye.name:8} {figures[0]:9.4f} {figures[1]:6.4f} {figures[0] / figures[1] - 1.0:+6.1%} "
                f"{figures[2]:9.4f} {figures[3]:6.4f} {figures[2] / figures[3] - 1.0:+6.1%} {seen:14.2%} "
                f"{told.missed:12.2%} {told.samples:8}  seen {len(told.seen)} of {len(whole.seen)}",
                flush=True,
            )


if __name__ == "__main__":
    register()
    try:
        print(f"Blender {bpy.app.version_string}")
        measure()
    finally:
        unregister()  # classes left registered make the wheel of Blender 4.5 hang at exit
