"""The contact sheet from the panel: made by another Blender of a copy of the open file, which stays as it is."""

import sys
from pathlib import Path

import bpy
import numpy as np
import pytest
from PIL import Image

from addon import usecases
from addon.ui import errand, told
from addon.ui.shots import sheet, shotlist
from tests.blender.shots.test_shots import camera, marker
from tests.blender.shots.walls import everything
from tests.blender.ui.drawing import drawn

OPERATORS = bpy.ops.playworn
_RUNS = "import sys; from addon import __main__ as command; sys.exit(command.main(sys.argv[1:]))"
_SLEEPS = (
    "import time; print(' 25 %  rendering wide, frame 5', file=__import__('sys').stderr, flush=True); time.sleep(60)"
)


@pytest.fixture
def shown(build, tmp_path) -> bpy.types.Scene:
    """A worn wall before two cameras, the second with a plate that lies beside the file; rendered small."""
    scene = bpy.context.scene
    scene.frame_end, scene.render.engine, scene.cycles.device = 20, "CYCLES", "CPU"
    scene.render.resolution_x, scene.render.resolution_y = 192, 128
    scene.camera = camera("far", (0.06, -0.3, 0.02))
    near = camera("near", (0.06, -0.12, 0.02), lens=85.0)
    marker("wide", 1, scene.camera)
    marker("close", 11, near)
    Image.fromarray(np.full((64, 96, 3), (200, 120, 40), dtype=np.uint8)).save(tmp_path / "plate.png")
    near.data.background_images.new().image = bpy.data.images.load(str(tmp_path / "plate.png"))
    OPERATORS.apply()
    return scene


@pytest.fixture
def blender(monkeypatch):
    """As if this Python were a Blender with a window, which starts others by what it is told."""
    does = {"sheet": _RUNS}
    monkeypatch.setattr(errand, "is_open", lambda: True)
    monkeypatch.setattr(errand, "command", lambda *words: [sys.executable, "-c", does["sheet"], *words])
    yield does
    sheet.forget()


def made(path: Path) -> bytes:
    """The sheet that another process makes of the open file."""
    sheet.begin(bpy.context, path, 64, 1)
    sheet._work.process.wait(300)
    assert sheet.forget() == ""
    return path.read_bytes()


def here(scene: bpy.types.Scene, path: Path) -> bytes:
    """The same made in this one."""
    usecases.save_contact(scene.playworn.build, scene, usecases.list_shots(scene), path, 64, 1)
    return path.read_bytes()


@pytest.mark.shared_out
def test_a_file_that_was_never_saved_is_rendered_as_it_stands(shown, blender, tmp_path):
    usecases.dial_shots(shown, {("close", "dust"): 0.0, ("wide", "wear"): 1.5})
    before = everything()
    found = made(tmp_path / "sheet.png")
    assert everything() == before
    assert (bpy.data.filepath, sorted(path.name for path in tmp_path.glob("*.*"))) == ("", ["plate.png", "sheet.png"])
    assert found == here(shown, tmp_path / "here.png")


@pytest.mark.shared_out
def test_what_was_changed_since_it_was_saved_shows_and_the_plate_beside_it_is_found(shown, blender, tmp_path):
    path = tmp_path / "worn.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    plate = shown.objects["near"].data.background_images[0].image
    plate.filepath = "//plate.png"
    as_saved = made(tmp_path / "saved.png")
    kept = path.read_bytes()
    usecases.dial_shots(shown, {("wide", "looseness"): 0.0, ("wide", "wear"): 0.0})
    found = made(tmp_path / "sheet.png")
    assert found == here(shown, tmp_path / "here.png")
    assert found != as_saved
    assert (path.read_bytes(), bpy.data.filepath, plate.filepath) == (kept, str(path), "//plate.png")


def test_the_scene_and_the_build_are_the_panel_s(shown, blender, monkeypatch, tmp_path):
    words = sheet.command(bpy.context, Path("copy.blend"), tmp_path / "all.png", 96, 8)[3:]
    assert words[:2] == ["sheet", "copy.blend"]
    assert f"--build={shown.playworn.build.name}" in words
    assert f"--scene={shown.name}" in words
    assert words[-6:] == ["--wide", "96", "--samples", "8", "--out", str(tmp_path / "all.png")]


def test_a_script_gets_it_in_one_go(shown, tmp_path):
    path = tmp_path / "sheet.png"
    assert "wm.path_open" not in drawn(shotlist.ShotsPanel)
    assert OPERATORS.save_sheet(filepath=str(path.with_suffix("")), wide=64, samples=1) == {"FINISHED"}
    with Image.open(path) as picture:
        assert picture.width > 128
    assert told.sheet == str(path)
    assert "wm.path_open" in drawn(shotlist.ShotsPanel)
    told.forget()
    assert "wm.path_open" not in drawn(shotlist.ShotsPanel)


def test_what_fails_there_is_said_in_one_sentence(shown, blender, tmp_path):
    (tmp_path / "plate.png").unlink()
    sheet.begin(bpy.context, tmp_path / "sheet.png", 64, 1)
    sheet._work.process.wait(300)
    words = sheet.forget()
    assert "plate.png cannot be found" in words
    assert "\n" not in words
    assert not (tmp_path / "sheet.png").exists()
    with pytest.raises(RuntimeError, match=r"plate\.png"):
        OPERATORS.save_sheet(filepath=str(tmp_path / "sheet.png"), wide=64, samples=1)


def test_it_tells_how_far_it_is_and_leaves_nothing_once_given_up(shown, blender, extension, tmp_path):
    blender["sheet"] = _SLEEPS
    sheet.begin(bpy.context, tmp_path / "sheet.png", 64, 1)
    work, folder = sheet._work, Path(sheet._work._folder.name)
    assert sheet._step(work) == "opening the file"
    while not work.told():
        assert not work.is_over
    assert sheet._step(work) == "25 % rendering wide, frame 5"
    with pytest.raises(RuntimeError, match="A contact sheet is being rendered"):
        OPERATORS.save_sheet(filepath=str(tmp_path / "other.png"))
    extension.unregister()
    assert work.is_over
    assert not folder.exists()
    assert not list(tmp_path.glob("*sheet*"))
    extension.register()


def test_without_a_shot_or_another_blender_it_says_so(build, blender, monkeypatch, tmp_path):
    with pytest.raises(RuntimeError, match="The scene has no shot"):
        OPERATORS.save_sheet(filepath=str(tmp_path / "sheet.png"))
    bpy.context.scene.camera = camera("far")
    monkeypatch.setattr(errand, "command", lambda *_: ["/nowhere/blender"])
    with pytest.raises(Exception, match="no Blender starts"):
        sheet.begin(bpy.context, tmp_path / "sheet.png", 64, 1)
    assert sheet._work is None
