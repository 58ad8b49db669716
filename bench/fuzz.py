"""Spoiled files of every format, brought in by a Blender that may die of it: what happens to each.

    python bench/fuzz.py SEEDS [--many 200] [--only fbx,usda] [--bare] [--keep FOLDER] [--seed 0]

SEEDS is a folder of good files (bench/seeds.py writes them). A child reads the spoiled ones one after the other and
says how each went; where it dies or takes longer than 90 s, the next child goes on behind that file. `--bare` reads
with Blender's importer alone, without anything of ours. Prints a line a format:

    ok         brought in, and looked at as the panel does
    sentence   refused in one sentence
    error      any other exception
    left       refused, but something stayed in the file
    crash      the process died
    hang       no answer within 90 s

Behind them: how many tracebacks the importers wrote where a user would see them.
"""

import argparse
import json
import os
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from contextlib import suppress
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

HANG_S = 90.0  # a trial's own limit is 60 s
START_S = 120.0  # that a child may take until it begins
MOST_BYTES = 6 << 30
FORMATS = ["glb", "gltf", "fbx", "obj", "usda", "usdc", "usdz", "stl", "ply", "dae"]


def spoil(seeds, kind, many, seed, folder):
    """Writes `many` spoiled files of a kind beside the pictures and buffers they refer to."""
    from bench import mutations

    for each in seeds.iterdir():
        if each.suffix[1:] not in FORMATS or each.suffix == ".usdc":
            shutil.copy(each, folder)
    good = sorted(seeds.glob(f"*.{kind}"))
    return (
        [
            _spoiled(mutations, good[n % len(good)], f"{seed}-{kind}-{n}", folder / f"{n:04d}.{kind}")
            for n in range(many)
        ]
        if good
        else []
    )


def _spoiled(mutations, good, seed, path):
    if good.suffix == ".usdz":
        data = _package(good, mutations, seed)
    else:
        data = mutations.spoiled(good.name, good.read_bytes(), seed)
    path.write_bytes(data)
    return path


def _package(good, mutations, seed):
    """A package is spoiled as a whole, or what lies in it is and the package stays whole."""
    import zipfile
    import zlib

    data = good.read_bytes()
    if zlib.crc32(seed.encode()) % 2:
        return mutations.spoiled(good.name, data, seed)
    with zipfile.ZipFile(good) as package:
        info = package.infolist()[0]
        start = info.header_offset + 30 + int.from_bytes(data[28:30], "little") + len(info.filename)
        inner = mutations.spoiled("x.usdc", data[start : start + info.file_size], seed)[: info.file_size]
    return data[:start] + inner.ljust(info.file_size, b"\0") + data[start + info.file_size :]


def judge(paths, script, *options):
    """Path -> (outcome, seconds, peak MiB, words), children of a script with `--read` reading as many as they live to;
    then their tracebacks."""
    found, tracebacks = {}, 0
    while len(found) < len(paths):
        rest = [str(path) for path in paths if path not in found]
        asked, answer = os.pipe()
        with tempfile.TemporaryFile() as said:
            command = [sys.executable, script, "--read", str(answer), *options, *rest]
            child = subprocess.Popen(command, pass_fds=[answer], stdout=said, stderr=said)
            os.close(answer)
            for path, told in _lines(child, asked, paths, found):
                found[path] = told
            said.seek(0)
            tracebacks += said.read().count(b"Traceback (most recent call last)")
    return found, tracebacks


def _lines(child, asked, paths, found):
    waiting = [path for path in paths if path not in found]
    buffer, begun, most_s = b"", time.monotonic(), START_S
    while waiting:
        ready, _, _ = select.select([asked], [], [], max(0.0, begun + most_s - time.monotonic()))
        if not ready:
            child.kill()
            child.wait()
            os.close(asked)
            yield waiting[0], ("hang", HANG_S, 0, "")
            return
        data = os.read(asked, 65536)
        if not data:
            code = child.wait()
            os.close(asked)
            yield (
                waiting[0],
                ("crash", time.monotonic() - begun, 0, signal.Signals(-code).name if code < 0 else str(code)),
            )
            return
        buffer += data
        *whole, buffer = buffer.split(b"\n")
        for each in whole:
            if each == b"begin":
                begun, most_s = time.monotonic(), HANG_S
                continue
            yield waiting.pop(0), tuple(json.loads(each))
            begun, most_s = time.monotonic(), START_S
    os.close(asked)
    child.wait()


def answer_each(answer, names, look):
    """In the child: has each file looked at and tells how that went."""
    import resource

    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    import bpy

    import addon
    from addon.core.errors import PlaywornError

    bpy.ops.wm.read_factory_settings(use_empty=True)
    addon.register()
    for name in names:
        os.write(answer, b"begin\n")
        path, begun = Path(name), time.monotonic()
        try:
            look(path)
            outcome, words = "ok", ""
        except Left as left:
            outcome, words = "left", str(left)
        except PlaywornError as problem:
            words = str(problem)
            outcome = "error" if "\n" in words or "Traceback" in words else "sentence"
        except MemoryError as error:
            outcome, words = "error", repr(error)
        except Exception as error:
            place = traceback.extract_tb(error.__traceback__)[-1]
            outcome, words = "error", f"{type(error).__name__}: {error} ({Path(place.filename).name}:{place.lineno})"
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss >> 10
        os.write(answer, json.dumps([outcome, time.monotonic() - begun, peak, words[:400]]).encode() + b"\n")
    sys.stdout.flush()
    os._exit(0)  # what is registered makes Blender 4.5 hang at its end


class Left(Exception):
    """Refused, but something stayed."""


def read(answer, bare, names):
    """In the child: brings in each file."""
    import bpy

    from addon import usecases
    from addon.core.errors import BuildProblem, FileProblem
    from addon.scene.exports import formats

    def look(path):
        bpy.ops.wm.read_factory_settings(use_empty=True)
        before = _everything(bpy)
        if bare:
            formats.of(path).load(path)
            return
        try:
            room = usecases.bring_in(path)
        except FileProblem as problem:
            if _everything(bpy) != before:
                raise Left(problem) from problem
            raise
        with suppress(BuildProblem):  # no brick in it is an answer too
            usecases.inspect(room)

    answer_each(answer, names, look)


def _everything(bpy):
    return {
        prop.identifier: sorted(block.name_full for block in getattr(bpy.data, prop.identifier))
        for prop in bpy.data.bl_rna.properties
        if prop.type == "COLLECTION"
    }


KINDS = ["ok", "sentence", "error", "left", "crash", "hang"]


def headings(first):
    """The first line of a table of `line`s."""
    return f"{first:7}" + "".join(f"{kind:>9}" for kind in KINDS) + "   slowest s  peak MiB  tracebacks"


def line(kind, found, tracebacks):
    """What became of the files of a kind, in a line; below it those that went wrong."""
    counted = Counter(each[0] for each in found.values())
    slowest, peak = (max((each[k] for each in found.values()), default=0) for k in (1, 2))
    rows = [f"{kind:7}" + "".join(f"{counted[k]:9}" for k in KINDS) + f"   {slowest:9.1f}  {peak:8}  {tracebacks:10}"]
    for path, (outcome, seconds, mib, words) in found.items():
        if outcome not in KINDS[:2]:
            rows.append(f"    {path.name} {outcome} {seconds:.1f} {mib} {' '.join(words.split())[:180]}")
    return "\n".join(rows)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("seeds", type=Path)
    parser.add_argument("--many", type=int, default=200)
    parser.add_argument("--only", default=",".join(FORMATS))
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--bare", action="store_true")
    parser.add_argument("--keep", type=Path)
    arguments = parser.parse_args()
    print(headings("format"))
    for kind in arguments.only.split(","):
        with tempfile.TemporaryDirectory() as folder:
            paths = spoil(arguments.seeds, kind, arguments.many, arguments.seed, Path(folder))
            found, tracebacks = judge(paths, __file__, *(["--bare"] if arguments.bare else []))
            print(line(kind, found, tracebacks), flush=True)
            for path, each in found.items() if arguments.keep else ():
                if each[0] not in KINDS[:2]:
                    arguments.keep.mkdir(parents=True, exist_ok=True)
                    shutil.copy(path, arguments.keep)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--read"]:
        rest = sys.argv[3:]
        read(int(sys.argv[2]), rest[0] == "--bare", [each for each in rest if each != "--bare"])
    else:
        main()
