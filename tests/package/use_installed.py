"""Run in a Blender of its own: install the zip, use it, switch it off, take it away. Prints what was seen as JSON.

python use_installed.py ZIP
"""

import contextlib
import importlib.util
import io
import json
import os
import sys
import tempfile
from importlib.machinery import PathFinder
from pathlib import Path

import bpy

MODULE = "bl_ext.user_default.playworn"
EXTENSIONS = "BLENDER_USER_EXTENSIONS"
TWO_BRICKS = """<?xml version="1.0" encoding="utf-8"?>
<COLLADA xmlns="http://www.collada.org/2005/11/COLLADASchema" version="1.4.1">
  <asset><unit name="millimetre" meter="0.001"/><up_axis>Z_UP</up_axis></asset>
  <library_geometries><geometry id="brick"><mesh>
    <source id="at"><float_array id="numbers" count="48">
      0 0 0  16 0 0  16 16 0  0 16 0  0 0 9.6  16 0 9.6  16 16 9.6  0 16 9.6
      2 2 9.6  6 2 9.6  6 6 9.6  2 6 9.6  2 2 11.3  6 2 11.3  6 6 11.3  2 6 11.3</float_array>
      <technique_common><accessor source="#numbers" count="16" stride="3"><param name="X" type="float"/>
        <param name="Y" type="float"/><param name="Z" type="float"/></accessor></technique_common></source>
    <vertices id="corners"><input semantic="POSITION" source="#at"/></vertices>
    <polylist count="12"><input semantic="VERTEX" source="#corners" offset="0"/>
      <vcount>4 4 4 4 4 4 4 4 4 4 4 4</vcount><p>3 2 1 0  4 5 6 7  0 1 5 4  1 2 6 5  2 3 7 6  3 0 4 7
      11 10 9 8  12 13 14 15  8 9 13 12  9 10 14 13  10 11 15 14  11 8 12 15</p></polylist>
  </mesh></geometry></library_geometries>
  <library_visual_scenes><visual_scene id="build">
    <node name="first"><instance_geometry url="#brick"/></node>
    <node name="second"><translate>16 0 0</translate><instance_geometry url="#brick"/></node>
  </visual_scene></library_visual_scenes>
  <scene><instance_visual_scene url="#build"/></scene>
</COLLADA>
"""


def registered() -> list[str]:
    """Names of the classes that Blender holds of the extension."""
    kinds = (bpy.types.Operator, bpy.types.Panel, bpy.types.PropertyGroup, bpy.types.AddonPreferences, bpy.types.UIList)
    classes = [cls for kind in kinds for cls in kind.__subclasses__() if cls.__module__.startswith(MODULE)]
    return sorted(cls.__name__ for cls in classes if cls.is_registered)


def properties() -> list[str]:
    """Properties of scenes, objects and the like that Blender does not have by itself."""
    owners = (bpy.types.Scene, bpy.types.Object, bpy.types.Collection, bpy.types.WindowManager, bpy.types.Material)
    return sorted(
        f"{owner.__name__}.{prop.identifier}" for owner in owners for prop in owner.bl_rna.properties if prop.is_runtime
    )


def command_is_taken() -> bool:
    """Whether `blender --command playworn` is answered: Blender warns whoever takes a word that is taken."""
    with tempfile.TemporaryFile() as told:
        kept = os.dup(2)
        os.dup2(told.fileno(), 2)
        try:
            bpy.utils.unregister_cli_command(bpy.utils.register_cli_command("playworn", lambda _arguments: 0))
        finally:
            os.dup2(kept, 2)
            os.close(kept)
        told.seek(0)
        return b"duplicate command" in told.read()


def run(*arguments: str) -> dict:
    """The exit code and output of one command, as Blender would call it."""
    with contextlib.redirect_stdout(io.StringIO()) as out:
        code = sys.modules[f"{MODULE}.addon"]._command(list(arguments))  # the function Blender was given
    return {"code": code, "out": out.getvalue()}


class Bundled:
    """Finds the libraries that the zip brings where Blender installs wheels and nowhere else."""

    @staticmethod
    def find_spec(name, path=None, target=None):
        if name not in ("collada", "dateutil"):
            return None
        found = PathFinder.find_spec(name, [entry for entry in sys.path if entry.startswith(os.environ[EXTENSIONS])])
        if found is None:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)
        return found


def library() -> str | None:
    """Where pycollada is, or None."""
    try:
        return importlib.util.find_spec("collada").origin
    except ModuleNotFoundError:
        return None


def collada_file(folder: Path) -> Path:
    """Two bricks of one part, 16 mm apart, in mm on Z; a part is a box with a stud."""
    path = folder / "two.dae"
    path.write_text(TWO_BRICKS)
    return path


def files(folder: Path) -> list[str]:
    paths = (path for path in folder.rglob("*") if path.is_file() and path.suffix != ".pyc")
    return sorted(path.relative_to(folder).as_posix() for path in paths)


def state() -> dict:
    return {"classes": registered(), "properties": properties(), "command": command_is_taken()}


def main(archive: str) -> dict:
    import addon_utils  # Blender's own, to be found only once bpy is

    sys.meta_path.insert(0, Bundled)
    seen = {"blender": bpy.app.version_string, "before": state(), "collada before": library()}
    bpy.ops.extensions.package_install_files(filepath=archive, repo="user_default", enable_on_install=True)
    folder = Path(sys.modules[MODULE].__file__).parent
    seen |= {
        "files": files(folder),
        "enabled": state(),
        "list": run("presets", "list"),
        "show": run("presets", "show", "fresh"),
        "collada": run("inspect", str(collada_file(Path.cwd())), "--json"),
        "library": library(),
    }
    seen["files after use"] = files(folder)
    addon_utils.disable(MODULE)
    seen["disabled"] = state()
    addon_utils.enable(MODULE)
    seen["enabled again"] = state()
    repository = next(i for i, r in enumerate(bpy.context.preferences.extensions.repos) if r.module == "user_default")
    bpy.ops.extensions.package_uninstall(repo_index=repository, pkg_id="playworn")
    seen |= {"removed": state(), "left": folder.exists()}
    return seen


if __name__ == "__main__":
    print(json.dumps(main(sys.argv[1])))
