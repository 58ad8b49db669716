"""What a command answers and writes, and what a folder may hold that it is given."""

import json
from pathlib import Path

import bpy
import numpy as np

from addon import usecases
from addon.core.pictures import png
from addon.scene import files
from addon.scene.presets import library

DONE, WRONG, USAGE = 0, 1, 2


def answer(told: tuple[int, str, str]) -> dict:
    """The one JSON object on standard output."""
    code, out, err = told
    assert code == DONE, err
    assert out.count("\n") == 1
    return json.loads(out)


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() if path.is_file() else b"" for path in folder.rglob("*")}


def copied(run, name: str, new: str) -> None:
    """Any preset as one of the user's own: through a file."""
    answer(run("presets", "export", name, f"{new}.json", "--json"))
    answer(run("presets", "import", f"{new}.json", "--as", new, "--json"))


def folder_of_pictures(somewhere: Path, *names: str) -> Path:
    made = folder(somewhere, "pictures")
    grey = np.ones((64, 64))
    grey[::16] = 0.2
    for name in names:
        (made / name).write_bytes(png.encode(grey))
    return made


def changed(somewhere: Path, **values) -> Path:
    """A preset file in which some values of the fit, or of the preset itself, are others."""
    preset = json.loads((library.shipped_folder() / "fresh.json").read_text(encoding="utf-8"))
    for name, value in values.items():
        (preset["fit"] if name in preset["fit"] else preset)[name] = value
    path = somewhere / "changed.json"
    path.write_text(json.dumps(preset), encoding="utf-8")
    return path


def cut(somewhere: Path, path: Path) -> Path:
    short = somewhere / f"cut{path.suffix}"
    short.write_bytes((somewhere / path).read_bytes()[: (somewhere / path).stat().st_size // 2])
    return short


def emptied(somewhere: Path, *, mesh: bool) -> Path:
    files.new()
    bpy.context.scene.collection.objects.link(bpy.data.objects.new("lamp", bpy.data.lights.new("lamp", "SUN")))
    if mesh:
        bpy.context.scene.collection.objects.link(bpy.data.objects.new("bare", bpy.data.meshes.new("bare")))
    usecases.save(somewhere / "empty.blend")
    return somewhere / "empty.blend"


def text(somewhere: Path, name: str, words: str) -> Path:
    (somewhere / name).write_text(words, encoding="utf-8")
    return somewhere / name


def folder(somewhere: Path, name: str) -> Path:
    (somewhere / name).mkdir()
    return somewhere / name
