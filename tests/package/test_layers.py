"""The direction of every import in addon/, and the size and names of its files."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[2]
ADDON = CHECKOUT / "addon"
LONGEST_FILE = 400  # lines
NAMELESS = {"common", "helper", "helpers", "lib", "misc", "shared", "util", "utils"}

# ui, cli -> demo, usecases -> {scene, nodes} -> atomic, compat -> blender, core: down only, never sideways. What is
# clicked and what is typed reach the scene through a use case; the demo makes one of its own.
BELOW = {
    "core": set(),
    "transaction": set(),
    "raw": {"transaction", "compat"},
    "atomic": {"core"},
    "blender": set(),
    "compat": {"blender"},
    "stdout": set(),
    "wheel": set(),
    "scene": {"raw", "transaction", "stdout", "atomic", "compat", "blender", "core"},
    "nodes": {"raw", "transaction", "compat", "blender", "core"},
    "usecases": {"transaction", "scene", "nodes", "atomic", "compat", "blender", "core"},
    "demo": {"usecases", "scene", "nodes", "atomic", "compat", "blender", "core"},
    "cli": {"stdout", "demo", "usecases", "atomic", "blender", "core"},
    "ui": {"usecases", "blender", "core"},
    "__init__": {"cli", "ui"},
    "__main__": {"__init__", "cli", "stdout", "wheel"},
}
OF_BLENDER = {
    "addon_utils",
    "blf",
    "bmesh",
    "bpy",
    "bpy_extras",
    "gpu",
    "gpu_extras",
    "idprop",
    "imbuf",
    "mathutils",
    "pxr",
    "rna_prop_ui",
}
# library -> the one package that may import it: bundled, or not there inside Blender and said so
LIBRARIES = {"collada": ("scene", "exports", "dae"), "matplotlib": ("cli", "charts")}
SOURCES = sorted(ADDON.rglob("*.py"))


def _layer(parts: tuple[str, ...]) -> str:
    return parts[0] if parts else "__init__"


def _imported(source: str, module: tuple[str, ...], is_package: bool) -> Iterator[tuple[str, str]]:
    """Each import of the module addon.<module> as ('outside', top-level name) or ('inside', layer)."""
    package = module if is_package else module[:-1]
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (("outside", alias.name.split(".")[0]) for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            yield "outside", (node.module or "").split(".")[0]
        elif isinstance(node, ast.ImportFrom):
            climbed = node.level - 1
            if climbed > len(package):
                yield "outside", "." * node.level
                continue
            base = package[: len(package) - climbed] + tuple((node.module or "").split(".") if node.module else ())
            if base:
                yield "inside", _layer(base)
            else:
                names = (alias.name for alias in node.names)
                yield from (("inside", name if name in BELOW else "__init__") for name in names)


def wrongs(source: str, module: tuple[str, ...], is_package: bool = False) -> list[str]:
    """What the imports of addon.<module> get wrong, one sentence each."""
    own = _layer(module)
    found = []
    for where, name in _imported(source, module, is_package):
        if where == "inside":
            if name != own and name not in BELOW[own]:
                found.append(f"{own} must not know {name}")
        elif name == "addon" or name.startswith("."):
            found.append(f"{name}: imports inside addon/ are relative and stay inside it")
        elif name in OF_BLENDER:
            if own in ("core", "stdout", "wheel"):
                found.append(f"{own} must not know {name}")
        elif name in LIBRARIES:
            if module[: len(LIBRARIES[name])] != LIBRARIES[name]:
                found.append(f"{name} is for {'.'.join(LIBRARIES[name])} alone")
        elif name != "numpy" and name not in sys.stdlib_module_names:
            found.append(f"{name} is not there inside Blender")
    return found


def _module(path: Path) -> tuple[tuple[str, ...], bool]:
    parts = path.relative_to(ADDON).with_suffix("").parts
    is_package = parts[-1] == "__init__"
    return (parts[:-1] if is_package else parts), is_package


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.relative_to(ADDON).as_posix())
def test_imports_go_down_only(path: Path):
    module, is_package = _module(path)
    assert _layer(module) in BELOW, f"addon/{_layer(module)} has no place in the layers yet"
    assert wrongs(path.read_text("utf-8"), module, is_package) == []


@pytest.mark.parametrize(
    ("source", "module", "wrong"),
    [
        ("import bpy", ("core", "fit"), "core must not know bpy"),
        ("def f():\n    from mathutils import Matrix", ("core", "fit"), "core must not know mathutils"),
        ("from ..scene import build", ("core", "fit"), "core must not know scene"),
        ("from .. import scene", ("nodes", "attach"), "nodes must not know scene"),
        ("from ...nodes import attach", ("scene", "deep", "motion"), "scene must not know nodes"),
        ("from . import ui", ("usecases",), "usecases must not know ui"),
        ("from ..ui import panels", ("cli", "apply"), "cli must not know ui"),
        ("from ..scene import keys", ("ui", "shooting"), "ui must not know scene"),
        ("from ..nodes import attach", ("cli", "apply"), "cli must not know nodes"),
        ("from .. import register", ("scene", "build"), "scene must not know __init__"),
        ("from addon.core import fit", ("usecases",), "addon: imports inside addon/ are relative and stay inside it"),
        ("from ... import x", ("scene", "build"), "...: imports inside addon/ are relative and stay inside it"),
        ("import scipy.stats", ("core", "draws"), "scipy is not there inside Blender"),
        ("from collada import Collada", ("scene", "exports", "stl"), "collada is for scene.exports.dae alone"),
        ("from matplotlib import style", ("cli", "page"), "matplotlib is for cli.charts alone"),
        ("import lxml", ("scene", "exports", "dae", "document"), "lxml is not there inside Blender"),
    ],
)
def test_a_wrong_import_is_seen(source: str, module: tuple[str, ...], wrong: str):
    assert wrongs(source, module) == [wrong]


def test_right_imports_pass():
    source = "import json\nimport numpy as np\nimport bpy\nfrom . import build\nfrom .. import compat"
    assert wrongs(source, ("scene", "motion")) == []
    assert wrongs("from collada import Collada", ("scene", "exports", "dae", "document")) == []
    assert wrongs("from .fit import fit\nfrom ..core.units import radians", ("core",), is_package=True) == []


def _edges() -> dict[str, set[str]]:
    """Which module of addon/ imports which, also where only a type is meant or a function asks."""
    names = {".".join(_module(path)[0]): path for path in SOURCES}
    found: dict[str, set[str]] = {}
    for name, path in names.items():
        module, is_package = _module(path)
        package = module if is_package else module[:-1]
        found[name] = set()
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.level:
                base = [*package[: len(package) - node.level + 1], *(node.module.split(".") if node.module else ())]
                wanted = [".".join([*base, alias.name]) for alias in node.names]
                found[name] |= {each if each in names else ".".join(base) for each in wanted} - {name}
    return found


def test_no_modules_import_each_other_in_a_circle():
    order = TopologicalSorter(_edges())
    order.prepare()  # CycleError names the circle


def test_core_loads_on_python_and_numpy_alone():
    """The real thing beside the reading of imports: an interpreter in which Blender cannot be found."""
    script = """
import importlib, pkgutil, sys
blocked = ("bpy", "bmesh", "mathutils", "bpy_extras", "gpu")
sys.modules.update(dict.fromkeys(blocked))
sys.path.insert(0, sys.argv[1])
before = set(sys.modules)
import addon.core
for module in pkgutil.walk_packages(addon.core.__path__, "addon.core."):
    importlib.import_module(module.name)
tops = {name.split(".")[0] for name in set(sys.modules) - before}
print(*sorted(tops - sys.stdlib_module_names - {"addon", "numpy"}))
"""
    run = subprocess.run(
        [sys.executable, "-I", "-c", script, str(CHECKOUT)], capture_output=True, text=True, timeout=60
    )
    assert run.returncode == 0, run.stderr
    # numpy's own compiled parts may register themselves at the top; anything else is a dependency we must not have.
    assert [name for name in run.stdout.split() if not name.startswith(("_", "cython"))] == []


def test_the_bundled_library_is_loaded_only_for_the_file_that_needs_it():
    script = "import sys, addon.scene.exports.formats; print(*sys.modules)"
    run = subprocess.run([sys.executable, "-c", script], cwd=CHECKOUT, capture_output=True, text=True, timeout=60)
    assert run.returncode == 0, run.stderr
    assert {"collada", "dateutil"}.isdisjoint(run.stdout.split())


@pytest.mark.shared_out
def test_core_tests_are_found_without_blender():
    script = (
        "import sys; sys.modules.update(dict.fromkeys(('bpy', 'mathutils', 'bmesh')));"
        "import pytest; sys.exit(pytest.main(['--collect-only', '-q', '-n0', '-p', 'no:cacheprovider', 'tests/core']))"
    )
    run = subprocess.run([sys.executable, "-c", script], cwd=CHECKOUT, capture_output=True, text=True, timeout=120)
    assert run.returncode == 0, run.stdout[-2000:] + run.stderr[-2000:]


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.relative_to(ADDON).as_posix())
def test_files_stay_short(path: Path):
    assert len(path.read_text("utf-8").splitlines()) <= LONGEST_FILE


def test_every_folder_and_file_says_what_it_is():
    nameless = [path for path in CHECKOUT.glob("addon/**/*") if path.stem.lower() in NAMELESS]
    assert nameless == []
