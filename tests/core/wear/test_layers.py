"""What the layers declare, by hand, and that what is declared holds together."""

from dataclasses import fields, replace

import numpy as np
import pytest

from addon.core.presets.rules import numbers
from addon.core.wear import layers, marking, names, standin, tint
from addon.core.wear.layers import LAYERS, PICTURES, SHARES, Dust, Fade, Finish, Rub, Scratches, Smudges, Tint, Wear
from addon.core.wear.quality import QUALITIES

WORN = Wear(
    0.11, Scratches(0.21, 31.0, 4.1), Smudges(0.22, 32.0), Dust(0.23, 33.0), Rub(0.24), Tint(1.5), Fade(2.6),
    Finish(0.27),
)  # fmt: skip
STRENGTH = {
    "scratches": 0.21, "smudges": 0.22, "dust": 0.23, "rub": 0.24, "tint": 1.5, "fade": 2.6, "finish": 0.27,
}  # fmt: skip


def test_the_strength_of_a_layer_is_what_dials_multiply():
    assert {name: layers.strength(WORN, name) for name in LAYERS} == STRENGTH
    assert [each.unit for each in LAYERS.values()] == ["", "", "", "", "ΔE", "ΔE", ""]


def test_each_value_has_a_socket_of_its_own_or_something_is_worked_out_from_it():
    by_hand = {
        "Rounding": 0.11, "Scratch amount": 0.21, "Scratch size": 31.0, "Scratch depth": 4.1, "Smudge amount": 0.22,
        "Smudge size": 32.0, "Dust amount": 0.23, "Dust size": 33.0, "Rub amount": 0.24, "Finish amount": 0.27,
    }  # fmt: skip
    assert layers.sockets(WORN) == by_hand
    assert [path for path, rule in numbers(Wear) if not rule.socket] == ["tint.delta_e", "fade.delta_e"]
    assert {name: each.socket for name, each in LAYERS.items() if each.socket} == {
        "scratches": "Scratch amount",
        "smudges": "Smudge amount",
        "dust": "Dust amount",
        "rub": "Rub amount",
        "finish": "Finish amount",
    }


def test_no_dust_lies_in_glass_and_no_coat_comes_from_a_mould():
    assert layers.lying(WORN, on_glass=False, on_coat=False) == WORN
    assert layers.lying(WORN, on_glass=True, on_coat=False) == replace(WORN, dust=Dust(0.0, 33.0))
    assert layers.lying(WORN, on_glass=False, on_coat=True) == replace(WORN, finish=Finish(0.0))


def test_a_layer_that_lies_in_some_places_only_or_needs_a_quality_has_a_socket_for_its_strength():
    """Nothing else could take it to zero there."""
    for each in LAYERS.values():
        if each.needs or not (each.on_glass and each.on_coats):
            assert each.socket
        assert not each.needs or all(isinstance(getattr(tier, each.needs), bool) for tier in QUALITIES.values())


def test_what_is_not_shown_has_no_socket():
    assert layers.left_out(fine=True, shown=frozenset({"dust"})) == frozenset()
    assert layers.left_out(fine=False, shown=frozenset({"dust"})) == {"Scratch depth"}
    assert layers.left_out(fine=True, shown=frozenset()) == {"Dust amount", "Dust size"}


@pytest.mark.parametrize("kind", PICTURES)
def test_a_picture_has_a_real_size_at_which_its_stand_in_is_drawn(kind):
    size = next(each for each in fields(LAYERS_RECORDS[kind]) if each.name == "size_mm")
    assert size.default == getattr(standin, f"{kind.upper()}_SIZE_MM")


LAYERS_RECORDS = {each.name: each.type for each in fields(Wear)}


def test_a_word_tells_of_one_kind_alone():
    words = [word for each in PICTURES.values() for word in each.words]
    assert len(words) == len(set(words))


def test_each_draw_of_a_brick_has_a_channel_of_its_own():
    used = [*marking._OFFSET, marking._TURN, tint._CHANNEL, *(each.channel for each in SHARES.values())]
    assert len(used) == len(set(used))
    assert all(each.least > 0.0 and each.span >= 0.0 for each in SHARES.values())


def test_bricks_of_files_made_before_keep_their_shares():
    """Of two keys, to the bit, as the version that had three layers with shares gave them."""
    found = marking.shares(np.array([37, 2**63 + 5], dtype=np.uint64))
    assert list(SHARES) == ["scratches", "rub", "fade"]
    before = [
        ["0x1.8617638eaa892p+0", "0x1.11dcdfd941e8ep+0", "0x1.c49a088d55663p-1"],
        ["0x1.71ede6b60fb94p+0", "0x1.c7ebdb06e9662p-1", "0x1.8bc4aeb988812p-1"],
    ]
    assert [[value.hex() for value in row] for row in found.tolist()] == before


def test_files_made_before_are_read_by_the_same_names():
    assert (names.SHARES_OF, names.OFFSET, names.TURN, names.LOT, names.WEAR) == (
        ("playworn_share",), "playworn_offset", "playworn_turn", "playworn_lot", "playworn_wear",
    )  # fmt: skip
    assert {name: f"playworn_more_{name}" for name in STRENGTH} == names.MORE
