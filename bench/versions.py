"""A file on its way through several Blenders: applied, dialled, cleared and saved in any order, and exact at the end.

    python bench/versions.py PYTHON PYTHON...

Each PYTHON has another Blender as its module `bpy`. All ways of three steps are gone: apply, dial and clear, each in
every one of the Blenders, with a save and an opening in between. At the end, opened in each Blender, every brick
must stand as it did, to the bit, and nothing of ours may be on any data-block, registered or raw.
"""

import os
import subprocess
import sys
import tempfile
from itertools import product
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[1]
STEPS = ("apply", "dial", "clear")


def run(python: str, *words: object) -> str:
    """What a job of this file tells, done by another Python."""
    done = subprocess.run(
        [python, __file__, *map(str, words)], capture_output=True, text=True, timeout=300, env={**os.environ, **_QUIET}
    )
    if done.returncode:
        raise SystemExit(f"{python} {' '.join(map(str, words))}:\n{done.stdout[-500:]}{done.stderr[-1500:]}")
    return done.stdout.strip().splitlines()[-1]


def work(pythons: list[str]) -> int:
    """Goes all ways; how many end otherwise than they began."""
    wrong = 0
    with tempfile.TemporaryDirectory(prefix="playworn-versions-") as room:
        clean, worn = Path(room) / "clean.blend", Path(room) / "worn.blend"
        run(pythons[0], "make", clean, clean)
        wanted = {python: run(python, "tell", clean) for python in pythons}
        for way in product(pythons, repeat=len(STEPS)):
            source = clean
            for python, step in zip(way, STEPS, strict=True):
                run(python, step, source, worn)
                source = worn
            ends = [run(python, "tell", worn) == wanted[python] for python in pythons]
            wrong += not all(ends)
            print("exact" if all(ends) else "WRONG", *(Path(each).parents[1].name for each in way), flush=True)
    print(f"{wrong} of {len(pythons) ** len(STEPS)} ways are wrong")
    return wrong


_QUIET = {f"BLENDER_USER_{name}": os.devnull for name in ("CONFIG", "SCRIPTS", "EXTENSIONS", "DATAFILES")}


def step(name: str, *paths: str) -> None:
    """One job in this process's own Blender."""
    sys.path.insert(0, str(CHECKOUT))
    import bpy

    import addon
    from addon import usecases
    from tests.blender import scenes, versioned

    addon.register()
    try:
        if name == "make":
            bpy.ops.wm.read_factory_settings(use_empty=True)
            versioned.make()
        else:
            bpy.ops.wm.open_mainfile(filepath=paths[0])
        build = bpy.data.collections["build"]
        dials = usecases.Dials(seed=7)
        if name == "apply":
            usecases.apply(build, scenes.PRESET, dials)
        elif name == "dial":
            usecases.dial(build, scenes.PRESET, usecases.Dials(seed=8))
        elif name == "clear":
            usecases.clear(build)
        if name == "tell":
            print("\n" + versioned.told())
        else:
            bpy.ops.wm.save_as_mainfile(filepath=paths[1], copy=True)
    finally:
        sys.stdout.flush()
        addon.unregister()


if __name__ == "__main__":
    if sys.argv[1] in ("make", "tell", *STEPS):
        step(*sys.argv[1:])
    elif len(sys.argv) > 2:
        sys.exit(bool(work(sys.argv[1:])))
    else:
        sys.exit(__doc__)
