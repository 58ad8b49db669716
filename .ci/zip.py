"""Build the extension's zip with Blender's own builder and check it the way the extensions platform does.

    python .ci/zip.py [FOLDER]      the folder for the zip; dist/ where none is given

Prints the zip's path. Runs in an environment that has the bpy wheel, whose builder needs no Blender window.
"""

import importlib.util
import subprocess
import sys
import tomllib
from pathlib import Path

import wheels  # beside this file

CHECKOUT = Path(__file__).resolve().parent.parent


def blender_scripts() -> Path:
    """The scripts folder inside the installed bpy wheel, found without loading Blender."""
    spec = importlib.util.find_spec("bpy")
    if spec is None or spec.origin is None:
        raise SystemExit("There is no bpy in this Python: run it through python3 -m uv run.")
    return next(Path(spec.origin).parent.glob("*.*/scripts"))


def build(source: Path, folder: Path) -> Path:
    """Put the wheels where the manifest names them, validate it, build the zip, validate that; the zip's path.

    SystemExit where Blender refuses it."""
    manifest = tomllib.loads((source / "blender_manifest.toml").read_text("utf-8"))
    for wheel in manifest["wheels"]:
        wheels.put_together(source / wheel)
    _extension("validate", str(source), *_tags())
    folder.mkdir(parents=True, exist_ok=True)
    _extension("build", "--source-dir", str(source), "--output-dir", str(folder), *_tags())
    archive = folder / f"{manifest['id']}-{manifest['version']}.zip"
    _extension("validate", str(archive), *_tags())
    return archive


def _tags() -> tuple[str, str]:
    # Blender itself passes the platform's list of tags; without it they are not looked at.
    return "--valid-tags", str(blender_scripts() / "modules/_bpy_internal/extensions/tags.py")


def _extension(*arguments: str) -> None:
    tool = blender_scripts() / "addons_core/bl_pkg/cli/blender_ext.py"
    run = subprocess.run([sys.executable, str(tool), *arguments], capture_output=True, text=True)
    if run.returncode != 0:
        raise SystemExit(f"Blender refuses `{' '.join(arguments)}`:\n{run.stdout}{run.stderr}")


if __name__ == "__main__":
    print(build(CHECKOUT, Path(sys.argv[1]) if len(sys.argv) > 1 else CHECKOUT / "dist"))
