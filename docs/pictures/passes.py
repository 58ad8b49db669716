"""Renders the passes of the lighthouse and lays them out as docs/passes.png, each in greys that show it.

python docs/pictures/passes.py
"""

import sys
import tempfile
from pathlib import Path

import bpy
import captions  # beside this file
import numpy as np
import OpenEXR
from PIL import Image

CHECKOUT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(CHECKOUT))

from addon import register, unregister, usecases  # noqa: E402  the checkout is no installed package
from addon.core.wear.layers import LAYERS  # noqa: E402
from addon.core.wear.names import MOTION, PASS, ROUNDED  # noqa: E402
from addon.demo import export, run, stage  # noqa: E402

SEED, PRESET, SHOT = 7, "attic", "close"
WIDTH, HEIGHT, SAMPLES = 384, 216, 32
COLUMNS = 3
MASKS = {layer: PASS[layer] for layer in LAYERS if layer != "finish"} | {"rounding": ROUNDED, "motion": MOTION}


def rendered(folder: Path) -> dict[str, np.ndarray]:
    """The channels of one frame."""
    export.write_glb(folder / "lighthouse.glb")
    build = usecases.open_build(folder / "lighthouse.glb")
    scene = bpy.context.scene
    cameras = stage.dress(scene, *run.box(build))
    scene.camera = next(camera for camera in cameras if camera.name == SHOT)
    usecases.apply(build, usecases.find_preset(PRESET), usecases.Dials(SEED))
    scene.frame_end = scene.frame_start = 1
    scene.render.engine, scene.cycles.samples = "CYCLES", SAMPLES
    scene.render.resolution_x, scene.render.resolution_y = WIDTH, HEIGHT
    usecases.render_shots(build, scene, usecases.list_shots(scene), folder)
    with OpenEXR.File(str(folder / "scene.0001.exr"), separate_channels=True) as file:
        return {name.partition(".")[2]: np.array(each.pixels) for name, each in file.channels().items()}


def shown(channels: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """What is on the sheet, each (height, width, 3) as displayed."""
    told = {"beauty": np.stack([channels[f"Combined.{part}"] for part in "RGB"], axis=-1)}
    bits = channels["CryptoObject00.r"].view(np.uint32)
    told["mattes by brick"] = np.stack([(bits >> shift & 255) / 255.0 for shift in (0, 8, 16)], axis=-1)
    for name, of in MASKS.items():
        grey = channels[f"{of}.X"]
        told[name] = np.repeat((grey / np.percentile(grey, 99.8))[..., None], 3, axis=-1)
    told["depth"] = np.repeat((channels["Depth.Z"].min() / channels["Depth.Z"])[..., None] ** 2, 3, axis=-1)
    return {name: np.clip(each, 0.0, 1.0) ** (1 / 2.2) for name, each in told.items()}


def main() -> None:
    register()
    with tempfile.TemporaryDirectory() as folder:
        pictures = shown(rendered(Path(folder)))
        rows = -(-len(pictures) // COLUMNS)
        tiles = []
        for number, (name, picture) in enumerate(pictures.items()):
            path = Path(folder) / f"{number}.png"
            Image.fromarray((255 * picture).astype(np.uint8)).save(path)
            captions.caption(path, [name])
            tiles.append(Image.open(path))
        wide, high = tiles[0].size
        sheet = Image.new("RGB", (COLUMNS * wide, rows * high), captions.PAPER)
        for number, tile in enumerate(tiles):
            sheet.paste(tile, (number % COLUMNS * wide, number // COLUMNS * high))
        sheet.save(CHECKOUT / "docs" / "passes.png", optimize=True)
    unregister()


if __name__ == "__main__":
    main()
