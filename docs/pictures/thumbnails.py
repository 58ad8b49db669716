"""Photographs every shipped preset on two bricks and a slope of three colours, one of them clear.

python docs/pictures/thumbnails.py      docs/presets.png, a sheet in the order of their names,
                                        and each by itself, small, beside its preset in presets/
"""

import sys
import tempfile
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(CHECKOUT))

import bpy  # noqa: E402  the path above is for what follows
import closeups  # noqa: E402  beside this file
import trials  # noqa: E402

from addon import register, unregister, usecases  # noqa: E402  the checkout is no installed package
from addon.core.catalogue import SHIPPED  # noqa: E402
from addon.demo import run, sheet  # noqa: E402

SIZE = run.Size(400, 300, 40)
SMALL = (160, 120)  # pixels, as large as a list shows it
COLUMNS = 4
SHOT = closeups.Shot(
    "still", trials.still(), (-36, -78, 62), (16, 12, 12), (10, 0, 16), 82, 32, (90, -60, 80), (60, 60), 0.12
)


def shrink(picture: Path, path: Path) -> None:
    image = bpy.data.images.load(str(picture))
    image.scale(*SMALL)
    image.file_format = "PNG"
    image.save(filepath=str(path))
    bpy.data.images.remove(image)


def main() -> None:
    register()
    names = sorted(listed.name for listed in usecases.list_presets() if listed.origin == SHIPPED)
    with tempfile.TemporaryDirectory() as folder:
        pictures = closeups.photograph(SHOT, tuple((name, 1.0) for name in names), Path(folder), SIZE)
        for name, picture in zip(names, pictures, strict=True):
            shrink(picture, CHECKOUT / "presets" / f"{name}.png")
        rows = [pictures[start : start + COLUMNS] for start in range(0, len(pictures), COLUMNS)]
        sheet.join(rows, CHECKOUT / "docs" / "presets.png")
    unregister()


if __name__ == "__main__":
    main()
