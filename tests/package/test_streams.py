"""What a command says reaches whoever asked, in any encoding and through any pipe, and every command ends."""

import os
import subprocess
import sys
from pathlib import Path

import bpy
import numpy as np
import pytest

from addon import stdout, usecases  # noqa: F401  the first knows what to write for letters
from addon.core.pictures import png
from addon.core.wear.layers import PICTURES
from addon.scene import files
from tests.blender import scenes

CHECKOUT = Path(__file__).resolve().parents[2]
COMMAND = [sys.executable, "-m", "addon"]
needs_a_shell = pytest.mark.skipif(os.name == "nt", reason="said in the words of a POSIX shell")


def run(words, *, shell="", **environment):
    """A command; `shell` is what a POSIX shell makes of its streams."""
    command = [*COMMAND, *map(str, words)]
    if shell:
        command = ["sh", "-c", f'"$@" {shell}', "sh", *command]
    return subprocess.run(
        command, cwd=CHECKOUT, env=os.environ | environment, capture_output=True, text=True, encoding="utf-8",
        timeout=60,
    )  # fmt: skip


@pytest.fixture
def driven(tmp_path) -> Path:
    """A wall in a .blend, with a driver whose expression only Python can work out."""
    files.new()
    scenes.wall(2, 2)
    empty = bpy.data.objects.new("driven", None)
    bpy.context.scene.collection.objects.link(empty)
    driver = empty.driver_add("location", 0).driver
    driver.type, driver.expression = "SCRIPTED", "len([1, 2]) + frame"
    usecases.save(tmp_path / "driven.blend")
    files.new()
    return tmp_path / "driven.blend"


@pytest.mark.shared_out
def test_a_driver_in_the_file_keeps_no_command_from_ending(driven, tmp_path):
    """The wheel of Blender 4.5 waits for ever at Python's own end: the time limit of the run would tell."""
    (tmp_path / "temporary").mkdir()
    done = run(["inspect", driven], TMPDIR=str(tmp_path / "temporary"))
    assert (done.returncode, done.stderr) == (0, "")
    assert " bricks of " in done.stdout
    assert os.listdir(tmp_path / "temporary") == []
    wrong = run(["inspect", driven, "--build", "nowhere"])
    assert (wrong.returncode, wrong.stdout, len(wrong.stderr.splitlines())) == (1, "", 1)


@pytest.mark.parametrize(("name", "stays"), [("blender_a1b2c3", False), ("shared", True)])
def test_a_folder_that_others_share_is_not_swept_at_the_end(name, stays, tmp_path):
    """Where Blender can make no folder of its own, it names that of the system (BKE_tempdir_init says so)."""
    (tmp_path / name).mkdir()
    (tmp_path / name / "work.txt").write_text("somebody's")
    ending = (
        "import sys; from types import SimpleNamespace as a; from addon import wheel; "
        "sys.modules['bpy'] = a(app=a(tempdir=sys.argv[1])); wheel.run_and_end(lambda: 3)"
    )
    command = [sys.executable, "-c", ending, str(tmp_path / name) + os.sep]
    assert subprocess.run(command, cwd=CHECKOUT, timeout=60, check=False).returncode == 3
    assert (tmp_path / name / "work.txt").is_file() == stays


PLAIN = {
    "asked for": {"PYTHONIOENCODING": "ascii"},
    "the system's": {"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"},  # PEP 538, PEP 540
}


@pytest.mark.shared_out
@pytest.mark.parametrize("whose", PLAIN)
def test_an_output_of_plain_letters_gets_plain_letters(whose, driven):
    told = run(["inspect", driven], **PLAIN[whose])
    assert (told.returncode, told.stderr) == (0, "")
    assert told.stdout.isascii()
    assert " x " in told.stdout
    asked = run(["inspect", driven, "--json"], **PLAIN[whose])
    assert asked.stdout.isascii()
    assert "\\u00d7" in asked.stdout  # as JSON has it (RFC 8259, 7)


@pytest.mark.shared_out
@needs_a_shell
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no such device")
@pytest.mark.parametrize("words", [["presets", "list"], ["presets", "show", "fresh", "--json"], ["--help"]])
def test_an_output_without_room_is_told_in_one_sentence(words):
    told = run(words, shell="> /dev/full")
    assert (told.returncode, len(told.stderr.splitlines())) == (1, 1)
    assert "No space left" in told.stderr


@pytest.mark.shared_out
@needs_a_shell
def test_who_reads_the_first_line_alone_has_it_and_nothing_is_wrong():
    told = run(["presets", "show", "fresh"], shell="| head -1")
    assert (told.stdout.count("\n"), told.stderr) == (1, "")


@pytest.fixture
def wear(tmp_path) -> list[str]:
    """A look of small pictures: drawing those that stand in would take each command seconds."""
    (tmp_path / "pictures").mkdir()
    for kind in PICTURES:
        (tmp_path / "pictures" / f"{kind}.png").write_bytes(png.encode(np.random.default_rng(0).random((64, 64))))
    return ["--preset", "fresh", "--textures", str(tmp_path / "pictures")]


@pytest.mark.shared_out
@needs_a_shell
@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-", "<&- >&- 2>&-"])
def test_streams_that_are_closed_get_into_no_file(closed, driven, wear, tmp_path):
    """A file that is opened gets the lowest number that is free (POSIX, open): that of a closed stream."""
    out = tmp_path / "worn.blend"
    told = run(["apply", driven, *wear, "--out", out, "--json"], shell=closed)
    assert told.returncode == 0, told.stderr
    bpy.ops.wm.open_mainfile(filepath=str(out))
    assert usecases.recall(usecases.builds(bpy.context.scene)[0]).preset.name == "fresh"
    if closed == "2>&-":
        assert told.stdout.startswith("{")
    files.new()


@pytest.mark.shared_out
@needs_a_shell
def test_the_work_goes_on_where_nobody_reads_how_far_it_is(driven, wear, tmp_path):
    out = tmp_path / "worn.blend"
    run(["apply", driven, *wear, "--out", out], shell="2>&1 >/dev/null | head -1")
    assert out.is_file()


def test_letters_that_an_encoding_lacks_have_others():
    told = "1.5° 3 × 4 µm ΔE 中 \udcff".encode("ascii", "playworn.plainly")
    assert told == b"1.5 deg 3 x 4 um dE \\u4e2d \xff"
