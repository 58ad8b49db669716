"""The zip a person installs: what Blender's own builder says of it, what is in it, and its life in an empty Blender."""

import base64
import csv
import hashlib
import importlib.util
import io
import json
import os
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[2]
AT_THE_TOP = {"__init__.py", "blender_manifest.toml", "LICENSE", "README.md", "addon", "presets", "wheels"}


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The zip, built and validated by the builder inside the bpy wheel with the platform's own list of tags."""
    folder = tmp_path_factory.mktemp("zip")
    run = subprocess.run(
        [sys.executable, str(CHECKOUT / ".ci" / "zip.py"), str(folder)], capture_output=True, text=True, timeout=120
    )
    assert run.returncode == 0, run.stderr
    return Path(run.stdout.strip())


@pytest.fixture(scope="module")
def seen(archive: Path, tmp_path_factory: pytest.TempPathFactory) -> dict:
    """What a fresh Blender with an empty user folder saw while the extension came, worked and went."""
    user = tmp_path_factory.mktemp("user")
    names = ("RESOURCES", "CONFIG", "SCRIPTS", "EXTENSIONS", "DATAFILES")
    environment = os.environ | {f"BLENDER_USER_{name}": str(user / name.lower()) for name in names}
    run = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("use_installed.py")), str(archive)],
        cwd=user,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert run.returncode == 0, run.stdout + run.stderr
    return json.loads(run.stdout.splitlines()[-1])


def test_the_zip_holds_what_a_person_needs_and_no_more(archive: Path):
    with zipfile.ZipFile(archive) as zipped:
        names = zipped.namelist()
    assert {name.split("/")[0] for name in names} == AT_THE_TOP
    assert [name for name in names if "__pycache__" in name or Path(name).name.startswith(".")] == []
    assert {Path(name).suffix for name in names if name.startswith("presets/")} == {".json", ".png"}
    assert {Path(name).suffix for name in names if name.startswith("addon/")} == {".py"}


def test_the_zip_holds_every_source_file(archive: Path):
    with zipfile.ZipFile(archive) as zipped:
        zipped_sources = {name for name in zipped.namelist() if name.startswith(("addon/", "presets/"))}
    on_disk = [*CHECKOUT.glob("addon/**/*.py"), *CHECKOUT.glob("presets/*.*")]
    assert zipped_sources == {path.relative_to(CHECKOUT).as_posix() for path in on_disk}


def test_the_wheels_are_those_of_the_pins_and_open_as_wheels(archive: Path):
    """Python's own reader of wheels' lists of files: importlib.metadata (PEP 376) finds each file with its sum."""
    pins = tomllib.loads((CHECKOUT / "pyproject.toml").read_text("utf-8"))["project"]["dependencies"]
    pinned = {pin.replace("-", "_") for pin in pins if not pin.startswith("numpy")}
    with zipfile.ZipFile(archive) as zipped:
        wheels = {name: zipped.read(name) for name in zipped.namelist() if name.startswith("wheels/")}
    assert {"==".join(Path(name).name.split("-")[:2]) for name in wheels} == pinned
    for data in wheels.values():
        with zipfile.ZipFile(io.BytesIO(data)) as wheel:
            record = next(name for name in wheel.namelist() if name.endswith(".dist-info/RECORD"))
            rows = list(csv.reader(wheel.read(record).decode().splitlines()))
            assert sorted(row[0] for row in rows) == sorted(wheel.namelist())
            for name, told, size in (row for row in rows if row[0] != record):
                content = wheel.read(name)
                found = base64.urlsafe_b64encode(hashlib.sha256(content).digest()).rstrip(b"=").decode()
                assert (f"sha256={found}", str(len(content))) == (told, size)


def test_it_comes_with_its_classes_properties_and_command(seen: dict):
    assert seen["before"]["classes"] == []
    assert seen["before"]["command"] is False
    assert seen["enabled"]["classes"] != []
    assert set(seen["enabled"]["properties"]) > set(seen["before"]["properties"])
    assert seen["enabled"]["command"] is True


def test_it_works_from_where_it_was_installed(seen: dict):
    assert seen["list"]["code"] == 0
    for preset in ("fresh", "display-shelf", "well-loved", "toy-box", "attic", "sun-window", "workbench", "rental-kit"):
        assert preset in seen["list"]["out"]
    assert seen["show"]["code"] == 0


def test_it_reads_collada_with_the_library_it_brought(seen: dict):
    """Whatever the Python of this test has installed is out of that Blender's sight."""
    assert seen["collada before"] is None
    assert seen["collada"]["code"] == 0
    assert json.loads(seen["collada"]["out"])["bricks"] == 2
    assert ".local" in Path(seen["library"]).parts


def test_it_writes_nothing_beside_its_own_code(seen: dict):
    assert seen["files after use"] == seen["files"]


def test_it_goes_without_a_trace_and_comes_again(seen: dict):
    assert seen["disabled"] == seen["before"]
    assert seen["enabled again"] == seen["enabled"]
    assert seen["removed"] == seen["before"]
    assert seen["left"] is False


@pytest.fixture
def entry():
    """The root __init__.py as Blender loads it, under a name of its own."""
    spec = importlib.util.spec_from_file_location(
        "playworn_entry", CHECKOUT / "__init__.py", submodule_search_locations=[str(CHECKOUT)]
    )
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    yield module
    for name in [name for name in sys.modules if name.split(".")[0] == spec.name]:
        del sys.modules[name]


def test_loading_the_entry_loads_nothing_else(entry):
    assert [name for name in sys.modules if name.startswith("playworn_entry.")] == []


def test_a_blender_without_numpy_is_told_what_to_install(entry, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setitem(sys.modules, "numpy", None)  # makes `import numpy` fail as where it is not installed
    with pytest.raises(RuntimeError, match="install the package python3-numpy"):
        entry.register()
    assert [name for name in sys.modules if name.startswith("playworn_entry.")] == []
