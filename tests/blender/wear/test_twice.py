"""A dial at 2 is twice as strong in what is seen, at 1 as the preset has it, at 0 clean to the bit.

What is seen: the mean change, over a face, of what the layer changes most. That is the roughness for scratches and
smudges, the colour for dust and rubbed edges, and CIEDE2000 for lots and light-aged colours.
"""

from dataclasses import replace

import bpy
import numpy as np
import pytest

from addon.core.wear import standin, strength
from addon.core.wear.layers import LAYERS, PICTURES, Dust, Fade, Rub, Scratches, Smudges, Tint, Wear
from addon.core.wear.names import SHARES_OF
from addon.core.wear.texture import Texture, levels
from tests.blender.wear.renders import (
    BLUE,
    RED,
    WHITE,
    across_the_edge,
    apart,
    lay_marks,
    look,
    picture_of,
    render,
    shining,
)

SIZE_MM, SHARES = 20.0, (0.4, 0.7, 1.0, 1.3, 1.6)
NONE = {"scratches": Scratches(), "smudges": Smudges(), "dust": Dust(), "rub": Rub(), "tint": Tint(), "fade": Fade()}
OF_GLOSS, OF_COLOUR = ("scratches", "smudges"), ("dust", "rub")
STRONG = Wear(0.4, Scratches(1.0), Smudges(0.85), Dust(0.85), Rub(0.9), Tint(2.5), Fade(12.0))


@pytest.fixture(scope="module")
def drawn_stand_ins():
    """The greys of the real stand-ins as they are seen from afar, and how they are read: what strong presets wear."""
    found = {}
    for kind, each in PICTURES.items():
        grey = each.stand_in()
        read, small = levels(grey), standin.seen_from_afar(grey)
        found[kind] = small, replace(read, twice=strength.twice(read.marks(small)))
    return found


@pytest.fixture
def seen(tmp_path, drawn_stand_ins):
    """The mean change that a layer alone makes at a dial, over bricks with all shares."""

    def images():
        return {kind: Texture(picture_of(small), read) for kind, (small, read) in drawn_stand_ins.items()}

    def measure(layer, dials, colour=RED):
        wear = replace(STRONG, **{name: none for name, none in NONE.items() if name != layer})
        brick = shining(colour, wear, "Roughness" if layer in OF_GLOSS else "Base Color", images())
        look(SIZE_MM)

        def picture():
            return across_the_edge(tmp_path) if layer == "rub" else render(tmp_path, 96, 4)[..., :3]

        def at(dial):
            bpy.context.scene["playworn_wear"] = dial
            return picture()

        found = dict.fromkeys(dials, 0.0)
        for key, share in enumerate(SHARES if LAYERS[layer].share and layer != "fade" else (1.0,)):
            for name in SHARES_OF:
                brick[name] = (share,) * 3
            lay_marks(brick, 11 * key)
            brick.update_tag()
            clean = at(0.0)
            for dial in dials:
                now = at(dial)
                if layer in ("tint", "fade"):
                    found[dial] += apart(clean.reshape(-1, 3).mean(axis=0), now.reshape(-1, 3).mean(axis=0))
                else:
                    found[dial] += float(np.abs(now - clean).mean())
        return found

    return measure


@pytest.mark.shared_out
@pytest.mark.parametrize("layer", ["scratches", "smudges", "dust", "rub", "tint"])
def test_twice_the_dial_is_twice_as_much_to_see(layer, seen):
    found = seen(layer, (0.0, 0.5, 1.0, 1.5, 2.0))
    shares = {dial: value / found[1.0] for dial, value in found.items()}
    assert shares[0.0] == 0.0
    assert shares[2.0] == pytest.approx(2.0, rel=0.08)
    assert shares[1.5] == pytest.approx(1.5, rel=0.08)
    assert list(shares.values()) == sorted(shares.values())


@pytest.mark.parametrize("colour", [RED, WHITE, BLUE], ids=["red", "white", "blue"])
def test_twice_the_dial_fades_twice_as_far(colour, seen):
    found = seen("fade", (0.0, 1.0, 1.5, 2.0), colour)
    assert found[0.0] == 0.0
    assert found[2.0] == pytest.approx(2.0 * found[1.0], rel=0.08)
    assert found[1.0] < found[1.5] < found[2.0]
