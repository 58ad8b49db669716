"""Blender's Python wheel: what it needs of the system, said in one sentence where it is missing, and how it ends."""

import os
import re
import shutil
import sys
import traceback
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import NoReturn

# Library the wheel links to -> Debian's package of it (read off the wheels of 4.5, 5.0 and 5.2 with readelf and dpkg).
PACKAGES = {
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
    "libICE.so.6": "libice6",
    "libSM.so.6": "libsm6",
    "libX11.so.6": "libx11-6",
    "libXext.so.6": "libxext6",
    "libXfixes.so.3": "libxfixes3",
    "libXi.so.6": "libxi6",
    "libXrender.so.1": "libxrender1",
    "libxkbcommon.so.0": "libxkbcommon0",
}


def what_is_missing(error: ImportError) -> str:
    """One sentence for a failed `import bpy`: what is missing and how to get it."""
    library = re.search(r"\b(lib[\w.+-]+\.so(?:\.\d+)*): cannot open shared object file", str(error))
    if library:
        package = PACKAGES.get(library[1])
        remedy = f"apt-get install {package}" if package else "install the package that holds it"
        return f"Blender's Python module needs the system library {library[1]}: {remedy}, then run this again."
    if isinstance(error, ModuleNotFoundError) and error.name == "bpy":
        return (
            "This Python has no Blender in it: run the command through the environment of this folder, "
            "python3 -m uv run python -m addon, or inside Blender, blender --command playworn."
        )
    return f"Blender's Python module could not be loaded: {error}."


def packages_to_install() -> list[str]:
    """Debian packages of the libraries that this machine cannot load, sorted."""
    import ctypes

    def loads(library: str) -> bool:
        try:
            ctypes.CDLL(library)
        except OSError:
            return False
        return True

    return sorted(package for library, package in PACKAGES.items() if not loads(library))


def run_and_end(command: Callable[[], int]) -> NoReturn:
    """Runs a command and ends the process with its exit code.

    Python's own end is left out: the wheel of Blender 4.5 waits there for ever where a file had a driver in Python.
    """
    code = 1
    try:
        code = command()
    except BaseException:  # Python's own end would have told it
        traceback.print_exc()
    _sweep_session()
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError):
            stream.flush()
    os._exit(code)


def _sweep_session() -> None:
    """Takes away Blender's own temporary folder, as its end would. Where it could make none, it names the one that all
    share: that stays."""
    bpy = sys.modules.get("bpy")
    session = Path(bpy.app.tempdir) if bpy is not None and hasattr(bpy, "app") else None
    if session and session.name.startswith("blender_"):
        shutil.rmtree(session, ignore_errors=True)
