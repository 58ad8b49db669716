"""Kills the command line at any moment of its jobs, and looks at what is left of the files it was to write.

    python bench/kills.py [--kills 50] [--beside 1] [--only apply,update,…] [--seed 0]

Each job writes one file, now in one variant and now in another, over and over in one folder. Half of the times it dies
by SIGKILL at any moment of its run; half of the times by a timer that nobody handles, which the system lets off within
some milliseconds of the moment at which it begins to write.
After each kill the file has to be whole and of the variant before or the new one; beside it may lie what the next run
sweeps, which the last one, left to its end, shows. Prints a line a job:

    kills      how many processes were killed, and how many of these while their unfinished file was there
    old, new   which variant the file was after that
    wrong      neither, or something else was in the folder
    left       unfinished files after the last run, which was not killed
"""

import argparse
import hashlib
import math
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))
UNFINISHED = "unfinished"
DEADLY = (-signal.SIGKILL, -signal.SIGALRM)
LATE_S = 1e-4, 0.2  # after it has begun to write


@dataclass(frozen=True)
class Job:
    """Two commands that write the same file otherwise."""

    name: str
    target: str
    commands: tuple[tuple[str, ...], tuple[str, ...]]


JOBS = tuple(
    Job(name, target, (first, second))
    for name, target, first, second in (
        ("apply", "out.blend", *(
            ("apply", "build.blend", "--preset", "well-loved", "--seed", seed, "--out", "out.blend") for seed in "12"
        )),
        ("apply on itself", "worn.blend", *(
            ("apply", "worn.blend", "--preset", "fresh", "--seed", seed, "--out", "worn.blend") for seed in "12"
        )),
        ("update", "out.blend", *(("update", "worn.blend", new, "--out", "out.blend") for new in ("a.glb", "b.glb"))),
        ("picture", "out.svg", *(("inspect", file, "--picture", "out.svg") for file in ("build.blend", "a.glb"))),
        ("report", "out.json", *(
            ("apply", "build.blend", "--preset", preset, "--report", "out.json", "--out", "other.blend")
            for preset in ("fresh", "attic")
        )),
        ("export", "out.json", *(("presets", "export", preset, "out.json") for preset in ("fresh", "attic"))),
        ("bundle", "out.zip", *(
            ("presets", "export", preset, "out.zip", "--textures", "textures") for preset in ("fresh", "attic")
        )),
        ("edit", "presets/mine.json", *(("presets", "edit", "mine", "--note", note) for note in ("one", "two"))),
    )
)  # fmt: skip


def prepare(folder: Path) -> None:
    """In a process of its own: the builds that the jobs start from."""
    import bpy

    import addon
    from addon import usecases
    from tests.blender import scenes

    addon.register()
    for name, courses in (("build", 6), ("a", 7), ("b", 8)):
        bpy.ops.wm.read_factory_settings(use_empty=True)
        build = scenes.wall(courses, 8)
        if name != "build":
            bpy.ops.export_scene.gltf(filepath=str(folder / f"{name}.glb"))
            continue
        usecases.save(folder / "build.blend")
        usecases.apply(build, usecases.find_preset("display-shelf"), usecases.Dials())
        usecases.save(folder / "worn.blend")
    os._exit(0)


def start(folder: Path) -> None:
    """Puts there what the jobs start from."""
    start_presets(folder)
    subprocess.run([sys.executable, __file__, "--prepare", str(folder)], check=True, stdout=subprocess.DEVNULL)


def start_presets(folder: Path) -> None:
    """What those start from that need no build."""
    import numpy as np

    from addon.core.pictures import png
    from addon.core.presets import preset as presets

    (folder / "textures").mkdir()
    (folder / "textures" / "scratches.png").write_bytes(png.encode(np.random.default_rng(0).random((256, 256))))
    (folder / "presets").mkdir()
    (folder / "presets" / "mine.json").write_text(presets.dump(presets.Preset("mine", "zero")))


def variant(path: Path) -> str:
    """What tells one variant of a whole file from another; another word where the file is not whole."""
    if path.suffix != ".blend":
        return hashlib.sha256(path.read_bytes()).hexdigest()
    asked = [sys.executable, __file__, "--look", str(path)]
    return subprocess.run(asked, capture_output=True, text=True).stdout.strip().rpartition("\n")[2]


def look(path: Path) -> None:
    """In a process of its own: the variant of a .blend."""
    import bpy

    from addon import usecases

    bpy.ops.wm.open_mainfile(filepath=str(path))
    (build,) = usecases.builds(bpy.context.scene)
    told = usecases.recall(build)
    print(len(build.all_objects), told and (told.preset.name, told.seed), flush=True)
    os._exit(0)


def run(folder: Path, words: tuple[str, ...], late_s: float = 0.0) -> subprocess.Popen:
    """Starts a command; it dies `late_s` after it has begun to write, unless that is 0."""
    own = {"PLAYWORN_PRESETS": str(folder / "presets"), "PYTHONPATH": str(CHECKOUT), "TMPDIR": str(folder / "tmp")}
    (folder / "tmp").mkdir(exist_ok=True)
    return subprocess.Popen(
        [sys.executable, *([__file__, "--die", str(late_s)] if late_s else ["-m", "addon"]), *words],
        cwd=folder,
        env={**os.environ, **own},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def die(late_s: float, words: list[str]) -> None:
    """In a process of its own: the command, and a timer that is set when it begins to write."""
    from addon import __main__ as command
    from addon import atomic, wheel

    whole = atomic.written

    def written(*told, **more):
        signal.setitimer(signal.ITIMER_REAL, late_s)
        return whole(*told, **more)

    atomic.written = written
    wheel.run_and_end(lambda: command.main(words))


def unfinished(folder: Path) -> set[Path]:
    return {path for path in folder.rglob(f".*{UNFINISHED}*") if "tmp" not in path.parts}


def chain(job: Job, template: Path, kills: int, seed: int) -> tuple[Counter, list[str]]:
    """Kills one job so many times in a folder of its own."""
    draw, counted, wrong = random.Random(f"{seed} {job.name}"), Counter(), []
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made) / "work"
        shutil.copytree(template, folder)
        target, told, took_s = folder / job.target, ["", ""], 0.0
        for which in (1, 0):
            begun = time.monotonic()
            if code := run(folder, job.commands[which]).wait():
                return counted, [f"{job.name}: it ended with {code} by itself"]
            told[which], took_s = variant(target), time.monotonic() - begun
        names = {path for path in folder.rglob("*") if "tmp" not in path.parts}
        now, turn = told[0], 1
        for _ in range(kills):
            before = unfinished(folder)
            if draw.random() < 0.5:
                code = run(folder, job.commands[turn], math.exp(draw.uniform(*map(math.log, LATE_S)))).wait()
            else:
                process = run(folder, job.commands[turn])
                time.sleep(draw.uniform(0.0, took_s))
                process.kill()
                code = process.wait()
            counted["kills" if code in DEADLY else "done before"] += 1
            counted["in writing"] += bool(unfinished(folder) - before)
            seen = variant(target) if target.is_file() else "gone"
            if seen not in (now, told[turn]):
                wrong.append(f"{job.name}: {job.target} is {seen[:80]!r}, not {now[:40]!r} or {told[turn][:40]!r}")
            counted["new" if seen == told[turn] and seen != now else "old"] += 1
            there = {path for path in folder.rglob("*") if "tmp" not in path.parts and UNFINISHED not in path.name}
            if strange := [path.name for path in there - names if path.parent.name != "trash"]:
                wrong.append(f"{job.name}: {strange} lies there")
            now, turn = seen, 1 - turn
        run(folder, job.commands[turn]).wait()
        counted["left"] = len(unfinished(folder))
    return counted, wrong


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=50)
    parser.add_argument("--beside", type=int, default=1, help="jobs at a time")
    parser.add_argument("--only", default=",".join(job.name for job in JOBS))
    parser.add_argument("--seed", type=int, default=0)
    arguments = parser.parse_args()
    jobs = [job for job in JOBS if job.name in arguments.only.split(",")]
    columns = ("kills", "in writing", "done before", "old", "new", "left")
    print(f"{'job':16}" + "".join(f"{column:>12}" for column in columns) + f"{'wrong':>8}", flush=True)
    with tempfile.TemporaryDirectory() as made, ThreadPoolExecutor(arguments.beside) as beside:
        start(Path(made))
        many = -(-arguments.kills // len(jobs))
        work: Callable = partial(chain, template=Path(made), kills=many, seed=arguments.seed)
        for job, (counted, wrong) in zip(jobs, beside.map(work, jobs), strict=True):
            print(f"{job.name:16}" + "".join(f"{counted[c]:12}" for c in columns) + f"{len(wrong):8}", flush=True)
            for words in wrong:
                print("   ", words, flush=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--prepare"]:
        prepare(Path(sys.argv[2]))
    elif sys.argv[1:2] == ["--look"]:
        look(Path(sys.argv[2]))
    elif sys.argv[1:2] == ["--die"]:
        die(float(sys.argv[2]), sys.argv[3:])
    else:
        main()
