"""Depth of field as it is told beside depth of field as Cycles renders it, for 24 cameras in files of all units.

    python bench/defocus.py

Each renders a glowing disc out of focus: an even disc of light of radius R has a variance of R²/4 along each axis, from
which that of the disc itself and of a pixel goes. 80 samples a pixel tell it to about 2 %.
"""

import sys
import tempfile
from dataclasses import dataclass
from math import cos, pi, sin, sqrt
from pathlib import Path

import bpy
import numpy as np

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon import compat, register, unregister  # noqa: E402  the checkout is no installed package
from addon.scene.build.build import read  # noqa: E402
from addon.scene.shots import lenses  # noqa: E402
from tests.blender import scenes  # noqa: E402

_SPECK_PX = 3.0  # radius
METRE, CENTIMETRE, MILLIMETRE, INCH, FOOT = 1e-3, 0.1, 1.0, 1.0 / 25.4, 1.0 / 304.8  # of a file: its units in a mm


@dataclass(frozen=True)
class Defocused:
    """A camera before a point that is out of focus."""

    unit: float  # units of the file in a mm
    f_stop: float
    focus_mm: float
    depth_mm: float
    lens: float = 50.0
    sensor_fit: str = "AUTO"
    size: tuple[int, int, int] = (96, 96, 100)  # resolution, and how much of it
    ortho_mm: float | None = None
    sensor: tuple[float, float] = (36.0, 24.0)
    says_unit: bool = True  # whether the scene's unit settings tell of the unit
    ratio: float = 1.0


CASES = (
    Defocused(METRE, 2.8, 160.0, 230.0),
    Defocused(METRE, 2.8, 160.0, 130.0),
    Defocused(METRE, 5.6, 400.0, 700.0, lens=85.0),
    Defocused(METRE, 0.7, 1000.0, 3000.0, lens=35.0, size=(384, 384, 50)),
    Defocused(METRE, 8.0, 120.0, 200.0, lens=100.0),
    Defocused(METRE, 2.0, 300.0, 450.0, sensor_fit="VERTICAL"),
    Defocused(METRE, 2.0, 300.0, 450.0, sensor_fit="HORIZONTAL", size=(72, 128, 100)),
    Defocused(METRE, 2.0, 300.0, 220.0, sensor_fit="VERTICAL", size=(128, 72, 100), sensor=(23.5, 15.6)),
    Defocused(METRE, 4.0, 300.0, 600.0, size=(256, 144, 50), sensor=(13.2, 8.8)),
    Defocused(METRE, 2.8, 160.0, 230.0, says_unit=False),
    Defocused(METRE, 11.0, 80.0, 130.0, lens=135.0),
    Defocused(METRE, 2.8, 160.0, 230.0, ratio=0.5),
    Defocused(CENTIMETRE, 0.028, 160.0, 230.0),
    Defocused(CENTIMETRE, 0.05, 400.0, 900.0, lens=85.0),
    Defocused(CENTIMETRE, 0.028, 160.0, 230.0, says_unit=False),
    Defocused(MILLIMETRE, 0.0028, 160.0, 230.0),
    Defocused(MILLIMETRE, 0.004, 500.0, 350.0, lens=85.0, sensor_fit="VERTICAL"),
    Defocused(INCH, 0.07, 160.0, 230.0),
    Defocused(FOOT, 0.85, 160.0, 230.0),
    Defocused(FOOT, 1.2, 500.0, 900.0, lens=70.0),
    Defocused(METRE, 64.0, 200.0, 300.0, ortho_mm=120.0),
    Defocused(METRE, 32.0, 500.0, 300.0, ortho_mm=200.0, size=(128, 72, 100)),
    Defocused(CENTIMETRE, 1.0, 200.0, 400.0, ortho_mm=120.0),
    Defocused(FOOT, 20.0, 200.0, 280.0, ortho_mm=120.0, sensor_fit="VERTICAL", size=(128, 72, 100)),
)


def blurs(case: Defocused, folder: Path) -> tuple[float, float]:
    """Diameters in pixels, along the longer axis: told, and rendered in the open scene, which is left in ruins."""
    scene, build = bpy.context.scene, scenes.wall(unit=case.unit)
    eye = _camera(scene, case)
    _render_settings(scene, case)
    lens = lenses.lens(read(build), scene, eye)
    depth = np.array([case.depth_mm])
    told = lens.blur_px(depth)
    assert told is not None
    for thing in build.objects:
        thing.hide_render = True
    _speck(scene, _SPECK_PX / float(lens.px_per_mm(depth)[0]) * case.unit, case.depth_mm * case.unit)
    scene.render.filepath = str(folder / "speck.exr")
    bpy.ops.render.render(write_still=True)
    return float(told[0]), _diameter(folder / "speck.exr")


def _camera(scene: bpy.types.Scene, case: Defocused) -> bpy.types.Object:
    data = bpy.data.cameras.new("eye")
    data.lens, data.sensor_fit, (data.sensor_width, data.sensor_height) = case.lens, case.sensor_fit, case.sensor
    data.clip_start, data.clip_end = 1.0 * case.unit, 1e4 * case.unit
    if case.ortho_mm:
        data.type, data.ortho_scale = "ORTHO", case.ortho_mm * case.unit
    data.dof.use_dof, data.dof.aperture_fstop, data.dof.aperture_ratio = True, case.f_stop, case.ratio
    data.dof.focus_distance = case.focus_mm * case.unit
    scene.camera = bpy.data.objects.new("eye", data)
    scene.collection.objects.link(scene.camera)
    bpy.context.view_layer.update()
    return scene.camera


def _render_settings(scene: bpy.types.Scene, case: Defocused) -> None:
    render = scene.render
    render.engine, (render.resolution_x, render.resolution_y, render.resolution_percentage) = "CYCLES", case.size
    render.threads_mode, render.threads = "FIXED", 2
    scene.cycles.device, scene.cycles.samples, scene.cycles.seed = "CPU", 80, 1
    scene.cycles.use_denoising = scene.cycles.use_adaptive_sampling = False
    scene.cycles.pixel_filter_type = "BOX"
    compat.set_file_format(render.image_settings, "OPEN_EXR")
    render.image_settings.color_depth = "32"
    if case.says_unit:
        units = scene.unit_settings
        units.system = "IMPERIAL" if case.unit in (INCH, FOOT) else "METRIC"
        units.scale_length = 1e-3 / case.unit
    scene.world = None


def _speck(scene: bpy.types.Scene, radius: float, away: float) -> None:
    """A glowing disc before the camera, in the file's units."""
    mesh, corners = bpy.data.meshes.new("speck"), 32
    turns = [2.0 * pi * n / corners for n in range(corners)]
    mesh.from_pydata([(radius * cos(turn), radius * sin(turn), -away) for turn in turns], [], [range(corners)])
    glow = bpy.data.materials.new("glow")
    tree = compat.node_tree(glow)
    light = tree.nodes.new("ShaderNodeEmission")
    tree.links.new(light.outputs[0], tree.nodes["Material Output"].inputs["Surface"])
    mesh.materials.append(glow)
    scene.collection.objects.link(bpy.data.objects.new("speck", mesh))


def _diameter(picture: Path) -> float:
    image = bpy.data.images.load(str(picture))
    values = np.empty(len(image.pixels), np.float32)
    image.pixels.foreach_get(values)
    light = values.reshape(image.size[1], image.size[0], 4)[..., 0].astype(float)
    bpy.data.images.remove(image)
    spread = []
    for axis in (0, 1):
        share = light.sum(axis=axis) / light.sum()
        place = np.arange(len(share))
        spread.append(float((share * (place - (share * place).sum()) ** 2).sum()))
    return 4.0 * sqrt(max(max(spread) - 0.25 * _SPECK_PX**2 - 1.0 / 12.0, 0.0))


def measure(folder: Path) -> None:
    worst = 0.0
    for case in CASES:
        bpy.ops.wm.read_factory_settings(use_empty=True)
        told, rendered = blurs(case, folder)
        worst = max(worst, abs(told / rendered - 1.0))
        print(f"told {told:6.2f} px  rendered {rendered:6.2f} px  {told / rendered - 1.0:+6.1%}  {case}", flush=True)
    print(f"{len(CASES)} cameras, at most {worst:.1%} apart")


if __name__ == "__main__":
    register()
    try:
        print(f"Blender {bpy.app.version_string}")
        with tempfile.TemporaryDirectory() as place:
            measure(Path(place))
    finally:
        unregister()  # classes left registered make the wheel of Blender 4.5 hang at exit
