"""Photographs the corner of a wall as exported, with edges rounded in the shading, and with rounded meshes.

python docs/pictures/rounding.py      docs/rounding.png
"""

import sys
import tempfile
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(CHECKOUT))

import bpy  # noqa: E402

from addon import register, unregister, usecases  # noqa: E402  the checkout is no installed package
from addon.core.wear.quality import CLOSE_UP, GEOMETRY, SHADING  # noqa: E402
from addon.demo import closeup, run, sheet, stage, still  # noqa: E402

SIZE = run.Size(480, 400, 64)
PRESET, SEED = "toy-box", 7
SHOT = closeup.Shot(
    "still", still.bricks(), (-10, -46, 34), (12, 5, 15), (4, 0, 16), 100, 32, (90, -60, 80), (60, 60), 0.12
)


def main() -> None:
    register()
    build = closeup.bring_in(SHOT)
    camera = closeup.staged(SHOT, build)
    with tempfile.TemporaryDirectory() as folder:
        made = []
        for rounding in (None, SHADING, GEOMETRY):
            if rounding:
                usecases.apply(
                    build, usecases.find_preset(PRESET), usecases.Dials(SEED, quality=CLOSE_UP.name, rounding=rounding)
                )
            made.append(Path(folder) / f"{rounding}.png")
            stage.render(bpy.context.scene, camera, made[-1], SIZE.width, SIZE.height, SIZE.samples)
        sheet.join([made], CHECKOUT / "docs" / "rounding.png")
    unregister()


if __name__ == "__main__":
    main()
