"""What a texture is, from its name and its greys."""

import unicodedata

import numpy as np
import pytest

from addon.core.wear.purpose import BY_NAME, MOST, kind_of, pick
from addon.core.wear.texture import Levels, Texture, is_image, levels, seam


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


def test_only_pictures_are_picked_by_name():
    names = ["scratch_b.png", "scratch_a.jpeg", "scratches.txt", "smudge.blend"]
    assert pick(names, "scratches") == ("scratch_a.jpeg", "scratch_b.png")
    assert pick(names, "smudges") == ()
    assert all(is_image(name) for name in ("a.PNG", "a.webp", "a.tiff"))
    assert not any(is_image(name) for name in ("a.psd", "png", "notes.txt"))


def test_what_was_chosen_by_hand_goes_over_names_and_comes_first():
    names = ["dust_1.png", "dust_2.png", "wood.png"]
    chosen = {"wood.png": "dust", "dust_1.png": "other", "gone.png": "smudges"}
    assert kind_of("wood.png", chosen) == "dust"
    assert kind_of("dust_1.png", chosen) is None
    assert pick(names, "dust", chosen) == ("wood.png", "dust_2.png")
    assert pick(names, "smudges", chosen) == ()
    assert pick([f"dust_{n}.png" for n in range(9)], "dust", BY_NAME) == tuple(f"dust_{n}.png" for n in range(MOST))


def test_of_several_pictures_each_material_shows_one_and_keeps_it_when_others_come():
    """Rendezvous hashing: where one of n + 1 is new, a material stays with its own or goes to the new one."""
    materials = [f"Plastic {n}" for n in range(1000)]
    three, four = (Texture(0, all_by_name={f"dust_{n}.png": Texture(n) for n in range(count)}) for count in (3, 4))
    before, after = ([several.on(name).image for name in materials] for several in (three, four))
    assert all(now in (was, 3) for was, now in zip(before, after, strict=True))
    shares = [after.count(n) / len(after) for n in range(4)]
    assert shares == pytest.approx([0.25] * 4, abs=0.06)  # some four times the deviation of 1000 draws
    assert Texture(7).on("Plastic 1") == Texture(7)


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
