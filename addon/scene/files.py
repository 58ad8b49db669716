"""The file that is open in Blender: a new one, another one, and saving it."""

import os.path
from pathlib import Path

import bpy

from .. import atomic
from ..core.errors import FileProblem


def new() -> None:
    """An empty file in place of the open one."""
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)


def open_blend(path: Path) -> None:
    """Opens a .blend in place of the open file; FileProblem where it is missing or no .blend. No script in it runs."""
    if os.path.isdir(path):
        raise FileProblem(f'"{path}" is a folder: choose the .blend file itself')
    if not os.path.isfile(path):
        raise FileProblem(f'"{path}" does not exist: check the name and the folder')
    try:
        bpy.ops.wm.open_mainfile(filepath=str(path.absolute()), load_ui=False, use_scripts=False)
    except RuntimeError:
        raise FileProblem(f'"{path}" cannot be read as a .blend file: it is damaged or something else') from None


def save(path: Path) -> None:
    """Saves the open file as `path`, whole or not at all; FileProblem where that cannot be written."""
    atomic.check_writable(path)
    with atomic.written(path) as unfinished:
        bpy.ops.wm.save_as_mainfile(filepath=str(unfinished), copy=True, check_existing=False)
