"""Photographs every shipped preset on two bricks and a slope of three colours, one of them clear.

python docs/pictures/thumbnails.py      docs/presets.png, a sheet in the order of their names,
                                        and each by itself, small, beside its preset in presets/
"""

import sys
import tempfile
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(CHECKOUT))

import bpy  # noqa: E402, F401  the path above is for what follows

from addon import register, unregister, usecases  # noqa: E402  the checkout is no installed package
from addon.core.presets.catalogue import SHIPPED  # noqa: E402
from addon.demo import run, sheet, still  # noqa: E402

SIZE = run.Size(400, 300, 40)
COLUMNS = 4


def main() -> None:
    register()
    names = sorted(listed.name for listed in usecases.list_presets() if listed.origin == SHIPPED)
    with tempfile.TemporaryDirectory() as folder:
        pictures = [Path(folder) / f"{name}.png" for name in names]
        for name, picture in zip(names, pictures, strict=True):
            preset = usecases.find_preset(name)
            still.photograph(preset, picture, SIZE)
            (CHECKOUT / "presets" / f"{name}.png").write_bytes(still.picture(preset))
        rows = [pictures[start : start + COLUMNS] for start in range(0, len(pictures), COLUMNS)]
        sheet.join(rows, CHECKOUT / "docs" / "presets.png")
    unregister()


if __name__ == "__main__":
    main()
