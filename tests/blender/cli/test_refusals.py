"""How the commands refuse: one sentence, an exit code, and nothing written."""

import os

import pytest

from addon import atomic
from tests.blender.cli.folders import USAGE, WRONG, changed, contents, cut, emptied, folder, text

# What is wrong -> (the words to type after `apply`, in place of the right ones; what the sentence must say).
FILE, PRESET, OUT, TEXTURES = "FILE", "--preset", "--out", "--textures"
BAD = {
    "missing export": lambda here, blend, glb: ({FILE: here / "nowhere.glb"}, "does not exist"),
    "missing blend": lambda here, blend, glb: ({FILE: here / "nowhere.blend"}, "does not exist"),
    "folder as blend": lambda here, blend, glb: ({FILE: folder(here, "a.blend")}, "is a folder"),
    "truncated export": lambda here, blend, glb: ({FILE: cut(here, glb)}, "cannot be read"),
    "truncated blend": lambda here, blend, glb: ({FILE: cut(here, blend)}, "cannot be read"),
    "no blend at all": lambda here, blend, glb: ({FILE: text(here, "a.blend", "words")}, "cannot be read"),
    "unknown kind": lambda here, blend, glb: ({FILE: text(here, "a.step", "x")}, "not of a kind"),
    "no mesh": lambda here, blend, glb: ({FILE: emptied(here, mesh=False)}, "no mesh"),
    "no mesh in an export": lambda here, blend, glb: ({FILE: text(here, "a.obj", "v 0 0 0\n")}, "no mesh"),
    "empty build": lambda here, blend, glb: ({FILE: emptied(here, mesh=True)}, "no mesh"),
    "no textures folder": lambda here, blend, glb: ({TEXTURES: here / "nowhere"}, "does not exist"),
    "no image in it": lambda here, blend, glb: ({TEXTURES: folder(here, "none")}, "holds no"),
    "broken preset": lambda here, blend, glb: ({PRESET: text(here, "a.json", "{")}, "is not JSON"),
    "newer preset": lambda here, blend, glb: ({PRESET: changed(here, format=99)}, "newer"),
    "preset not a number": lambda here, blend, glb: ({PRESET: changed(here, shift_mm=float("nan"))}, "fit.shift_mm"),
    "preset negative": lambda here, blend, glb: ({PRESET: changed(here, lift_mm=-0.01)}, "fit.lift_mm"),
    "unknown preset": lambda here, blend, glb: ({PRESET: "nobody"}, "no preset called"),
    "set past its range": lambda here, blend, glb: ({"--set": "fit.shift_mm=5"}, "give a number from 0 to 0.3"),
    "set not a number": lambda here, blend, glb: ({"--set": "fit.shift_mm=nan"}, "fit.shift_mm"),
    "set a name": lambda here, blend, glb: ({"--set": "name=3"}, "no number of a preset"),
    "set unknown": lambda here, blend, glb: ({"--set": "fit.shove_mm=0.1"}, "no number of a preset"),
    "looseness not a number": lambda here, blend, glb: ({"--looseness": "nan"}, "looseness"),
    "looseness negative": lambda here, blend, glb: ({"--looseness": "-1"}, "looseness"),
    "wear endless": lambda here, blend, glb: ({"--wear": "inf"}, "wear"),
    "seed negative": lambda here, blend, glb: ({"--seed": "-3"}, "seed"),
    "no folder to write to": lambda here, blend, glb: ({OUT: here / "nowhere" / "w.blend"}, "no folder"),
    "a file as folder": lambda here, blend, glb: ({OUT: here / blend / "w.blend"}, "no folder"),
    "a folder as file": lambda here, blend, glb: ({OUT: folder(here, "w.blend")}, "is a folder"),
    "no folder for the report": lambda here, blend, glb: ({"--report": here / "nowhere" / "r.json"}, "no folder"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_one_sentence_and_nothing_is_written(name, run, build, export, somewhere):
    given, words = BAD[name](somewhere, build, export)
    typed = {FILE: build, PRESET: "fresh", OUT: "worn.blend"} | given
    file = typed.pop(FILE)
    before = contents(somewhere)
    code, out, err = run("apply", file, *(word for pair in typed.items() for word in pair))
    assert code == WRONG
    assert out == ""
    sentence = err.splitlines()[-1]
    assert words in sentence
    assert not sentence.endswith(".")
    told = [line for line in err.splitlines() if " %  " not in line[:7]]  # progress may stand before it
    assert told == [sentence]
    assert contents(somewhere) == before


@pytest.mark.parametrize("command", ["inspect", "check", "clear"])
@pytest.mark.parametrize("name", ["missing export", "truncated blend", "no mesh"])
def test_the_other_commands_refuse_alike(command, name, run, build, export, somewhere):
    given, words = BAD[name](somewhere, build, export)
    before = contents(somewhere)
    code, out, err = run(command, given[FILE], *(("--out", "c.blend") if command == "clear" else ("--json",)))
    assert (code, out) == (WRONG, "")
    assert words in err
    assert len(err.splitlines()) == 1
    assert contents(somewhere) == before


def test_a_folder_that_may_not_be_written_is_told_before_the_work(run, build, somewhere, monkeypatch):
    """The superuser may write anywhere, so the answer of the system is given in its place."""
    monkeypatch.setattr(os, "access", lambda path, mode: mode != os.W_OK)
    before = contents(somewhere)
    code, out, err = run("apply", build, "--preset", "fresh", "--out", "worn.blend")
    assert (code, out) == (WRONG, "")
    assert "cannot be written" in err
    assert len(err.splitlines()) == 1
    assert contents(somewhere) == before


def test_a_full_disk_leaves_the_earlier_file(run, build, somewhere, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(atomic.os, "replace", full)
    before = contents(somewhere)
    code, out, err = run("apply", build, "--preset", "fresh", "--out", build)
    assert (code, out) == (WRONG, "")
    assert "No space left" in err.splitlines()[-1]
    assert contents(somewhere) == before


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("fly",),
        ("inspect",),
        ("inspect", "a.glb", "--fast"),
        ("apply", "a.glb"),
        ("apply", "a.glb", "--preset", "fresh", "--out", "a.glb"),
        ("apply", "a.glb", "--preset", "fresh", "--out", "a.blend", "--report", "a.blend"),
        ("apply", "a.glb", "--preset", "fresh", "--out", "a.blend", "--seed", "two"),
        ("apply", "a.glb", "--preset", "fresh", "--out", "a.blend", "--wear", "much"),
        ("presets",),
        ("apply", "a.blend", "--preset", "fresh", "--out", "a.blend", "--set", "fit.shift_mm"),
        ("inspect", "a.blend", "--picture", "a.png"),
        ("presets", "export", "fresh", "fresh.txt"),
        ("presets", "paint"),
    ],
    ids=" ".join,
)
def test_wrong_usage(words, run, somewhere):
    code, out, err = run(*words)
    assert (code, out) == (USAGE, "")
    assert err.startswith("usage: ")
    assert contents(somewhere) == {}
