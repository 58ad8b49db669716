"""What is kept for the next call: bounded in a session, gone with the file it was of and with the extension."""

import ast
import gc
import re
from pathlib import Path

import bpy
import pytest

import addon
from addon import usecases
from addon.core import remembered
from addon.core.wear.layers import PICTURES
from addon.scene.build.build import read
from addon.ui import told
from tests.blender import scenes

CHECKOUT = Path(addon.__file__).parent
OWNERS = {  # module -> what it keeps beside `remembered`, and lets go of by a `forget` of its own or when it is done
    "core/remembered.py": {"_kept", "_numbers", "_caches", "_of_session", "_others"},
    "transaction.py": {"heard"},
    "scene/wear/handwork.py": {"_intact"},
    "ui/build/overlay.py": {"_shown", "_handles"},
    "ui/told.py": {"_told", "_outcomes", "_measured", "_updates"},
    "ui/presets/darkroom.py": {"_tried"},
    "ui/presets/thumbnails.py": {"_kept"},
    "ui/presets/keeping.py": {"_offered"},
}


@pytest.fixture
def worked(extension, tmp_path) -> tuple[Path, int]:
    """An empty file and what of builds was held then; since, a build has been applied to, dialled and shown."""
    usecases.save(tmp_path / "empty.blend")
    remembered.forget()
    before = of_a_build()
    build = scenes.wall()
    preset = usecases.find_preset("well-loved")
    told.applied(build, usecases.apply(build, preset, usecases.Dials(3)))
    usecases.dial(build, preset, usecases.Dials(3, looseness=0.5))
    assert remembered.held() > 10
    assert told._outcomes
    return tmp_path / "empty.blend", before


def of_a_build() -> int:
    """Arrays of a build that somebody still holds."""
    gc.collect()
    return sum(type(each).__name__ in ("Bricks", "Part", "Contacts", "Rows", "State") for each in gc.get_objects())


def test_a_loaded_file_takes_what_was_of_the_last_one_along(worked):
    empty, before = worked
    assert of_a_build() > before
    drawn = remembered.held_of_session()
    bpy.ops.wm.open_mainfile(filepath=str(empty))
    assert remembered.held() == remembered.held_of_session() == drawn == len(PICTURES)
    assert not any((told._told, told._outcomes, told._measured, told._updates))
    assert of_a_build() <= before


def test_switched_off_it_keeps_nothing(worked, extension):
    extension.unregister()
    assert remembered.held() == 0
    assert of_a_build() <= worked[1]
    assert not [each for each in bpy.app.handlers.load_post if each.__module__.startswith("addon")]
    extension.register()


def test_it_does_not_grow_without_end(extension):
    """Builds of ever new parts, one after the other, as a session of imports has them."""
    counts = []
    for n in range(4):
        build = scenes.wall(courses=2 + n, length=3 + n)
        for _ in range(2):
            read(build)
        counts.append(len(remembered._kept["build"]))
    assert counts == [1, 2, 2, 2]
    for n in range(20):
        remembered.remembered("test", bytes([n]), lambda: (1,), 5)
    assert list(remembered._kept["test"]) == [bytes([n]) for n in range(15, 20)], "those asked for last"
    remembered.forget()


def _kept_by(path: Path) -> set[str]:
    """Empty containers that a module sets up at its top, to be filled later."""
    found = set()
    for line in ast.parse(path.read_text("utf-8")).body:
        value = getattr(line, "value", None)
        if (
            isinstance(line, ast.Assign | ast.AnnAssign)
            and isinstance(value, ast.Dict | ast.List)
            and not (value.elts if isinstance(value, ast.List) else value.keys)
        ) or (isinstance(value, ast.Call) and ast.unparse(value) in ("set()", "dict()", "list()")):
            targets = line.targets if isinstance(line, ast.Assign) else [line.target]
            found |= {target.id for target in targets if isinstance(target, ast.Name)}
    return found


def test_everything_that_is_kept_has_an_owner():
    kept = {path.relative_to(CHECKOUT).as_posix(): _kept_by(path) for path in CHECKOUT.rglob("*.py")}
    assert {name: names for name, names in kept.items() if names} == OWNERS


def test_functions_keep_what_they_found_by_one_means():
    """`functools.cache` on a function or a method outlives every file; what is made for one object ends with it."""
    for path in CHECKOUT.rglob("*.py"):
        tree = ast.parse(path.read_text("utf-8"))
        tops = [each for each in ast.walk(tree) if isinstance(each, ast.Module | ast.ClassDef)]
        for each in (inner for top in tops for inner in top.body if isinstance(inner, ast.FunctionDef)):
            words = " ".join(map(ast.unparse, each.decorator_list))
            assert not {"cache", "lru_cache"} & set(re.findall(r"\w+", words)), f"{path}: {each.name}"
