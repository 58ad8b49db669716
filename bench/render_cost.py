"""What the wear costs to render: worn against clean, by quality and layer, on the lighthouse, Cycles on the processor.

    python bench/render_cost.py [PRESET [ROUNDS [WORD]]]      only the variants with this word

Every variant is rendered from the same file in one run, in turns, and the best of the rounds counts: the ratio matters.
"""

import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from time import process_time

import bpy

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon import register, unregister, usecases  # noqa: E402  the checkout is no installed package
from addon.core.presets.preset import Preset  # noqa: E402
from addon.core.wear.layers import LAYERS  # noqa: E402
from addon.core.wear.quality import GEOMETRY, QUALITIES, SHADING, STANDARD  # noqa: E402
from addon.demo import export, run, stage  # noqa: E402
from addon.nodes import attach  # noqa: E402
from addon.scene.wear import slots  # noqa: E402

ALONE = "geometry alone"
WIDTH, HEIGHT, SAMPLES = 480, 270, 16


def variants(preset: Preset) -> dict[str, tuple[Preset, str, str]]:
    """What is compared, by name: the preset in each quality, in the standard one less a layer, with round meshes.

    Each with its quality and its rounding.
    """
    wear = preset.wear
    found = {name: (preset, name, SHADING) for name in QUALITIES}
    less = {"rounding": replace(wear, rounding_mm=0.0)}
    for layer, about in LAYERS.items():
        less[layer] = replace(wear, **{layer: replace(getattr(wear, layer), **{about.strength: 0.0})})
    found |= {f"less {layer}": (replace(preset, wear=rest), STANDARD.name, SHADING) for layer, rest in less.items()}
    nothing = {layer: getattr(rest, layer) for layer, rest in less.items() if layer in LAYERS}
    found["standard, geometry"] = (preset, STANDARD.name, GEOMETRY)
    found["geometry, no layer"] = (replace(preset, wear=replace(wear, **nothing)), STANDARD.name, GEOMETRY)
    found[ALONE] = found["geometry, no layer"]
    return found


def seconds(cameras) -> list[float]:
    """Processor seconds of a picture by each camera: other work on the machine hardly shows in them."""
    taken = []
    with tempfile.TemporaryDirectory() as folder:
        for camera in cameras:
            started = process_time()
            stage.render(bpy.context.scene, camera, Path(folder, "picture.png"), WIDTH, HEIGHT, SAMPLES)
            taken.append(process_time() - started)
    return taken


def main(name: str = "well-loved", rounds: str = "2", word: str = "") -> None:
    bpy.ops.wm.read_factory_settings(use_empty=True)
    with tempfile.TemporaryDirectory() as folder:
        glb = Path(folder, "lighthouse.glb")
        export.write_glb(glb)
        build = usecases.open_build(glb)
    cameras = stage.dress(bpy.context.scene, *run.box(build))
    compared = {label: how for label, how in variants(usecases.find_preset(name)).items() if word in label}
    best: dict[str, list[float]] = {}

    def take(label: str) -> None:
        taken = seconds(cameras)
        best[label] = [min(pair) for pair in zip(taken, best.get(label, taken), strict=True)]

    take("clean")  # the first picture also loads the kernels
    for _ in range(int(rounds)):
        take("clean")
        for label, (preset, quality, rounding) in compared.items():
            usecases.apply(build, preset, usecases.Dials(looseness=0.0, quality=quality, rounding=rounding))
            if label == ALONE:
                attach.detach(slots.materials(build.all_objects))
            take(label)
            usecases.clear(build)
    print(f"Blender {bpy.app.version_string}, {WIDTH} x {HEIGHT}, {SAMPLES} samples")
    print(f"{'':22}" + "".join(f"{camera.name:>10}{'ratio':>8}" for camera in cameras))
    for label, taken in best.items():
        columns = "".join(f"{own:>9.2f}s{own / clean:>8.2f}" for own, clean in zip(taken, best["clean"], strict=True))
        print(f"{label:22}{columns}", flush=True)


if __name__ == "__main__":
    register()
    try:
        main(*sys.argv[1:])
    finally:
        unregister()  # classes left registered make the wheel of Blender 4.5 hang at exit
