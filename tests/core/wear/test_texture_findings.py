"""What is told of a picture, and how all pictures come out equally strong."""

import numpy as np
import pytest

from addon.core.wear import findings, strength
from addon.core.wear.layers import PICTURES
from addon.core.wear.purpose import STOOD_IN, uses
from addon.core.wear.texture import Levels, is_picture, levels

SIZES = {"scratches": 40.0, "smudges": 60.0, "dust": 30.0}


def lines(side=1024, every=64, width=4, ground=0.9, mark=0.1):
    grey = np.full((side, side), ground, np.float32)
    for row in range(every // 2, side, every):
        grey[row : row + width] = mark
    return grey


def told(file, grey, bits=16, **aside):
    return findings.findings(file, grey, bits, findings.Aside(**aside), SIZES)


def test_a_good_picture_is_measured_and_has_no_warning():
    facts = told("scratches.png", lines())
    assert facts.warnings == ()
    assert (facts.width_px, facts.height_px, facts.kind, facts.looks_like) == (1024, 1024, "scratches", "scratches")
    assert (facts.level_1, facts.level_50, facts.level_99) == pytest.approx((0.1, 0.9, 0.9))
    assert facts.mark_px == pytest.approx(4.0, rel=0.02)
    assert facts.mark_mm == pytest.approx(4.0 * 40.0 / 1024, rel=0.02)
    assert min(facts.direction_deg, 180.0 - facts.direction_deg) < 1.0
    assert "marks 4.0 px wide, 0.156 mm, running at 0°" in facts.sentence.replace("180°", "0°")


RAMP = np.broadcast_to(np.linspace(0.0, 1.0, 1024, dtype=np.float32), (1024, 1024))
WARNED = {
    "8 bits deep": ("scratches.png", lines(), {"bits": 8}),
    "in colour": ("scratches.png", lines(), {"coloured": 0.1, "tinted": 0.1}),
    "tinted": ("scratches.png", lines(), {"tinted": 0.01}),
    "There is more in its alpha channel": ("scratches.png", lines(), {"alpha": 0.5}),
    "Its marks lie in its alpha channel": ("scratches.png", np.zeros((64, 64), np.float32), {"alpha": 0.5}),
    "edges do not meet (seam": ("smudges.png", RAMP, {}),
    "too coarse for 40 mm: a texel is 78 µm and its marks come out 0.31 mm wide; give it a size of at most 20 mm": (
        "scratches.png",
        lines(512),
        {},
    ),
    "It is flat": ("scratches.png", np.full((1024, 1024), 0.4, np.float32), {}),
    "name tells of dust, it looks like scratches": ("dust.png", lines(), {}),
    "does not tell what it is for; it looks like scratches": ("04.png", lines(), {}),
    "it looks like something else": ("dust.png", np.random.default_rng(0).random((1024, 1024)), {}),
    "so few or faint": ("scratches.png", lines(every=1024, width=2), {}),
}


@pytest.mark.parametrize("words", WARNED)
def test_what_is_wrong_is_told_in_a_sentence(words):
    file, grey, other = WARNED[words]
    (found,) = [each for each in told(file, grey, **other).warnings if words in each]
    assert found.endswith(".")


def test_a_flat_picture_is_told_once():
    assert len(told("scratches.png", np.full((64, 64), 0.4, np.float32)).warnings) == 1


def test_no_kind_no_size_in_millimetres():
    assert told("04.png", lines()).mark_mm is None
    assert not findings.unreadable("dust.png").is_read


def blots(seed, share, ground, mark):
    """Specks of every strength on a share of the pixels."""
    draw = np.random.default_rng(seed)
    spots = draw.random((1024, 1024)) < share
    return np.where(spots, ground + (mark - ground) * draw.random((1024, 1024)), ground).astype(np.float32)


@pytest.mark.parametrize("kind", PICTURES)
def test_pictures_as_different_as_can_be_come_out_equally_strong(kind):
    dense, sparse = blots(0, 0.45, 1.0, 0.2), blots(1, 0.3, 0.1, 0.9)
    found = []
    for grey in (dense, sparse):
        read = levels(grey)
        read = strength.equalised(read, grey, kind)
        found.append(strength.strength(read.marks(grey)))
    assert found[0] == pytest.approx(found[1], rel=0.02)
    assert found[0] == pytest.approx(PICTURES[kind].strength, rel=0.02)


@pytest.mark.shared_out
@pytest.mark.parametrize("kind", PICTURES)
def test_the_stand_ins_are_the_measure_of_the_rest(kind):
    grey = PICTURES[kind].stand_in()
    assert strength.strength(levels(grey).marks(grey)) == pytest.approx(PICTURES[kind].strength, rel=0.01)
    assert strength.gain(levels(grey).marks(grey), kind) == pytest.approx(1.0, rel=0.02)


@pytest.mark.parametrize("kind", PICTURES)
def test_a_picture_says_what_makes_it_twice_as_strong(kind):
    grey = blots(3, 0.3, 0.1, 0.9)
    read = strength.equalised(levels(grey), grey, kind)
    once = read.marks(grey)
    most = np.minimum(strength.LARGEST_GAIN * once, 1.0).mean()  # where few pixels have any mark
    assert np.minimum(read.twice * once, 1.0).mean() == pytest.approx(min(2.0 * once.mean(), most), rel=0.01)
    assert strength.twice(np.zeros((8, 8))) == 2.0
    assert strength.twice((np.arange(64) < 8.0).astype(float)) == pytest.approx(strength.LARGEST_GAIN)  # all are full


def test_an_empty_picture_is_left_as_it_is():
    assert strength.gain(np.zeros((8, 8)), "scratches") == 1.0
    assert strength.gain(np.ones((8, 8)), "other") == 1.0


@pytest.mark.parametrize(
    "read", [Levels(0.0, 1.0), Levels(0.9, 0.1), Levels(-1.0, 2.0), Levels(3.0, 1.0), Levels(0, -1)]
)
def test_greys_stay_themselves_and_magenta_is_clean(read):
    greys = np.linspace(-2.0, 4.0, 13)[:, None] * np.ones(3)
    assert greys @ read.weights == pytest.approx(greys[:, 0])
    assert read.marks(np.array((1.0, 0.0, 1.0)) @ read.weights) == 0.0


def test_each_picture_of_a_folder_is_used_or_left_with_a_reason():
    several = [f"scratch_{letter}.png" for letter in "abcde"]
    found = uses([*several, "notes.txt", "wood.jpg", "smudge.tif", "old.png"], {"old.png": "other"})
    brought = {"scratches": several[:4], "smudges": ["smudge.tif"]}
    assert [(each.layer, each.picture) for each in found] == [
        *((kind, name) for kind in PICTURES for name in brought.get(kind, [STOOD_IN])),
        ("", "old.png"),
        ("", "scratch_e.png"),
        ("", "wood.jpg"),
    ]
    assert [each.picture for each in found if not each.reason] == [*several[:4], "smudge.tif"]
    assert [each.reason for each in found[-3:]] == [
        "left out by hand",
        "4 others serve as scratches, the first by name",
        "its name does not tell what it is for",
    ]


def test_what_was_chosen_by_hand_is_told_as_such_and_no_name_is_blamed():
    facts = findings.findings("wood.png", lines(), 16, findings.Aside(), SIZES, {"wood.png": "dust"})
    assert (facts.kind, facts.by_hand) == ("dust", True)
    assert not any("name" in warning for warning in facts.warnings)
    assert "by hand it is dust, it looks like scratches." in facts.sentence
    assert facts.mark_mm == pytest.approx(4.0 * SIZES["dust"] / 1024, rel=0.02)


@pytest.mark.parametrize("form", ["PNG", "TIFF", "JPEG", "WEBP"])
def test_the_signatures_are_those_that_pillow_writes(form, tmp_path):
    from PIL import Image

    Image.new("RGB", (4, 4)).save(tmp_path / "picture", form)
    assert is_picture((tmp_path / "picture").read_bytes()[:12])
    assert not is_picture(b"no picture at all")
    assert not is_picture(b"")
