"""The library of presets from the command line."""

import json
from dataclasses import replace
from pathlib import Path

from addon.core.presets import preset as presets
from addon.scene.presets import library
from tests.blender.cli.folders import DONE, WRONG, answer, copied, text


def test_the_presets(run, somewhere):
    listed = answer(run("presets", "list", "--json"))["presets"]
    assert {"fresh", "display-shelf", "well-loved", "toy-box", "attic", "sun-window", "workbench", "rental-kit"} <= {
        each["name"] for each in listed
    }
    assert "well-loved" in run("presets", "list")[1]
    shown = answer(run("presets", "show", "attic", "--json"))
    assert shown["name"] == "attic"
    assert "mm" in run("presets", "show", "attic")[1]

    answer(run("presets", "export", "attic", "mine.json", "--json"))
    assert json.loads(Path("mine.json").read_text(encoding="utf-8")) == shown
    assert run("presets", "check", "mine.json")[0] == DONE
    code, _, err = run("presets", "import", "mine.json")
    assert code == WRONG
    assert "attic" in err
    Path("mine.json").write_text(json.dumps({**shown, "name": "loft"}), encoding="utf-8")
    assert run("presets", "import", "mine.json")[0] == DONE
    assert "loft" in {each["name"] for each in answer(run("presets", "list", "--json"))["presets"]}
    assert answer(run("presets", "show", "loft", "--json")) == {**shown, "name": "loft"}


def test_the_user_s_presets_from_the_command_line(run, somewhere):
    named = lambda *words: [each["name"] for each in answer(run("presets", "list", *words, "--json"))["presets"]]  # noqa: E731
    copied(run, "attic", "loft")
    assert run("presets", "edit", "loft", "--note", "Under the beams", "--tags", "wood", "old")[0] == DONE
    assert named("beams", "wood") == ["loft"]
    assert "wood, old" in run("presets", "list", "beams")[1]
    assert run("presets", "restore", "loft")[0] == DONE
    assert named("beams") == []
    assert run("presets", "edit", "loft", "--as", "roof")[0] == DONE
    assert run("presets", "delete", "roof")[0] == DONE
    assert "roof" not in named("old")
    assert run("presets", "restore", "roof")[0] == DONE
    assert "roof" in named("old")
    assert answer(run("presets", "export-all", "all.zip", "--json"))["presets"] == 1
    there = [each["result"] for each in answer(run("presets", "import", "all.zip", "--json"))["presets"]]
    assert there == ["was there already"]
    assert run("presets", "import", "all.zip", "--as", "other")[0] == WRONG
    answer(run("presets", "export", "roof", "roof.json", "--json"))
    assert run("presets", "import", "roof.json")[0] == WRONG
    assert answer(run("presets", "import", "roof.json", "--as", "eaves", "--json"))["preset"] == "eaves"
    for words in (("edit", "fresh", "--as", "mine"), ("delete", "fresh"), ("restore", "nobody"), ("restore", "eaves")):
        code, out, err = run("presets", *words)
        assert (code, out) == (WRONG, "")
        assert err.count("\n") == 1


def test_a_preset_goes_away_in_a_bundle_and_comes_back_from_a_file(run, somewhere, build):
    text(somewhere, "licence.txt", "Do as you like.")
    copied(run, "attic", "loft")
    told = answer(run("presets", "export", "loft", "loft.zip", "--licence", "licence.txt", "--json"))
    assert told["files"] == ["preset.json", "licence.txt"]
    assert run("presets", "import", "loft.zip")[0] == WRONG
    assert answer(run("presets", "import", "loft.zip", "--as", "loft-2", "--json"))["preset"] == "loft-2"
    assert run("apply", build, "--preset", "loft", "--seed", 4, "--out", "worn.blend")[0] == DONE
    assert run("presets", "delete", "loft")[0] == DONE
    told = answer(run("presets", "take", "worn.blend", "--json"))
    assert (told["preset"], told["seed"]) == ("loft", 4)
    assert run("presets", "show", "loft")[0] == DONE


def test_what_a_preset_holds_beyond_is_told(run, somewhere, build):
    preset = json.loads((library.shipped_folder() / "fresh.json").read_text(encoding="utf-8"))
    text(somewhere, "odd.json", json.dumps({**preset, "name": "odd", "look": [1]}))
    words = "look is no field of a preset: it is kept but does nothing"
    assert words in answer(run("presets", "check", "odd.json", "--json"))["warnings"][0]
    code, _, err = run("apply", build, "--preset", "odd.json", "--out", "worn.blend")
    assert code == DONE
    assert f"warning: {words}" in err
    answer(run("presets", "import", "odd.json", "--json"))
    assert json.loads(Path("presets/odd.json").read_text(encoding="utf-8"))["look"] == [1]


def test_what_is_done_to_a_preset_that_a_shared_one_hides_says_so(run, somewhere, monkeypatch):
    copied(run, "attic", "loft")
    studio = somewhere / "studio"
    studio.mkdir()
    (studio / "loft.json").write_text(presets.dump(replace(library.find_preset("attic"), name="loft")), "utf-8")
    monkeypatch.setenv(library.STUDIO_VARIABLE, str(studio))
    said = '"loft" goes on meaning the preset that belongs to the studio'
    for words in (("edit", "loft", "--note", "Mine"), ("edit", "loft", "--as", "mine")):
        code, _, err = run("presets", *words)
        assert (code, said in err) == (DONE, True)
    assert run("presets", "edit", "mine", "--note", "Free")[2] == ""
    monkeypatch.delenv(library.STUDIO_VARIABLE)
    copied(run, "attic", "loft")
    monkeypatch.setenv(library.STUDIO_VARIABLE, str(studio))
    code, _, err = run("presets", "delete", "loft")
    assert (code, said in err) == (DONE, True)


def test_check_refuses_a_name_that_no_library_takes(run, somewhere):
    text = presets.dump(replace(library.find_preset("attic"), name="nul"))
    (somewhere / "nul.json").write_text(text, "utf-8")
    code, _, err = run("presets", "check", "nul.json")
    assert code == WRONG
    assert "Windows keeps that name" in err
