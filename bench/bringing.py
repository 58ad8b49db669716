"""How long bringing in a file takes over Blender's own importer with its defaults, and how much memory.

    python bench/bringing.py FILE... [--rounds 3] [--profile]

Files of any size come from `python -m bench.ways.write FOLDER --bricks 20000`. The two take turns, each time in a
process of its own; the quickest round counts. On a busy machine the processors' time tells more: it stands beside, the
time of a Blender that tries the file first with it. The extension's own modules are loaded before, as in a Blender
that has it switched on. Memory is the process's largest, and that Blender's beside it.
"""

import argparse
import cProfile
import json
import os
import pstats
import resource
import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

_IMPORTERS = {
    ".glb": "import_scene.gltf",
    ".gltf": "import_scene.gltf",
    ".fbx": "wm.fbx_import",
    ".obj": "wm.obj_import",
    ".dae": "wm.collada_import",
    ".stl": "wm.stl_import",
    ".ply": "wm.ply_import",
}


def bare(path: Path) -> None:
    """Blender's importer alone, and the scene up to date."""
    import bpy

    module, name = _IMPORTERS.get(path.suffix, "wm.usd_import").split(".")
    getattr(getattr(bpy.ops, module), name)(filepath=str(path))
    bpy.context.view_layer.update()


def measure(path: Path, which: str, profiled: bool) -> None:
    """In a process of its own: prints seconds, those of processors, objects, and the peaks of this process and of its
    children in MiB."""
    import bpy

    from addon.scene.exports import importers

    bpy.ops.wm.read_factory_settings(use_empty=True)
    profile = cProfile.Profile(time.process_time)  # a busy machine tells nothing by the wall clock
    begun, worked = time.perf_counter(), _worked()
    (profile.runcall if profiled else lambda job, *args: job(*args))(
        {"bare": bare, "ours": importers.bring}[which], path
    )
    took, work = time.perf_counter() - begun, _worked() - worked
    if profiled:
        pstats.Stats(profile, stream=sys.stderr).sort_stats("cumtime").print_stats(45)
    peaks = [resource.getrusage(who).ru_maxrss >> 10 for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    sys.stdout.flush()
    os.write(1, b"\n" + json.dumps([took, work, len(bpy.data.objects), *peaks]).encode())
    os._exit(0)


def _worked() -> float:
    """Seconds that processors worked for this process and for those that it has ended."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(each.ru_utime + each.ru_stime for each in used)


def _measured(path: Path, which: str, profiled: bool) -> list[float] | None:
    command = [sys.executable, __file__, str(path), "--which", which, *(["--profile"] if profiled else [])]
    run = subprocess.run(command, stdout=subprocess.PIPE, stderr=None if profiled else subprocess.DEVNULL, check=False)
    return json.loads(run.stdout.splitlines()[-1]) if run.returncode == 0 else None


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("files", type=Path, nargs="+")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--profile", action="store_true")
    parser.add_argument("--which", choices=("bare", "ours"))
    asked = parser.parse_args()
    if asked.which:
        measure(asked.files[0], asked.which, asked.profile)
    print(f"{'file':26}  bare s  ours s  ratio  bare CPU  ours CPU  ratio  objects  bare MiB  ours MiB  child MiB")
    for path in asked.files:
        rounds = [[_measured(path, which, asked.profile) for which in ("bare", "ours")] for _ in range(asked.rounds)]
        alone, own = (_quickest(each) for each in zip(*rounds, strict=True))
        times = "".join(
            f"{alone[n]:{wide}.2f}{own[n]:{wide}.2f}{own[n] / alone[n]:7.2f}" for n, wide in ((0, 8), (1, 10))
        )
        print(f"{path.name:26}{times}{own[2]:9.0f}{alone[3]:10.0f}{own[3]:10.0f}{own[4]:11.0f}", flush=True)


def _quickest(rounds: tuple[list[float] | None, ...]) -> list[float]:
    """The least of each figure; not a number where the importer ended the process."""
    lived = [each for each in rounds if each]
    return [min(figures) for figures in zip(*lived, strict=True)] if lived else [float("nan")] * 5


if __name__ == "__main__":
    main()
