"""The command line on Blender's Python wheel: what it says where something is missing, and how it ends."""

import ctypes
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from addon.wheel import PACKAGES, packages_to_install, what_is_missing

CHECKOUT = Path(__file__).resolve().parents[2]


def _run(*arguments: str, python_path: Path | None = None) -> subprocess.CompletedProcess[str]:
    environment = os.environ | ({"PYTHONPATH": str(python_path)} if python_path else {})
    command = [sys.executable, "-m", "addon", *arguments]
    return subprocess.run(command, cwd=CHECKOUT, env=environment, capture_output=True, text=True, timeout=60)


def test_a_missing_library_names_its_debian_package():
    error = ImportError("libXi.so.6: cannot open shared object file: No such file or directory")
    assert what_is_missing(error) == (
        "Blender's Python module needs the system library libXi.so.6: apt-get install libxi6, then run this again."
    )


def test_the_loaders_own_words_are_understood():
    """The words come from this machine's dynamic loader, not from memory."""
    with pytest.raises(OSError, match="cannot open shared object file") as raised:
        ctypes.CDLL("libplaywornnowhere.so.7")
    assert "libplaywornnowhere.so.7: install the package that holds it" in what_is_missing(
        ImportError(str(raised.value))
    )


def test_no_bpy_at_all_says_where_blender_is():
    error = ModuleNotFoundError("No module named 'bpy'", name="bpy")
    assert "python3 -m uv run python -m addon" in what_is_missing(error)


def test_any_other_failure_keeps_its_words():
    assert what_is_missing(ImportError("undefined symbol: x")).endswith("could not be loaded: undefined symbol: x.")


def test_every_package_is_named_after_its_library():
    """Debian policy 8.1: a shared library's package is named after its soname, in lower case."""
    for library, package in PACKAGES.items():
        name, version = library.split(".so.")
        stem = name.lower()
        assert package == (f"{stem}-{version}" if stem[-1].isdigit() else f"{stem}{version}")


def test_nothing_is_missing_where_blender_loads():
    import bpy  # noqa: F401  loading is the condition

    assert packages_to_install() == []


@pytest.mark.parametrize(
    ("raising", "sentence"),
    [
        (
            "ImportError('libSM.so.6: cannot open shared object file: No such file or directory')",
            "apt-get install libsm6",
        ),
        ("ModuleNotFoundError(\"No module named 'bpy'\", name='bpy')", "This Python has no Blender in it"),
    ],
)
def test_the_command_ends_with_one_sentence_where_blender_cannot_load(tmp_path: Path, raising: str, sentence: str):
    (tmp_path / "bpy.py").write_text(f"raise {raising}\n")
    run = _run("presets", "list", python_path=tmp_path)
    assert run.returncode == 1
    assert run.stdout == ""
    assert sentence in run.stderr
    assert len(run.stderr.splitlines()) == 1


def test_the_command_runs_and_ends():
    """Blender 4.5 hangs at exit over classes left registered: the time limit of the run would tell."""
    run = _run("presets", "list")
    assert run.returncode == 0, run.stderr
    assert "fresh" in run.stdout


def test_nothing_but_the_answer_is_on_standard_output(monkeypatch: pytest.MonkeyPatch):
    """Studios set OCIO; Blender 5.2 tells on standard output that it uses it."""
    import bpy

    config = Path(bpy.utils.resource_path("LOCAL")) / "datafiles" / "colormanagement" / "config.ocio"
    monkeypatch.setenv("OCIO", str(config))
    run = _run("presets", "list", "--json")
    assert run.returncode == 0, run.stderr
    assert len(json.loads(run.stdout)["presets"]) >= 5


def test_what_c_writes_stays_out_too():
    script = (
        "import ctypes, sys; from addon.stdout import kept_clean\n"
        "with kept_clean():\n"
        "    print('python'); ctypes.CDLL(None).puts(b'c'); print('a real error', file=sys.stderr)\n"
        "print('answer')"
    )
    run = subprocess.run([sys.executable, "-c", script], cwd=CHECKOUT, capture_output=True, text=True, timeout=60)
    assert run.stdout == "answer\n"
    assert run.stderr == "a real error\n"


def test_a_wrong_word_is_a_usage_mistake():
    run = _run("no-such-command")
    assert run.returncode == 2
    assert run.stdout == ""
