"""Pictures of presets: rendered for real, kept beside the preset, known when stale, made in the background."""

import shutil
import sys
from dataclasses import replace
from pathlib import Path

import bpy
import numpy as np
import pytest

from addon import cli, usecases
from addon.core.errors import PresetProblem
from addon.core.presets import thumbnail
from addon.core.wear.layers import Wear
from addon.demo import run, still
from addon.scene.presets import library
from addon.ui import errand
from addon.ui.presets import choices, darkroom, thumbnails
from addon.ui.presets import library as ui_library
from tests.blender.presets.folders import files
from tests.blender.ui.drawing import drawn

TINY = run.Size(32, 24, 1)
OPERATORS = bpy.ops.playworn


@pytest.fixture(autouse=True)
def own(extension, tmp_path, monkeypatch) -> Path:
    """The user's presets, two of them: one with its picture, one without."""
    folder = tmp_path / "presets"
    monkeypatch.setenv(library.FOLDER_VARIABLE, str(folder))
    monkeypatch.setattr(still, "SIZE", TINY)
    library.save_preset(library.find_preset("attic"), "loft")
    shutil.copy(library.shipped_folder() / "attic.png", folder / "loft.png")
    library.save_preset(library.find_preset("toy-box"), "chest")
    choices.forget()
    yield folder
    choices.forget()


def pixels(path: Path) -> np.ndarray:
    image = bpy.data.images.load(str(path))
    values = np.array(image.pixels[:]).reshape(image.size[1], image.size[0], image.channels)
    bpy.data.images.remove(image)
    return values


def current(name: str) -> Path | None:
    listed = next(each for each in library.list_presets() if each.name == name)
    return library.picture(listed, library.find_preset(name))


def test_shipped_pictures_show_the_shipped_presets():
    """By their own word; nobody's hand has to remember to render them anew."""
    for listed in library.list_presets():
        if listed.origin == "shipped":
            picture = (library.shipped_folder() / f"{listed.name}.png").read_bytes()
            assert thumbnail.told(picture) == thumbnail.look(library.find_preset(listed.name)), listed.name


def test_the_command_renders_a_picture(own, capfd):
    assert cli.main(["presets", "thumbnail", "chest"]) == 0
    values = pixels(own / "chest.png")
    assert values.shape[:2] == (TINY.height, TINY.width)
    red = (values[..., 0] > 2.0 * values[..., 1]) & (values[..., 0] > 0.2)
    assert 0.1 < red.mean() < 0.6, "the red brick lies in the middle"
    assert current("chest") == own / "chest.png"
    assert files(own) == ["chest.json", "chest.png", "loft.json", "loft.png"]


@pytest.mark.parametrize("name", ["attic", "gone", "../loft"])
def test_only_presets_of_the_user_s_own_get_one(own, capfd, name):
    before = files(own)
    assert cli.main(["presets", "thumbnail", name]) == 1
    assert capfd.readouterr().err.count("\n") == 1
    assert files(own) == before


def test_a_picture_goes_with_its_preset_and_is_stale_once_that_changed(own, tmp_path):
    assert current("loft")
    usecases.edit_preset("loft", "gable", "", ())
    assert current("gable")
    usecases.edit_preset("gable", "gable", "Wind", ())
    assert current("gable"), "the look is the same"
    usecases.delete_preset("gable")
    assert not (own / "gable.png").exists()
    usecases.restore_preset("gable")
    assert current("gable")
    worn = replace(library.find_preset("gable"), wear=Wear(0.3))
    library.save_preset(worn, "gable", replacing=True)
    assert current("gable") is None
    bundle = usecases.bundle_preset("gable", tmp_path / "gable.zip")
    assert not bundle.thumbnail, "a stale picture is not sent away"
    usecases.restore_preset("gable")
    assert current("gable")


def test_a_picture_of_another_look_is_not_kept(own):
    worn = replace(library.find_preset("chest"), wear=Wear(0.3))
    picture = thumbnail.marked((own / "loft.png").read_bytes(), worn)
    with pytest.raises(PresetProblem, match="was changed while its picture was made"):
        usecases.keep_picture("chest", picture)
    assert not (own / "chest.png").exists()


def test_a_bundle_s_picture_is_known_to_be_that_of_its_preset(own, tmp_path):
    usecases.bundle_preset("loft", tmp_path / "loft.zip")
    usecases.import_presets(tmp_path / "loft.zip", "gable")
    assert thumbnail.told((own / "gable.png").read_bytes()) == thumbnail.look(library.find_preset("gable"))


def test_the_panel_shows_a_grey_picture_until_there_is_one(own):
    """Blender numbers no icons in the background, so what it was given is looked at."""
    listed = [each for each in choices.listed() if each.name == "chest"]
    thumbnails.icons(listed)
    (grey,) = thumbnails._kept[0].values()
    assert [round(value, 2) for value in grey.image_pixels_float[:4]] == [0.32, 0.32, 0.32, 1.0]
    usecases.keep_picture("chest", thumbnail.marked((own / "loft.png").read_bytes(), library.find_preset("chest")))
    choices.forget()
    thumbnails.icons(listed)
    (shown,) = [each for each in thumbnails._kept[0].values() if each is not grey]
    assert tuple(shown.image_size) == (160, 120)


def test_without_a_blender_to_start_nothing_is_begun_and_nothing_said(own):
    bpy.context.scene.playworn.preset = "chest"
    OPERATORS.save_preset(name="trunk")
    darkroom.develop_soon()
    assert not bpy.app.timers.is_registered(darkroom.develop)
    assert (darkroom.under_way(), darkroom.problem) == ("", "")
    assert "playworn.choose_preset" in drawn(ui_library.LibraryPanel)


@pytest.fixture
def blender(monkeypatch):
    """As if this Python were a Blender with a window, which starts others by `words` on its command line."""
    words = {"thumbnail": _RENDERS}
    monkeypatch.setattr(errand, "is_open", lambda: True)
    monkeypatch.setattr(darkroom, "command", lambda name: [sys.executable, "-c", words["thumbnail"], name])
    yield words
    darkroom.forget()


_RENDERS = """
import sys
from addon import __main__ as command
from addon.demo import run, still
still.SIZE = run.Size(32, 24, 1)
sys.exit(command.main(["presets", "thumbnail", sys.argv[1]]))
"""


_KEEPS = """
import os, sys
from addon import usecases
from addon.core.presets import thumbnail
from addon.scene.presets import library
picture = (library.shipped_folder() / "attic.png").read_bytes()
usecases.keep_picture(sys.argv[1], thumbnail.marked(picture, library.find_preset(sys.argv[1])))
os._exit(0)
"""


def developed() -> list[str]:
    """The presets whose pictures were made, one after the other; this is what Blender's timer does."""
    made = []
    while darkroom.develop() is not None:
        if darkroom.under_way() not in made[-1:]:
            made.append(darkroom.under_way())
        darkroom._work and darkroom._work.errand.process.wait(120)
    return made


@pytest.mark.shared_out
def test_pictures_that_lack_are_made_one_after_the_other(own, blender):
    blender["thumbnail"] = _KEEPS
    bpy.context.scene.playworn.preset = "chest"
    assert OPERATORS.save_preset(name="trunk") == {"FINISHED"}
    assert bpy.app.timers.is_registered(darkroom.develop)
    before = (own / "loft.png").read_bytes()
    assert developed() == ["chest", "trunk"]
    assert darkroom.problem == ""
    assert current("chest")
    assert current("trunk")
    assert (own / "loft.png").read_bytes() == before


def test_the_library_says_which_picture_is_made(own, blender):
    blender["thumbnail"] = "import time; time.sleep(60)"
    assert darkroom.develop() is not None
    assert "Rendering the picture of Chest" in drawn(ui_library.LibraryPanel)


@pytest.mark.shared_out
def test_a_changed_preset_gets_another_picture(own, blender):
    """Rendered by a process of its own, as the panel has it done."""
    usecases.keep_picture("chest", thumbnail.marked((own / "loft.png").read_bytes(), library.find_preset("chest")))
    settings = bpy.context.scene.playworn
    settings.preset, settings.wear = "loft", 0.5
    OPERATORS.save_preset(name="loft", replace=True)
    assert current("loft") is None
    assert developed() == ["loft"]
    assert current("loft")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("import sys; sys.exit('The lamp is broken')", 'The picture of "chest" was not made: The lamp is broken'),
        ("import os; os._exit(9)", 'The picture of "chest" was not made: exit code 9'),
    ],
)
def test_what_fails_leaves_one_sentence_and_is_not_tried_again(own, blender, capfd, words, told):
    blender["thumbnail"], before = words, files(own)
    assert developed() == ["chest"]
    assert capfd.readouterr().out.strip() == told
    assert told in " ".join(drawn(ui_library.LibraryPanel))
    assert darkroom.develop() is None
    assert files(own) == before


def test_one_that_takes_too_long_is_given_up(own, blender, monkeypatch):
    blender["thumbnail"] = "import time; time.sleep(60)"
    monkeypatch.setattr(darkroom, "_MOST_S", 0.0)
    darkroom.develop()
    process = darkroom._work.errand.process
    assert darkroom.develop() is None
    assert "was given up" in darkroom.problem
    assert process.returncode is not None


def test_it_ends_with_the_extension(own, blender, extension):
    blender["thumbnail"] = "import time; time.sleep(60)"
    darkroom.develop()
    process = darkroom._work.errand.process
    assert process.poll() is None
    darkroom.develop()
    assert darkroom._work.errand.process is process, "one at a time"
    extension.unregister()
    assert process.returncode is not None
    assert not bpy.app.timers.is_registered(darkroom.develop)
    extension.register()


def test_a_blender_that_does_not_start_is_told(own, blender, monkeypatch):
    monkeypatch.setattr(darkroom, "command", lambda _name: ["/nowhere/blender"])
    darkroom.develop()
    assert "no Blender starts in the background" in darkroom.problem
    assert darkroom.under_way() == ""


def test_the_command_names_the_add_on(monkeypatch):
    monkeypatch.setattr(errand, "__package__", "bl_ext.studio.playworn.addon.ui")
    words = darkroom.command("chest")
    assert words[words.index("--addons") + 1] == "bl_ext.studio.playworn"
    assert words[-4:] == ["playworn", "presets", "thumbnail", "chest"]
