"""Photographs every shipped preset on the lighthouse with Cycles and with EEVEE, edges as geometry.

python docs/pictures/engines.py           docs/engines.jpg: each preset by Cycles, right of it by EEVEE
python docs/pictures/engines.py --small   quickly, into the folder for temporary files
"""

import os
import sys
import tempfile
from pathlib import Path

os.environ.setdefault(
    "GALLIVM_PERF", "nopt"
)  # no graphics card: shaders compiled for the processor in one minute, not 20

CHECKOUT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(CHECKOUT))

import bpy  # noqa: E402  the line above is for what follows
import captions  # noqa: E402  beside this file

from addon import compat, register, unregister, usecases  # noqa: E402  the checkout is no installed package
from addon.core.presets.catalogue import SHIPPED  # noqa: E402
from addon.core.wear.quality import GEOMETRY  # noqa: E402
from addon.demo import export, run, sheet, stage  # noqa: E402
from addon.demo.stage import View  # noqa: E402

SEED = 7
VIEW = View("quay", (0.46, 0.33, 0.17), (0.42, -1.0, 0.42), 1.55, 100.0, 11.0, (0.47, 0.30, 0.16))
FINAL, SMALL = run.Size(372, 248, 48), run.Size(186, 124, 8)
PAIRS = 2  # in a row


def eevee(scene: bpy.types.Scene, camera: bpy.types.Object, path: Path, size: run.Size) -> None:
    scene.render.engine = compat.eevee()
    scene.eevee.taa_render_samples = size.samples
    bpy.context.preferences.system.anisotropic_filter = "FILTER_0"  # minutes on a processor
    stage.photograph(scene, camera, path, size.width, size.height)


def pair(name: str, build: bpy.types.Collection, camera: bpy.types.Object, folder: Path, size: run.Size) -> list[Path]:
    """The preset by both engines."""
    scene = bpy.context.scene
    usecases.apply(build, usecases.find_preset(name), usecases.Dials(SEED, rounding=GEOMETRY))
    made = [folder / f"{name} {engine}.png" for engine in ("Cycles", "EEVEE")]
    stage.render(scene, camera, made[0], size.width, size.height, size.samples)
    eevee(scene, camera, made[1], size)
    for picture in made:
        captions.caption(picture, (picture.stem.replace(" ", ", "),))
        print(picture.stem, flush=True)
    return made


def main() -> None:
    size = SMALL if "--small" in sys.argv else FINAL
    register()
    names = sorted(listed.name for listed in usecases.list_presets() if listed.origin == SHIPPED)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "lighthouse.glb"
        export.write_glb(path)
        build = usecases.open_build(path)
        stage.dress(bpy.context.scene, *run.box(build))
        camera = stage.camera(bpy.data.collections["stage"], run.box(build), VIEW)
        made = [picture for name in names for picture in pair(name, build, camera, Path(folder), size)]
        rows = [made[start : start + 2 * PAIRS] for start in range(0, len(made), 2 * PAIRS)]
        place = Path(tempfile.gettempdir()) if size is SMALL else CHECKOUT / "docs"
        sheet.join(rows, Path(folder) / "engines.png")
        captions.shrink(Path(folder) / "engines.png", place / "engines.jpg")
    unregister()


if __name__ == "__main__":
    main()
