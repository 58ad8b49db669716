"""Draws what a new version of a build changed, with bricks of the artist's own among those of the export.

python docs/pictures/changes.py        writes docs/changes.svg
"""

import sys
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

CHECKOUT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(CHECKOUT))

import bpy  # noqa: E402
import numpy as np  # noqa: E402

from addon import register, unregister, usecases  # noqa: E402
from addon.core.pictures import difference  # noqa: E402
from addon.scene import files  # noqa: E402
from bench.ways.workshop import PITCH, workshop  # noqa: E402
from tests.blender.build import versions  # noqa: E402
from tests.core import versions as truths  # noqa: E402  the checkout is no installed package

COUNT, CHANGED, LIFTED_MM, OWN = 240, 0.1, 9.6, 5
ASIDE_MM = 5 * PITCH


def lifted(build):
    """What stands above half the height of the second plot, a brick higher."""
    middle = 0.5 * max(brick.at[2] for brick in build)
    second = min(brick.at[0] for brick in build) + 20 * PITCH
    up = np.array((0.0, 0.0, LIFTED_MM))
    return [replace(b, at=b.at + up) if b.at[2] > middle and b.at[0] > second else b for b in build]


def add_own(room: bpy.types.Collection) -> None:
    """Bricks of the artist's own: copies of some that stand on top, beside the build."""
    things = sorted((thing for thing in room.objects if thing.type == "MESH"), key=lambda thing: -thing.location.z)
    for thing in things[:OWN]:
        own = thing.copy()
        own.location.y -= ASIDE_MM / 1000.0
        room.objects.link(own)


def main() -> None:
    build = workshop(COUNT)
    with TemporaryDirectory() as folder:
        files.new()
        room = usecases.bring_in(versions.export(Path(folder), "harbour", build))
        add_own(room)
        changed, _ = truths.changed(lifted(build), CHANGED)
        told, seen = usecases.update(room, versions.export(Path(folder), "next", changed))
    print(told.sentence)
    (CHECKOUT / "docs" / "changes.svg").write_text(difference.drawn("harbour", seen), "utf-8")


if __name__ == "__main__":
    register()
    main()
    unregister()
