"""Write one build in every way, each file with its truth beside it; needs no Blender but for FBX.

WAYS_FBX_PYTHON=BLENDER_PYTHON python -m bench.ways.write FOLDER [--bricks N] [--only PATTERN]
"""

import argparse
import fnmatch
import traceback
from pathlib import Path

from . import truth
from .catalogue import ways
from .workshop import workshop


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--bricks", type=int, default=120)
    parser.add_argument("--only", default="*")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    build = workshop(asked.bricks)
    for way in ways():
        if fnmatch.fnmatch(way.name, f"*{asked.only}*"):
            try:
                truth.kept(build, way, way.write(build, asked.folder))
            except Exception:  # one writer that fails must not cost the others
                print(f"{way.name}: not written\n{traceback.format_exc()}")


if __name__ == "__main__":
    main()
