"""What shots read as, beside the same told of every pixel that Cycles renders of the meshes, studs and all.

    python bench/sight.py          twelve shots of a wall, a block and a city, far and near, one with a prop before it
    python bench/sight.py wide     wide shots of a town of small things, a wall, a facade laid sideways: 2,000, 10,000

Printed of each: the largest motion and that which nine of ten bricks stay below, told and by all 1920 x 1080
pixels; how many bricks are seen; what share of the build's pixels others hold; how many samples there were.
"""

import sys
import tempfile
from collections.abc import Iterator
from math import cos, sin
from pathlib import Path

import bpy
import numpy as np
from mathutils import Matrix, Vector

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon import compat, register, unregister, usecases  # noqa: E402  the checkout is no installed package
from addon.core.fit import fit  # noqa: E402
from addon.core.shots import reading  # noqa: E402
from addon.core.shots.lens import Lens  # noqa: E402
from addon.core.shots.reading import View  # noqa: E402
from addon.core.shots.sight import Sight  # noqa: E402
from addon.scene.build.build import Build, into_build, read  # noqa: E402
from addon.scene.shots import lenses, props  # noqa: E402
from bench import builds  # noqa: E402
from bench.fit_in_blender import build_of  # noqa: E402
from tests.render.layered import Layered  # noqa: E402

SIZE = 1920, 1080
BUILDS = (("wall", 200), ("block", 150), ("city", 400))
NEAR = (1.0, 2.0, 4.0, 8.0)  # times as near as where the whole build is in the frame
WIDE = tuple((kind, count) for count in (2_000, 10_000) for kind in ("town", "wall", "facade"))
FROM = {"above": (0.5, -0.7, 0.6), "ahead": (0.1, -1.0, 0.15)}


def every_pixel(build: Build, lens: Lens, eye: bpy.types.Object, picture: Path) -> View:
    """What Cycles renders of each pixel's middle: the number of the object, and where in the world it is."""
    scene, into = bpy.context.scene, into_build(build)
    for n, thing in enumerate(build.objects):
        thing.pass_index = n + 1
    layer, scene.camera, scene.world = scene.view_layers[0], eye, None
    layer.use_pass_object_index = layer.use_pass_position = True
    scene.render.engine, scene.cycles.device, scene.cycles.samples = "CYCLES", "CPU", 1
    scene.cycles.use_denoising = scene.cycles.use_adaptive_sampling = False
    scene.cycles.pixel_filter_type, scene.cycles.filter_width = "BOX", 0.01
    compat.set_file_format(scene.render.image_settings, "OPEN_EXR_MULTILAYER")
    scene.render.image_settings.color_depth, scene.render.filepath = "32", str(picture)
    bpy.ops.render.render(write_still=True)
    found = Layered(picture)
    ends = {full.split(".", 1)[1]: each.ravel() for full, each in found.channels.items()}
    number = np.rint(ends.get("IndexOB.X", ends.get("Object Index.X"))).astype(np.intp)
    place = np.stack([ends[f"Position.{axis}"] for axis in "XYZ"], axis=-1).astype(np.float64)[number > 0]
    return View(1, lens, number[number > 0] - 1, place @ into[:3, :3].T + into[:3, 3], len(number))


def camera(build: Build, name: str, aim: np.ndarray, away: np.ndarray) -> bpy.types.Object:
    """So far away (3,) from what it looks at (3,), both in the build's mm."""
    back = np.linalg.inv(into_build(build))
    data = bpy.data.cameras.new(name)
    data.clip_start, data.clip_end = 1e-3 / build.mm_per_world_unit, 1e6 / build.mm_per_world_unit
    eye = bpy.data.objects.new(name, data)
    bpy.context.scene.collection.objects.link(eye)
    eye.location = Vector(back[:3, :3] @ (aim + away) + back[:3, 3])
    eye.rotation_euler = Vector(-(back[:3, :3] @ away)).to_track_quat("-Z", "Y").to_euler()
    bpy.context.view_layer.update()
    return eye


def prop_before(eye: bpy.types.Object) -> None:
    """A pole that hides a part of what the camera looks at."""
    bpy.ops.mesh.primitive_cylinder_add(radius=0.02, depth=2.0)
    pole = bpy.context.object
    pole.location = eye.location + eye.rotation_euler.to_matrix() @ Vector((0.02, 0.0, -0.25))
    bpy.context.view_layer.update()


def near_and_far() -> Iterator[tuple[str, Build, list[bpy.types.Object]]]:
    """Cameras around each build, each nearer than the one before and aimed beside its middle."""
    for kind, count in BUILDS:
        build = read(build_of(builds.KINDS[kind](count)))
        low, high = build.bricks.low.min(axis=0), build.bricks.high.max(axis=0)
        size, eyes = float(np.linalg.norm(high - low)), []
        for n, near in enumerate(NEAR):
            away = np.array([cos(0.5 + n), sin(0.5 + n), 0.6]) * 1.4 * size / near
            eyes.append(camera(build, f"{near:g}", 0.5 * (low + high) + (0.1 * n) * (high - low), away))
        if kind == "block":
            prop_before(eyes[1])
        yield f"{kind} {count}", build, eyes


def wide() -> Iterator[tuple[str, Build, list[bpy.types.Object]]]:
    """Cameras from which the whole build fills the frame; the facade is a town that stands on its edge."""
    for kind, count in WIDE:
        collection = build_of(builds.KINDS["town" if kind == "facade" else kind](count))
        if kind == "facade":
            for thing in collection.objects:
                thing.matrix_world = Matrix.Rotation(np.pi / 2.0, 4, "X") @ thing.matrix_world
            bpy.context.view_layer.update()
        build = read(collection)
        low, high = build.bricks.low.min(axis=0), build.bricks.high.max(axis=0)
        size = float(np.linalg.norm(high - low))
        aim, eyes = 0.5 * (low + high), []
        for name, way in FROM.items():
            eyes.append(camera(build, name, aim, 1.3 * size * np.array(way) / np.linalg.norm(way)))
        yield f"{kind} {count}", build, eyes


def measure(shots: Iterator[tuple[str, Build, list[bpy.types.Object]]], folder: Path) -> None:
    print("| shot | p90 px told | all | | largest px told | all | | seen told | all | missed told | all | samples |")
    print("|---|---|---|---|---|---|---|---|---|---|---|---|", flush=True)
    for name, build, eyes in shots:
        scene = bpy.context.scene
        scene.render.resolution_x, scene.render.resolution_y = SIZE
        motions = fit.fitted(build.bricks, usecases.find_preset("well-loved").fit, 3, 1.0, build.held, None).motions
        sight = Sight(build.bricks, props.faces(build))
        for eye in eyes:
            lens = lenses.lens(build, scene, eye)
            told, whole = sight.view(1, lens), every_pixel(build, lens, eye, folder / "every.exr")
            row = [f"{name}, {eye.name}"]
            for percent in (90.0, 100.0):
                ours, all_px = (
                    np.percentile(reading.motions_px(build.bricks, motions, view), percent) for view in (told, whole)
                )
                row += [f"{ours:.4f}", f"{all_px:.4f}", f"{ours / all_px - 1.0:+.1%}"]
            missed = 1.0 - np.isin(whole.brick, told.seen).mean()
            row += [f"{len(told.seen)}", f"{len(whole.seen)}", f"{told.missed:.2%}", f"{missed:.2%}", f"{told.samples}"]
            print("|", " | ".join(row), "|", flush=True)


if __name__ == "__main__":
    register()
    try:
        print(f"Blender {bpy.app.version_string}")
        with tempfile.TemporaryDirectory() as made:
            measure(wide() if sys.argv[1:] == ["wide"] else near_and_far(), Path(made))
    finally:
        unregister()  # classes left registered make the wheel of Blender 4.5 hang at exit
