"""What all tests share: a Blender of their own, empty, and the extension in it for those that ask for it."""

import os
import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings

from tests import shares

TESTS = Path(__file__).parent
WITHOUT_BLENDER = TESTS / "core"

# The same examples on every machine and every run; a busy machine is no failure.
settings.register_profile("playworn", derandomize=True, deadline=None)
settings.load_profile("playworn")

# Nothing of the person's own Blender may colour a test, and no test may touch it.
# Blender reads these on import, so they stand before any test file is.
_resources = tempfile.mkdtemp(prefix="playworn-tests-")
for _name in ("RESOURCES", "CONFIG", "SCRIPTS", "EXTENSIONS", "DATAFILES"):
    os.environ[f"BLENDER_USER_{_name}"] = str(Path(_resources) / _name.lower())


def pytest_configure(config: pytest.Config) -> None:
    """Say in one sentence what is missing where Blender cannot be loaded, instead of an error for each file."""
    if all(_is_below(Path(argument.split("::")[0]), WITHOUT_BLENDER) for argument in config.args):
        return
    try:
        import bpy  # noqa: F401  only whether it loads matters here
    except ImportError as error:
        from addon.wheel import what_is_missing

        raise pytest.UsageError(what_is_missing(error)) from None


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--whole", action="store_true", help="on this Blender, too, all that the others test")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leaves to the other Blenders what is theirs, but with --whole and where files or tests are asked for by name."""
    if config.getoption("--whole") or any(".py" in argument for argument in config.args):
        return
    try:
        from tests.blender.turns import NUMBER
    except ImportError:  # there is no Blender, and so no other one
        return
    theirs = shares.others(items, NUMBER)
    config.hook.pytest_deselected(items=list(theirs))
    items[:] = [item for item in items if item not in theirs]


def pytest_unconfigure() -> None:
    shutil.rmtree(_resources, ignore_errors=True)


@pytest.fixture
def empty_scene():
    """The empty scene of a new file as the factory has it; the extension is not registered, few things need it."""
    import bpy

    from addon.scene import files

    files.new()  # a sixth of what all factory settings take; of the person's preferences there are none to reset
    return bpy.context.scene


@pytest.fixture
def extension(empty_scene, monkeypatch):
    """The extension, registered in a fresh Blender: for tests of properties, operators, panels and the command."""
    import addon
    from addon.core import remembered

    addon.register()
    try:
        yield addon
    finally:
        monkeypatch.setattr(remembered, "_of_session", [])  # the stand-in pictures stay: drawing them takes seconds
        # Classes left registered make the wheel of Blender 4.5 hang at exit.
        addon.unregister()


@pytest.fixture(autouse=True)
def _everyone_starts_empty(request: pytest.FixtureRequest) -> None:
    """Tests in tests/blender and tests/render need not ask for the empty scene."""
    if any(_is_below(request.path, TESTS / folder) for folder in ("blender", "render")):
        request.getfixturevalue("empty_scene")


def _is_below(path: Path, folder: Path) -> bool:
    return path.resolve().is_relative_to(folder)
