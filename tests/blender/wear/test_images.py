"""Pictures for the wear: from the user's folder, or drawn."""

from dataclasses import replace
from pathlib import Path

import bpy
import numpy as np
import pytest
from PIL import Image

from addon import compat
from addon.core.errors import TextureProblem
from addon.core.pictures import png
from addon.core.wear import strength
from addon.core.wear.layers import PICTURES, Dust, Scratches, Smudges, Wear
from addon.nodes.attach import attach, detach
from addon.nodes.pictures import pictures
from addon.scene import files
from addon.scene.wear import findings, images, marks

SIZES = {"scratches": 40.0, "smudges": 60.0, "dust": 30.0}
HALF_A_STEP = 0.5 / 255.0  # of 8 bits: a line thinner than a pixel comes out in few of them
WEAR = Wear(0.2, Scratches(0.5, 40.0, 3.0), Smudges(0.6, 60.0))


@pytest.fixture
def folder(tmp_path):
    """A folder with light scratches on dark ground in 16 bits, and finger smudges in an 8-bit JPEG."""
    made = tmp_path / "my textures"
    made.mkdir()
    grey = np.full((32, 64), 0.25)
    grey[:, 5:7] = 1.0
    (made / "Scratch_fine.png").write_bytes(png.encode(grey))
    Image.fromarray(np.tile(np.arange(0, 256, 8, dtype=np.uint8), (32, 1))).save(made / "finger smudge.jpg")
    (made / "notes.txt").write_text("not a picture")
    return made


def test_the_folder_s_pictures_are_data_at_full_depth(folder):
    found = images.find(folder)
    assert (found["scratches"].image.name, found["smudges"].image.name) == ("Scratch_fine.png", "finger smudge.jpg")
    assert found["scratches"].image.colorspace_settings.is_data
    assert found["smudges"].image.colorspace_settings.is_data
    assert found["scratches"].image.is_float
    assert found["scratches"].levels.clean == pytest.approx(0.25, abs=1e-4)
    assert found["scratches"].levels.marked > 0.26


def test_a_kind_the_folder_lacks_is_drawn(folder):
    (folder / "finger smudge.jpg").unlink()
    found = images.find(folder)
    assert found["scratches"].image.name == "Scratch_fine.png"
    assert (found["smudges"].image.name, found["dust"].image.name) == ("Playworn smudges", "Playworn dust")


def test_without_a_folder_all_are_drawn_once_and_packed():
    first, second = images.find(None), images.find(None)
    assert first == second
    assert len(bpy.data.images) == len(PICTURES)
    for kind, image in ((kind, each.image) for kind, each in first.items()):
        assert image.packed_file
        assert image.is_float == (kind == "scratches")  # depths alone come out in steps of 8 bits
        assert image.colorspace_settings.is_data
        assert not Path(bpy.path.abspath(image.filepath)).exists()


def test_from_afar_the_drawn_ones_have_few_pixels_and_the_same_strength():
    near, far = images.find(None), images.find(None, fine=False)
    assert images.find(None, fine=False) == far
    assert (tuple(near["scratches"].image.size), tuple(far["scratches"].image.size)) == ((2048, 2048), (512, 512))
    assert replace(far["scratches"].levels, twice=2.0) == replace(near["scratches"].levels, twice=2.0)
    assert 2.0 < far["scratches"].levels.twice < near["scratches"].levels.twice  # fewer of its lines are full
    for kind in PICTURES:
        one, other = near[kind].image, far[kind].image
        assert one.name == other.name.removesuffix(" from afar")
        assert images.pixels(other)[0].mean() == pytest.approx(images.pixels(one)[0].mean(), abs=HALF_A_STEP)
    measured = marks.marks_of({each.image: kind for kind, each in near.items()}, WEAR)
    told = marks.marks_of({each.image: kind for kind, each in far.items()}, WEAR)
    drawn = [max(each.mark_mm, 4.0 / each.texels_per_mm) for each in measured.values()]  # no narrower than a pixel
    assert [each.mark_mm for each in told.values()] == pytest.approx(drawn, rel=1e-3)  # in steps of 8 bits
    assert [each.texels_per_mm for each in told.values()] == [each.texels_per_mm / 4 for each in measured.values()]


def test_drawn_pictures_survive_saving_and_loading(tmp_path):
    found = images.find(None)
    for image in (each.image for each in found.values()):
        image.use_fake_user = True
    before = np.array(found["scratches"].image.pixels[:4000])
    path = str(tmp_path / "build.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    again = images.find(None)
    assert len(bpy.data.images) == len(PICTURES)
    assert np.array_equal(before, np.array(again["scratches"].image.pixels[:4000]))


def test_a_picture_is_not_loaded_twice(folder):
    first, second = images.find(folder), images.find(folder)
    assert first == second
    assert len(bpy.data.images) == len(PICTURES)  # and the dust, which the folder lacks


def test_a_picture_the_artist_uses_as_colour_is_not_changed(folder):
    theirs = bpy.data.images.load(str(folder / "Scratch_fine.png"))
    colour = theirs.colorspace_settings.name
    assert images.find(folder)["scratches"].image != theirs
    assert theirs.colorspace_settings.name == colour


def test_a_picture_that_is_there_as_data_is_used_and_stays(folder):
    theirs = bpy.data.images.load(str(folder / "Scratch_fine.png"))
    theirs.colorspace_settings.name = "Non-Color"
    found = images.find(folder)
    assert found["scratches"].image == theirs
    material = bpy.data.materials.new("plastic")
    compat.node_tree(material)
    attach([material], WEAR, found, 0.001)
    detach([material])
    assert [image.name for image in bpy.data.images] == ["Scratch_fine.png"]


def test_the_path_is_relative_to_a_saved_file(folder, tmp_path):
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "build.blend"))
    found = images.find(folder)
    assert found["scratches"].image.filepath == "//my textures/Scratch_fine.png"
    assert images.find(folder)["scratches"].image == found["scratches"].image


def test_a_folder_that_is_missing_or_holds_no_picture_is_a_mistake_in_one_sentence(tmp_path):
    with pytest.raises(TextureProblem, match="does not exist"):
        images.find(tmp_path / "nowhere")
    with pytest.raises(TextureProblem, match="holds no"):
        images.find(tmp_path)
    with pytest.raises(TextureProblem, match="holds no"):
        findings.survey(tmp_path, SIZES)


def test_a_broken_picture_is_named_and_leaves_nothing_behind(tmp_path):
    (tmp_path / "scratches.png").write_bytes(b"no picture at all")
    with pytest.raises(TextureProblem, match=r"scratches\.png"):
        images.find(tmp_path)
    assert not bpy.data.images


def test_the_survey_measures_each_picture_and_leaves_none_behind(folder):
    (folder / "zebra.png").write_bytes(b"broken")
    scratch, smudge, broken = findings.survey(folder, SIZES)
    assert (smudge.file, smudge.width_px, smudge.height_px, smudge.bits) == ("finger smudge.jpg", 32, 32, 8)
    assert smudge.kind == "smudges"
    assert any("edges" in warning for warning in smudge.warnings)
    assert (scratch.file, scratch.width_px, scratch.height_px, scratch.bits) == ("Scratch_fine.png", 64, 32, 16)
    assert (scratch.kind, scratch.direction_deg) == ("scratches", pytest.approx(90.0))
    assert (broken.kind, broken.is_read) == ("other", False)
    assert "cannot be read" in broken.warnings[0]
    assert not bpy.data.images


def test_a_picture_that_changes_is_measured_anew(folder):
    before = findings.survey(folder, SIZES)[0]
    (folder / "Scratch_fine.png").write_bytes(png.encode(np.full((16, 16), 0.5)))
    after = findings.survey(folder, SIZES)[0]
    assert (before.width_px, after.width_px) == (64, 16)


def test_colour_is_told_and_grey_in_three_channels_is_none(folder):
    noise = np.random.default_rng(0).integers(0, 256, (64, 64, 3), dtype=np.uint8)
    Image.fromarray(noise).save(folder / "dust a.png")
    Image.fromarray(np.repeat(noise[..., :1], 3, axis=2)).save(folder / "dust b.png")
    told = {each.file: " ".join(each.warnings) for each in findings.survey(folder, SIZES)}
    assert "in colour" in told["dust a.png"]
    assert "in colour" not in told["dust b.png"]


@pytest.mark.parametrize("name", ["scratches.png", "scratches.jpg", "scratches.tif", "scratches.exr", "scratches.webp"])
@pytest.mark.parametrize("broken", ["words", "nothing", "cut"])
def test_a_broken_picture_is_told_in_our_words_alone(name, broken, tmp_path, capfd):
    path = tmp_path / name
    if broken == "cut" and path.suffix == ".exr":
        drawn = bpy.data.images.new("drawn", 64, 64, float_buffer=True)
        drawn.file_format = "OPEN_EXR"
        drawn.save(filepath=str(path))
        bpy.data.images.remove(drawn)
    elif broken == "cut":
        Image.fromarray(np.random.default_rng(0).integers(0, 256, (64, 64), dtype=np.uint8)).save(path)
    path.write_bytes(path.read_bytes()[:300] if broken == "cut" else {"words": b"no picture", "nothing": b""}[broken])
    capfd.readouterr()
    findings.survey(tmp_path, SIZES)
    told = capfd.readouterr()
    assert told.out + told.err == ""
    assert not bpy.data.images


@pytest.mark.parametrize(("side", "value"), [(1, 0.5), (2, 0.5), (64, float("nan"))])
def test_pictures_hardly_worth_the_name_are_flat(side, value, tmp_path):
    """One pixel, four, and a height in which nothing was measured."""
    odd = bpy.data.images.new("odd", side, side, float_buffer=True)
    odd.pixels.foreach_set(np.full(4 * side * side, value, np.float32))
    odd.file_format = "OPEN_EXR"
    odd.save(filepath=str(tmp_path / "scratches.exr"))
    bpy.data.images.remove(odd)
    (told,) = findings.survey(tmp_path, SIZES)
    assert (told.width_px, told.height_px) == (side, side)
    assert "It is flat" in told.warnings[0]
    assert np.isfinite([told.level_1, told.level_50, told.level_99, told.seam, told.mark_px, told.gain]).all()


def test_pictures_are_read_as_strong_as_the_stand_ins(folder):
    found = images.find(folder)
    for kind, used in found.items():
        grey, _ = images.pixels(used.image)
        assert strength.strength(used.levels.marks(grey)) == pytest.approx(PICTURES[kind].strength, rel=0.03)


def test_a_packed_picture_survives_its_file(folder, tmp_path):
    found = images.find(folder)
    found["scratches"].image.use_fake_user = True
    before = np.array(found["scratches"].image.pixels[:256])
    found["scratches"].image.pack()
    path = str(tmp_path / "packed.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    (folder / "Scratch_fine.png").unlink()
    bpy.ops.wm.open_mainfile(filepath=path)
    image = bpy.data.images["Scratch_fine.png"]
    assert images.missing([image]) == ()
    assert image.colorspace_settings.is_data
    assert np.array_equal(before, np.array(image.pixels[:256]))


def test_a_picture_that_went_away_is_named(folder):
    found = images.find(folder)
    pictures = [each.image for each in found.values()]
    assert images.missing(pictures) == ()
    (folder / "Scratch_fine.png").unlink()
    assert images.missing(pictures) == ("Scratch_fine.png",)


def test_a_first_save_makes_the_paths_relative(folder, tmp_path):
    images.find(folder)["scratches"].image.use_fake_user = True
    path = tmp_path / "build.blend"
    files.save(path)
    bpy.ops.wm.open_mainfile(filepath=str(path))
    assert bpy.data.images["Scratch_fine.png"].filepath == "//my textures/Scratch_fine.png"


def test_of_several_pictures_each_material_shows_one_whatever_else_is_in_the_build(folder):
    """One look-up a layer as with one picture: a material has groups of its own pictures."""
    for n in range(4):
        (folder / f"dust_{n}.png").write_bytes(png.encode(np.random.default_rng(n).random((32, 32))))
    materials = [bpy.data.materials.new(f"Plastic {n}") for n in range(8)]
    for each in materials:
        compat.node_tree(each)
    dusty = replace(WEAR, dust=Dust(0.5))
    attach(materials, dusty, images.find(folder), 0.001)
    shown = [{image.name for image, kind in pictures([each]).items() if kind == "dust"} for each in materials]
    assert {len(each) for each in shown} == {1}
    assert len(set.union(*shown)) > 2
    assert set(pictures(materials).values()) == set(PICTURES)
    attach(materials[3:5], dusty, images.find(folder), 0.001)
    assert shown == [{image.name for image, kind in pictures([each]).items() if kind == "dust"} for each in materials]
    there = {image.name for image in bpy.data.images}
    assert there == set.union(*shown) | {"Scratch_fine.png", "finger smudge.jpg"}, "what none shows is not kept"
    detach(materials)
    assert not bpy.data.images


def test_a_tint_is_told_from_colour_and_marks_in_alpha_from_none(tmp_path):
    """As Pillow writes them: sepia as JPEG, red marks on a green as bright, and a stencil on nothing."""
    grey = np.random.default_rng(3).integers(0, 256, (64, 64)).astype(float)
    files = {"a tint": (1.0, 0.97, 0.9), "b faint": (1.0, 0.99, 0.985), "c grey": (1.0, 1.0, 1.0)}
    for name, by in files.items():
        Image.fromarray((grey[..., None] * by).astype(np.uint8)).save(tmp_path / f"{name}.jpg", quality=95)
    marks = grey > 200
    equal = np.where(marks[..., None], (255, 0, 0), (0, 76, 0)).astype(np.uint8)
    Image.fromarray(equal).save(tmp_path / "d colour.png")
    stencil = np.zeros((64, 64, 4), np.uint8)
    stencil[..., 3] = 255 * marks
    Image.fromarray(stencil).save(tmp_path / "e stencil.png")
    told = {each.file[:1]: " ".join(each.warnings) for each in findings.survey(tmp_path, SIZES)}
    assert "It is tinted" in told["a"]
    assert "It is tinted" in told["b"]
    assert "tinted" not in told["c"]
    assert "It is in colour" in told["d"]
    assert "Its marks lie in its alpha channel" in told["e"]
    assert not any("alpha" in told[each] for each in "abcd")
