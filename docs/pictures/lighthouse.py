"""Runs the demo in full and keeps its sheet, small enough for the read-me, as docs/before_after.png.

python docs/pictures/lighthouse.py
"""

import sys
import tempfile
from pathlib import Path

import bpy

CHECKOUT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(CHECKOUT))

from addon import register, unregister  # noqa: E402  the checkout is no installed package
from addon.demo import run  # noqa: E402

WIDTH_PX = 1440


def main() -> None:
    register()
    with tempfile.TemporaryDirectory() as folder:
        made = run.run(Path(folder), progress=lambda share, words: print(f"{share:4.0%}  {words}", flush=True))
        sheet = bpy.data.images.load(made.files["before_after.png"])
        sheet.scale(WIDTH_PX, round(WIDTH_PX * sheet.size[1] / sheet.size[0]))
        sheet.filepath_raw = str(CHECKOUT / "docs" / "before_after.png")
        sheet.save()
    print(made.applied.sentence)
    unregister()


if __name__ == "__main__":
    main()
