"""A contact sheet: each shot as it renders, beside its plate, with words below; nothing else is changed."""

import json

import bpy
import numpy as np
import pytest
from PIL import Image

from addon import cli, usecases
from addon.core.errors import FileProblem
from addon.core.pictures.contact import GAP, PAPER
from tests.blender import scenes
from tests.blender.shots.test_shots import marker

WIDE = 96


@pytest.fixture
def wall(set_up, tmp_path) -> bpy.types.Collection:
    """The wall before two cameras, the second with a plate behind it."""
    scene = bpy.context.scene
    scene.frame_end, scene.render.resolution_x, scene.render.resolution_y = 20, 192, 128
    near = bpy.data.objects.new("near", scene.camera.data.copy())
    near.matrix_world, near.data.lens = scene.camera.matrix_world, 90.0
    scene.collection.objects.link(near)
    for name, frame, camera in (("wide", 1, scene.camera), ("near", 11, near)):
        marker(name, frame, camera)
    picture = np.random.default_rng(1).integers(0, 255, (64, 96, 3)).repeat(4, axis=0).repeat(4, axis=1)
    Image.fromarray(picture.astype(np.uint8)).save(tmp_path / "plate.png")
    behind = near.data.background_images.new()
    behind.image = bpy.data.images.load(str(tmp_path / "plate.png"))
    usecases.apply(set_up, scenes.PRESET, usecases.Dials(seed=7))
    return set_up


def sheet(wall, tmp_path, **others) -> np.ndarray:
    scene = bpy.context.scene
    told = usecases.save_contact(
        wall, scene, usecases.list_shots(scene), tmp_path / "sheet.png", **{"wide": WIDE, "samples": 2} | others
    )
    assert (told.shots, told.plates) == (2, 1)
    with Image.open(tmp_path / "sheet.png") as picture:
        return np.asarray(picture).astype(float) / 255.0


def alone(frame: int, camera: str, tmp_path) -> np.ndarray:
    """The same frame rendered by Blender itself."""
    scene, form = bpy.context.scene, bpy.context.scene.render.image_settings
    if "media_type" in form.bl_rna.properties:
        form.media_type = "IMAGE"
    form.file_format, form.color_mode, form.color_depth = "PNG", "RGB", "8"
    scene.render.resolution_x, scene.render.resolution_y, scene.cycles.samples = WIDE, 64, 2
    scene.render.filepath, scene.render.use_file_extension = str(tmp_path / f"{frame}.png"), False
    scene.frame_set(frame)
    bpy.ops.render.render(write_still=True)
    with Image.open(tmp_path / f"{frame}.png") as picture:
        return np.asarray(picture).astype(float) / 255.0


def output() -> tuple:
    scene = bpy.context.scene
    render, form = scene.render, scene.render.image_settings
    return (
        render.filepath, render.resolution_x, render.resolution_y, form.file_format, form.color_depth,
        scene.cycles.samples, scene.camera.name, scene.frame_current, len(scene.view_layers[0].aovs),
        usecases.shots_of(bpy.data.collections["build"]),
    )  # fmt: skip


def test_each_shot_is_there_as_it_renders_beside_its_plate(wall, tmp_path):
    before = output()
    found = sheet(wall, tmp_path)
    assert output() == before
    cell = GAP + WIDE + GAP // 3 + WIDE  # the widest: a still and its plate
    assert found.shape[1] in (GAP + cell, GAP + 2 * cell)
    across = found.shape[1] // cell
    stills = [found[GAP : GAP + 64, GAP : GAP + WIDE]]
    if across == 2:
        top, left = GAP, GAP + cell
    else:
        top = next(row for row in range(GAP + 80, len(found)) if (found[row, GAP : GAP + WIDE] < 0.6).mean() > 0.5)
        left = GAP
    stills.append(found[top : top + 64, left : left + WIDE])
    plate = found[top : top + 64, left + WIDE + GAP // 3 :][:, :WIDE]
    with Image.open(tmp_path / "plate.png") as picture:
        coded = np.asarray(picture)[2::4, 2::4] / 255.0
    np.testing.assert_allclose(plate, coded, atol=1.01 / 255.0)
    for still, frame, camera in zip(stills, (5, 15), ("camera", "near"), strict=True):
        np.testing.assert_array_equal(still, alone(frame, camera, tmp_path))


def test_dials_show_in_picture_and_words(wall, tmp_path):
    scene = bpy.context.scene
    plain = sheet(wall, tmp_path)
    usecases.dial_shots(scene, {("wide", "looseness"): 0.0, ("wide", "dust"): 0.0, ("wide", "wear"): 0.0})
    dialled = sheet(wall, tmp_path)
    still = np.s_[GAP : GAP + 64, GAP : GAP + WIDE]
    assert np.abs(plain[still] - dialled[still]).max() > 0.02
    usecases.note_shot(scene, "wide", "approved but for the seam on the door, which is to be a little narrower")
    noted = sheet(wall, tmp_path)
    assert (noted < 0.5 * PAPER).sum() > (dialled < 0.5 * PAPER).sum()
    assert len(noted) > len(dialled)
    assert not usecases.shots_of(wall)


def test_the_command(wall, tmp_path, monkeypatch, capfd):
    monkeypatch.chdir(tmp_path)
    usecases.save(tmp_path / "worn.blend")
    kept = (tmp_path / "worn.blend").read_bytes()
    capfd.readouterr()
    words = ["--wide", "64", "--samples", "1", "--out", "all.png", "--json"]
    assert cli.main(["sheet", "worn.blend", *words]) == 0
    told = json.loads(capfd.readouterr().out)
    assert (told["shots"], told["plates"], told["file"]) == (2, 1, "all.png")
    assert (tmp_path / "worn.blend").read_bytes() == kept
    bpy.data.scenes.new("other")
    usecases.save(tmp_path / "two.blend")
    for scene, said in (("other", "is not in the scene"), ("third", "there is no scene called"), ("Scene", "")):
        assert cli.main(["sheet", "two.blend", "--scene", scene, *words]) == bool(said)
        assert said in capfd.readouterr().err
    for wrong in (["--wide", "10"], ["--out", "all.jpg"], ["--samples", "0"]):
        assert cli.main(["sheet", "worn.blend", *words, *wrong]) == 2


def test_a_plate_that_is_gone_is_told_and_nothing_is_written(wall, tmp_path):
    (tmp_path / "plate.png").unlink()
    with pytest.raises(FileProblem, match=r"plate\.png"):
        sheet(wall, tmp_path)
    assert not (tmp_path / "sheet.png").exists()
