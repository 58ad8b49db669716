"""Opens .blend files and saves them so that a reader never meets half a file."""

import os
from pathlib import Path

import bpy

from ..core.errors import FileProblem


def new() -> None:
    """An empty file in place of the open one."""
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)


def open_blend(path: Path) -> None:
    """Opens a .blend in place of the open file; FileProblem where it is missing or no .blend."""
    if not path.is_file():
        raise FileProblem(f'there is no file "{path}": check the path')
    try:
        bpy.ops.wm.open_mainfile(filepath=str(path.absolute()), load_ui=False)
    except RuntimeError as error:
        raise FileProblem(f'"{path}" cannot be read as a .blend file: it is damaged or something else') from error


def save(path: Path) -> None:
    """Saves the open file as `path`, whole or not at all; FileProblem where the folder cannot be written."""
    path = path.absolute()
    check_writable(path)
    unfinished = path.with_name(f".{path.stem}.unfinished.blend")
    try:
        bpy.ops.wm.save_as_mainfile(filepath=str(unfinished), copy=True, check_existing=False)
        os.replace(unfinished, path)
    except (RuntimeError, OSError) as error:
        unfinished.unlink(missing_ok=True)
        raise FileProblem(
            f'"{path}" could not be written: check the free space and the rights of its folder'
        ) from error


def check_writable(path: Path) -> None:
    """FileProblem where a file could not be put at `path`; asked before long work, not after it."""
    folder = path.absolute().parent
    if not folder.is_dir():
        raise FileProblem(f'there is no folder "{folder}": make it first')
    if path.is_dir():
        raise FileProblem(f'"{path}" is a folder: name a file in it')
    if not os.access(folder, os.W_OK):
        raise FileProblem(f'the folder "{folder}" cannot be written: choose another')


def write_text(path: Path, text: str) -> None:
    """Writes a text file, whole or not at all."""
    unfinished = path.absolute().with_name(f".{path.name}.unfinished")
    try:
        unfinished.write_text(text, encoding="utf-8")
        os.replace(unfinished, path)
    except OSError as error:
        unfinished.unlink(missing_ok=True)
        raise FileProblem(
            f'"{path}" could not be written: check the free space and the rights of its folder'
        ) from error
