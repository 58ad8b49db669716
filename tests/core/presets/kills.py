"""Kills a process in the middle of changing presets, over a thousand times, and looks at what is left.

python -m tests.core.presets.kills FOLDER [KILLS]      prints what was found as JSON

Each child is forked, works in a folder of its own and dies by SIGKILL: before and after one call of the system
after another, each at least once, then at random; one in five at a random moment from outside.
"""

import json
import os
import random
import shutil
import signal
import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from addon.core.presets import preset as presets
from addon.core.presets.preset import Preset
from addon.scene.presets.shelf import Shelf

KILLS = 1300
SYSTEM = ("posix", "_io", "fcntl")
OLD, NEW, OTHER = (Preset(name, note=f"{name} " * 30) for name in ("old", "new", "other"))
NAMED = {name: presets.dump(replace(preset, name=name)) for name, preset in (("a", OLD), ("b", OTHER))}


def save(shelf: Shelf) -> None:
    shelf.save(NEW, "a", replacing=True)


def save_new(shelf: Shelf) -> None:
    shelf.save(NEW, "c")


def rename(shelf: Shelf) -> None:
    shelf.edit("a", "c", OLD.note, OLD.tags)


def delete(shelf: Shelf) -> None:
    shelf.delete("a")


def restore(shelf: Shelf) -> None:
    shelf.restore("gone")


def revert(shelf: Shelf) -> None:
    shelf.restore("b")


JOBS: tuple[Callable[[Shelf], None], ...] = (save, save_new, rename, delete, restore, revert)


def fresh(folder: Path) -> Shelf:
    """A folder with two presets, an earlier version of one, and one in the trash."""
    template = folder.with_name(f"{folder.name} template")
    if not template.is_dir():
        _fill(Shelf(template))
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(template, folder)
    return Shelf(folder)


def _fill(shelf: Shelf) -> None:
    shelf.save(OLD, "gone")
    shelf.delete("gone")
    shelf.save(OLD, "a")
    shelf.save(NEW, "b")
    shelf.save(OTHER, "b", replacing=True)


def calls(job: Callable[[Shelf], None], shelf: Shelf, at: int = 0) -> int:
    """Does the job and counts its steps into and out of calls of the system; the process ends at step `at`, from 1."""
    count = 0

    def step(_frame, event, called):
        nonlocal count
        if event in ("c_call", "c_return", "c_exception") and _of_system(called):
            count += 1
            if count == at:
                os.kill(os.getpid(), signal.SIGKILL)

    sys.setprofile(step)
    try:
        job(shelf)
    finally:
        sys.setprofile(None)
    return count


def _of_system(called) -> bool:
    """Whether a function of C opens, writes, moves or locks: those of the modules that do, and what files can do."""
    owner = getattr(called, "__self__", None)
    return called.__module__ in SYSTEM or type(owner).__module__ in SYSTEM


def child(work: Callable[[], object]) -> int:
    """Forks a process that does the work; its number."""
    pid = os.fork()
    if not pid:
        try:
            work()
        finally:
            os._exit(0)
    return pid


def wrong(job: Callable[[Shelf], None], shelf: Shelf) -> list[str]:
    """What is lost or half after a kill, in words."""
    found, folder = [], shelf.folder
    whole = {(name, presets.dump(replace(each, name=name))) for name in "abc" for each in (OLD, NEW, OTHER)}
    whole |= {("gone", presets.dump(replace(OLD, name="gone")))}
    there = {path.stem: path.read_text("utf-8") for path in folder.glob("*.json") if path.name[0] != "."}
    hidden = [path for place in ("trash",) for path in (folder / place).glob("*.json") if path.name[0] != "."]
    for name, text in [*there.items(), *((path.stem.partition("~")[0], path.read_text("utf-8")) for path in hidden)]:
        if (name, text) not in whole:
            found.append(f"{job.__name__}: {name} is half: {text[:60]!r}")
    contents = set(there.values()) | {path.read_text("utf-8") for path in hidden}
    renamed = job is rename and "c" in there
    for name, text in NAMED.items():
        if text not in contents and not (name == "a" and renamed):
            found.append(f"{job.__name__}: {name} is lost")
    if not {"a", "b"} <= set(there) and job not in (rename, delete):
        found.append(f"{job.__name__}: a name is gone")
    if presets.dump(replace(OLD, name="gone")) not in contents:
        found.append(f"{job.__name__}: the deleted one is lost")
    shelf.save(NEW, "after")  # nothing is left locked or in the way
    if left := [path.name for path in folder.rglob(".*.unfinished*")]:
        found.append(f"{job.__name__}: {left} is left")
    return found


def main(folder: Path, kills: int) -> dict:
    draw, found, ended = random.Random(0), [], Counter()
    points = [(job, at + 1) for job in JOBS for at in range(calls(job, fresh(folder)))]
    traced = (points + draw.choices(points, k=kills))[: kills * 4 // 5]
    while ended["killed"] < kills:
        if traced:
            job, at = traced.pop()
            shelf = fresh(folder)
            pid = child(lambda: calls(job, shelf, at))  # noqa: B023  the child is gone before the next turn
        else:
            job = draw.choice(JOBS)
            shelf = fresh(folder)
            pid = child(lambda: job(shelf))  # noqa: B023
            time.sleep(draw.uniform(0.0, 0.004))
            os.kill(pid, signal.SIGKILL)
        killed = os.WIFSIGNALED(os.waitpid(pid, 0)[1])
        ended["killed" if killed else "done before"] += 1
        found += wrong(job, shelf)
        if ended["done before"] > kills:
            break  # a machine on which no child lives long enough to be killed
    for made in (folder, folder.with_name(f"{folder.name} template")):
        shutil.rmtree(made)
    return {"moments": len(points), **ended, "wrong": found}


if __name__ == "__main__":
    print(json.dumps(main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else KILLS)))
