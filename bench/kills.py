"""Kills the command line at any moment of its jobs, and looks at what is left of the files it was to write.

    python bench/kills.py [--kills 50] [--beside 1] [--only apply,update,…] [--seed 0]

Each job writes one file, now in one variant and now in another, over and over in one folder. It dies by SIGKILL:
a third of the times at any moment of its run; a third by who watches the folder, as soon as so much of the unfinished
file is there; a third at one of the steps by which the file comes into its place, right before or behind the call.
After each kill the file has to be whole and of the variant before or the new one; beside it may lie what the next run
sweeps, which the last one, left to its end, shows. Prints a line a job:

    kills      how many processes were killed, and how many of these while their unfinished file was there
    old, new   which variant the file was after that
    wrong      neither, or something else was in the folder
    left       unfinished files after the last run, which was not killed
"""

import argparse
import hashlib
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
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import SimpleNamespace

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))
UNFINISHED = "unfinished"
STEPS = tuple((call, when) for call in ("fsync", "replace") for when in ("before", "behind"))


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


def run(folder: Path, words: tuple[str, ...], *dies: str) -> subprocess.Popen:
    """Starts a command; it dies at a step of writing a file where these are named."""
    path = os.pathsep.join(filter(None, (str(CHECKOUT), os.environ.get("PYTHONPATH"))))
    own = {"PLAYWORN_PRESETS": str(folder / "presets"), "PYTHONPATH": path, "TMPDIR": str(folder / "tmp")}
    (folder / "tmp").mkdir(exist_ok=True)
    return subprocess.Popen(
        [sys.executable, *([__file__, "--die", *dies] if dies else ["-m", "addon"]), *words],
        cwd=folder,
        env={**os.environ, **own},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def die(step: int, target: str, words: list[str]) -> None:
    """In a process of its own: the command, killed at a step of writing its target."""
    from addon import __main__ as command
    from addon import atomic, wheel

    name, when = STEPS[step]
    call, whole = getattr(os, name), atomic.written

    def last(*told, **more):
        if when == "behind":
            call(*told, **more)
        os.kill(os.getpid(), signal.SIGKILL)

    def written(path, *told, **more):
        if path.name == target:
            atomic.os = SimpleNamespace(**{**vars(os), name: last})  # of no other module: those write other files
        return whole(path, *told, **more)

    atomic.written = written
    wheel.run_and_end(lambda: command.main(words))


def killed_in_writing(process: subprocess.Popen, folder: Path, size: float) -> None:
    """Watches a folder, and kills the process once an unfinished file of that size is there."""
    while process.poll() is None:
        with os.scandir(folder) as there:
            for each in there:
                if UNFINISHED in each.name:
                    with suppress(FileNotFoundError):  # it was renamed in between
                        if each.stat().st_size >= size:
                            process.kill()
                            return


def kill(job: Job, folder: Path, turn: int, draw: random.Random, took_s: float) -> int:
    """Runs a job and kills it in one of three ways; how it ended."""
    way, words, target = draw.randrange(3), job.commands[turn], folder / job.target
    if way == 2:
        return run(folder, words, str(draw.randrange(len(STEPS))), target.name).wait()
    process = run(folder, words)
    if way == 1:
        killed_in_writing(process, target.parent, draw.random() * target.stat().st_size)
    else:
        time.sleep(draw.uniform(0.0, took_s))
        process.kill()
    return process.wait()


def lying(folder: Path) -> set[Path]:
    """All that lies in a folder but for what the system's own temporary files are."""
    return {path for path in folder.rglob("*") if "tmp" not in path.relative_to(folder).parts}


def unfinished(folder: Path) -> set[Path]:
    return {path for path in lying(folder) if UNFINISHED in path.name}


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
        names = lying(folder)
        now, turn = told[0], 1
        for _ in range(kills):
            before = unfinished(folder)
            code = kill(job, folder, turn, draw, took_s)
            counted["kills" if code == -signal.SIGKILL else "done before"] += 1
            counted["in writing"] += bool(unfinished(folder) - before)
            seen = variant(target) if target.is_file() else "gone"
            if seen not in (now, told[turn]):
                wrong.append(f"{job.name}: {job.target} is {seen[:80]!r}, not {now[:40]!r} or {told[turn][:40]!r}")
            counted["new" if seen == told[turn] and seen != now else "old"] += 1
            there = lying(folder) - unfinished(folder) - names
            if strange := [path.name for path in there if path.parent.name != "trash"]:
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
        die(int(sys.argv[2]), sys.argv[3], sys.argv[4:])
    else:
        main()
