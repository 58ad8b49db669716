"""Run in a Blender of its own: install the zip, use it, switch it off, take it away. Prints what was seen as JSON.

python use_installed.py ZIP
"""

import contextlib
import io
import json
import os
import sys
import tempfile
from pathlib import Path

import bpy

MODULE = "bl_ext.user_default.playworn"


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


def files(folder: Path) -> list[str]:
    paths = (path for path in folder.rglob("*") if path.is_file() and path.suffix != ".pyc")
    return sorted(path.relative_to(folder).as_posix() for path in paths)


def state() -> dict:
    return {"classes": registered(), "properties": properties(), "command": command_is_taken()}


def main(archive: str) -> dict:
    import addon_utils  # Blender's own, to be found only once bpy is

    seen = {"blender": bpy.app.version_string, "before": state()}
    bpy.ops.extensions.package_install_files(filepath=archive, repo="user_default", enable_on_install=True)
    folder = Path(sys.modules[MODULE].__file__).parent
    seen |= {
        "files": files(folder),
        "enabled": state(),
        "list": run("presets", "list"),
        "show": run("presets", "show", "fresh"),
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
