"""What a texture is, from its name and its greys."""

import unicodedata

import numpy as np
import pytest

from addon.core.wear.texture import Levels, is_image, kind_of, levels, pick, seam


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("Scratches_01.png", "scratches"),
        ("plastic-hairlines 4k.TIF", "scratches"),
        ("FingerSmudge.exr", "smudges"),
        ("desk-dust_02.png", "dust"),
        ("thumb_prints_b.webp", "smudges"),
        ("fingerprint_scratches.png", "scratches"),
        ("MICROSCRATCH.JPG", "scratches"),
        ("Staubkratzer_fein.png", "scratches"),
        ("FINGERABDRÜCKE 8K.png", "smudges"),
        (unicodedata.normalize("NFD", "Poussière-légère.png"), "dust"),  # as a Mac keeps it
        ("rasguños_profundos.tif", "scratches"),
        ("pył_01.png", "dust"),
        ("царапины2.png", "scratches"),
        ("金属划痕_4k.png", "scratches"),
        ("ほこりと指紋.png", "smudges"),
        ("dustmap8k.exr", "dust"),
        ("PBRDust.png", "dust"),
        ("scratch2smudge.png", "smudges"),
        ("woodscratches.png", "scratches"),
        ("finemicroscratches01.png", "scratches"),
        ("industrial_wall.png", None),
        ("stainless-steel.jpg", None),
        ("blueprint.png", None),
        ("sprinter.png", None),
        ("splinter_wood.png", None),
        ("inspector.png", None),
        ("newsprint.png", None),
        ("windswiped.png", None),
        ("kurz.png", None),
        ("concrete.png", None),
        ("scratches/wood.png", None),
        ("04.png", None),
    ],
)
def test_the_name_tells_the_kind(name, kind):
    assert kind_of(name) == kind


def test_only_pictures_are_picked_and_the_first_by_name_wins():
    names = ["scratch_b.png", "scratch_a.jpeg", "scratches.txt", "smudge.blend"]
    assert pick(names, "scratches") == "scratch_a.jpeg"
    assert pick(names, "smudges") is None
    assert all(is_image(name) for name in ("a.PNG", "a.webp", "a.tiff"))
    assert not any(is_image(name) for name in ("a.psd", "png", "notes.txt"))


@pytest.mark.parametrize(("ground", "mark"), [(0.8, 0.1), (0.2, 0.9), (1.0, 0.0)])
def test_marks_are_read_whichever_way_round_the_picture_is(ground, mark):
    grey = np.full((200, 200), ground)
    grey[:, :10] = mark
    read = levels(grey)
    assert (read.clean, read.marked) == pytest.approx((ground, mark))


def test_a_flat_picture_has_no_marks():
    read = levels(np.full((64, 64), 0.3))
    assert (0.3 - read.clean) / (read.marked - read.clean) == pytest.approx(0.0)
    assert Levels() == Levels(clean=0.0, marked=1.0)


def test_seam_of_a_whole_number_of_waves_is_one_and_of_a_ramp_is_large():
    # Closed forms: a triangle wave over whole periods steps by the same amount everywhere, the join included;
    # a ramp of n steps falls back by n - 1 of them at its join.
    n = 64
    triangle = np.abs((np.arange(n) % 16) - 8.0)
    assert seam(triangle[:, None] + triangle[None, :]) == pytest.approx(1.0)
    ramp = np.broadcast_to(np.arange(n, dtype=float), (n, n))
    assert seam(ramp) == pytest.approx(n - 1)
