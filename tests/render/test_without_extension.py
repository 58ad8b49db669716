"""A saved file renders the same where the extension was never there: pixel for pixel, in a Blender of its own."""

import json
import os
import subprocess
import sys
from pathlib import Path

import bpy
import numpy as np

from addon import usecases
from addon.scene.fit import deltas
from tests.blender.scenes import PRESET

RENDER = """
import json, os, sys
import bpy
bpy.ops.wm.open_mainfile(filepath=sys.argv[1])
bpy.context.scene.render.filepath = sys.argv[2]
bpy.ops.render.render(write_still=True)
print("told", json.dumps({
    "registered": hasattr(bpy.types.Object, sys.argv[3]) or hasattr(bpy.types.Scene, "playworn"),
    "loaded": "addon" in sys.modules,
}))
sys.stdout.flush()
os._exit(0)
"""


def pixels(path: Path) -> np.ndarray:
    """Scene-linear values (height, width, 4) in full precision."""
    image = bpy.data.images.load(str(path))
    values = np.empty(len(image.pixels), np.float32)
    image.pixels.foreach_get(values)
    values = values.reshape(image.size[1], image.size[0], 4)
    bpy.data.images.remove(image)
    return values


def rendered_here(blend: Path, picture: Path, seed: int | None = None) -> np.ndarray:
    """The picture of a saved file, by this Blender, in which the extension is registered."""
    bpy.ops.wm.open_mainfile(filepath=str(blend))
    assert hasattr(bpy.types.Object, deltas.RECORD)
    scene = bpy.context.scene
    scene.cycles.seed = scene.cycles.seed if seed is None else seed
    scene.render.filepath = str(picture)
    bpy.ops.render.render(write_still=True)
    return pixels(picture)


def rendered_without(blend: Path, picture: Path) -> np.ndarray:
    """The picture of a saved file, by a Blender that knows nothing of the extension."""
    run = subprocess.run(
        [sys.executable, "-c", RENDER, blend, picture, deltas.RECORD],
        cwd=blend.parent, env={**os.environ, "PYTHONPATH": ""}, capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    told = next(line for line in run.stdout.splitlines() if line.startswith("told "))
    assert json.loads(told.removeprefix("told ")) == {"registered": False, "loaded": False}
    return pixels(picture)


def test_the_file_renders_the_same_without_the_extension_and_clean_once_cleared(set_up, tmp_path):
    usecases.save(tmp_path / "before.blend")
    usecases.apply(set_up, PRESET, usecases.Dials(seed=7, looseness=2.0, layers={"rub": 0.5}))
    usecases.give_amount(set_up, set_up.objects[4:6], 0.0)
    usecases.give_amount_to_materials(set_up, [bpy.data.materials["red"]], 0.8)
    usecases.save(tmp_path / "worn.blend")

    clean = rendered_here(tmp_path / "before.blend", tmp_path / "before.exr")
    worn = rendered_here(tmp_path / "worn.blend", tmp_path / "worn.exr")
    assert np.array_equal(rendered_without(tmp_path / "worn.blend", tmp_path / "without.exr"), worn)

    usecases.clear(usecases.open_build(tmp_path / "worn.blend"))
    usecases.save(tmp_path / "cleared.blend")
    assert np.array_equal(rendered_here(tmp_path / "cleared.blend", tmp_path / "cleared.exr"), clean)

    # The comparisons can fail: the wear shows nearly everywhere on the wall, and other noise is another picture.
    assert np.isfinite(worn).all()
    assert (np.abs(worn - clean).max(axis=2) > 1e-3).mean() > 0.3
    assert not np.array_equal(rendered_here(tmp_path / "worn.blend", tmp_path / "other.exr", seed=2), worn)


def test_what_the_shaders_read_is_in_the_file(set_up, tmp_path):
    """Taken out of the file by hand, it is missed in the picture, also without the extension."""
    usecases.apply(set_up, PRESET, usecases.Dials(seed=7))
    usecases.save(tmp_path / "worn.blend")
    bpy.context.scene["playworn_wear"] = 0.0
    usecases.save(tmp_path / "off.blend")
    worn = rendered_without(tmp_path / "worn.blend", tmp_path / "worn.exr")
    off = rendered_without(tmp_path / "off.blend", tmp_path / "off.exr")
    assert (np.abs(worn - off).max(axis=2) > 1e-3).mean() > 0.1
