"""A file that Blender may not survive is read by another Blender first, which this one outlives.

What ends the other one is refused here in one sentence. What the other one read to the end, and whose meshes point at
nothing that is not there, is then read here as any file. Handing over what the child has read would cost the second
reading less, but appending 5,000 objects from a .blend takes ten times as long as reading them again.
"""

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Generator, Iterator
from contextlib import suppress
from pathlib import Path

import bpy

from ...blender import context
from ...core.errors import FileProblem
from . import offstage
from .bounds import hold
from .said import Said

ROOT = Path(__file__).resolve().parents[3]  # what holds the package `addon`, installed or not
REFUSED = 7  # exit code: the file was read, and is not whole
START_S, BYTES_PER_S = 60.0, 100_000  # a slow machine's start, and text read by one that has other work
ASK_S = 15.0  # within which a Python without Blender is there and answers
_LOOK_S = 0.05
_NO_WINDOW = getattr(subprocess, "CREATE_NO_WINDOW", 0)


def asked(path: Path, stand: Callable[[str], None]) -> Generator[None, None, Said | None]:
    """Yields some times a second while a Python without Blender, which may die of it, asks whether the file is whole;
    returns what came to light of it, None where it is not.

    `stand` is what it does; where there is no such Python, or it lacks a library, the answer is none.
    """
    if not Path(sys.executable or "").name.lower().startswith("python"):
        return None
    bpy.utils.expose_bundled_modules()
    words = f"import sys; sys.path[:] = {[str(ROOT), *sys.path]!a}; sys.dont_write_bytecode = True; "
    words += f"from addon.scene.exports import {stand.__module__.rpartition('.')[2]} as each; "
    words += f"each.{stand.__name__}({str(path.resolve())!a})"
    command = [sys.executable, *bpy.app.python_args, "-c", words]
    with _own_folder() as folder:
        said = Path(folder) / "said"
        code = yield from _run(command, folder, ASK_S + path.stat().st_size / BYTES_PER_S, said)
        return Said.read(said.read_text("utf-8", "replace")) if code == 0 else None


def survive(path: Path, name: str) -> Iterator[None]:
    """Yields some times a second while another Blender reads the file; FileProblem where that one died of it or found
    no end. Closed before, it ends the other one.

    What the importer refuses by itself is no matter here: it will say so again.
    """
    path = path.resolve()
    most_s = START_S + path.stat().st_size / BYTES_PER_S
    with _own_folder() as folder:
        code = yield from _run(_command(path), folder, most_s)
    again = "export it again, or in another format"
    if code is None:
        raise FileProblem(f'"{path}" cannot be read as {name} (not done after {most_s:.0f} s): {again}')
    if code == REFUSED:
        raise FileProblem(
            f'"{path}" cannot be read as {name} (its lists do not fit, or a coordinate is no number): {again}'
        )
    if code:
        raise FileProblem(f'"{path}" cannot be read as {name} (a trial Blender crashed or ran out of memory): {again}')


def _command(path: Path) -> list[str]:
    words = f"import sys; sys.path.insert(0, {str(ROOT)!a}); sys.dont_write_bytecode = True; "
    words += f"import bpy; from addon.scene.exports import trial; trial.stand({str(path)!a})"
    if bpy.app.binary_path:
        return [
            bpy.app.binary_path,
            "--background",
            "--factory-startup",
            "--python-exit-code",
            "3",
            "--python-expr",
            words,
        ]
    return [sys.executable, "-c", words]


def _own_folder() -> tempfile.TemporaryDirectory:
    return tempfile.TemporaryDirectory(prefix="playworn-", ignore_cleanup_errors=True)


def _run(command: list[str], folder: str, most_s: float, said: Path | None = None) -> Generator[None, None, int | None]:
    """Returns the exit code, None where it took too long; it never outlives this. What it writes goes to `said`."""
    own: dict[str, str] = dict.fromkeys(("TMPDIR", "TEMP", "TMP"), folder)  # a dying Blender leaves words there
    begun = time.monotonic()
    with open(said or os.devnull, "wb") as written:
        process = subprocess.Popen(
            command,
            cwd=folder,
            env={**os.environ, **own},
            stdin=subprocess.DEVNULL,
            stdout=written,
            stderr=subprocess.DEVNULL,
            creationflags=_NO_WINDOW,
        )
    try:
        while time.monotonic() - begun < most_s:
            with suppress(subprocess.TimeoutExpired):
                return process.wait(_LOOK_S)
            yield
        return None
    finally:
        process.kill()
        process.wait()


def stand(name: str) -> None:
    """In the other Blender: reads the file, and ends the process with 0 where it lived through it."""
    from . import formats, sound

    path, form = Path(name), formats.of(Path(name))
    hold(path.stat().st_size)
    bpy.utils.expose_bundled_modules()
    with suppress(Exception):  # what cannot be asked is read all the same
        if form.misfits and form.misfits(path):
            os._exit(REFUSED)
    bpy.ops.wm.read_factory_settings(use_empty=True)
    room = bpy.data.collections.new(path.stem)
    context().scene.collection.children.link(room)
    context().view_layer.active_layer_collection = context().view_layer.layer_collection.children[room.name]
    with suppress(Exception), offstage.keeping(room):  # a refusal is no crash
        form.load(path)
        offstage.settle(room, list(bpy.data.objects))
    os._exit(REFUSED if sound.fault(obj for obj in bpy.data.objects if obj.type == "MESH") else 0)
