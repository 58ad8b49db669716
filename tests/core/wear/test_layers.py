"""What the layers declare, held against a table by hand, and that what is declared holds together."""

from dataclasses import fields, replace

import numpy as np
import pytest

from addon.core.presets.rules import numbers
from addon.core.wear import layers, marking, names, standin, tint
from addon.core.wear.layers import LAYERS, PICTURES, SHARES, Wear
from addon.core.wear.quality import QUALITIES
from tests.core.wear.by_hand import BY_HAND, SOCKETS, WORN


def test_every_layer_has_a_row_by_hand():
    assert list(BY_HAND) == list(LAYERS)


@pytest.mark.parametrize("name", BY_HAND)
def test_the_strength_of_a_layer_is_what_dials_multiply(name):
    by_hand, declared = BY_HAND[name], LAYERS[name]
    assert layers.strength(WORN, name) == by_hand.strength
    assert (declared.unit, declared.socket) == (by_hand.unit, next(iter(by_hand.sockets), ""))


@pytest.mark.parametrize("name", BY_HAND)
def test_how_far_dials_take_a_layer_is_as_by_hand(name):
    """That a brick shows it so, tests/blender/wear/test_layers.py tells by renders."""
    by_hand, declared = BY_HAND[name], LAYERS[name]
    assert (declared.clips, not declared.ends_as_declared) == (by_hand.clips, by_hand.past_the_preset)
    assert (declared.share is None, declared.needs != "") == (by_hand.share is None, by_hand.left_out)


def test_each_value_has_a_socket_of_its_own_or_something_is_worked_out_from_it():
    assert layers.sockets(WORN) == SOCKETS
    assert [path for path, rule in numbers(Wear) if not rule.socket] == ["tint.delta_e", "fade.delta_e"]


@pytest.mark.parametrize("place", ["on_glass", "on_coats"])
def test_no_dust_lies_in_glass_and_no_coat_comes_from_a_mould(place):
    gone = {
        name: replace(each.record, **{LAYERS[name].strength: 0.0})
        for name, each in BY_HAND.items()
        if not getattr(each, place)
    }
    assert gone
    assert layers.lying(WORN, on_glass=place == "on_glass", on_coat=place == "on_coats") == replace(WORN, **gone)
    assert layers.lying(WORN, on_glass=False, on_coat=False) == WORN


def test_a_layer_that_is_gone_in_some_places_has_a_socket_for_its_strength():
    """Nothing else could take it to zero there."""
    for each in LAYERS.values():
        if each.needs or not (each.on_glass and each.on_coats):
            assert each.socket
        assert not each.needs or all(isinstance(getattr(tier, each.needs), bool) for tier in QUALITIES.values())


def test_what_is_not_shown_has_no_socket():
    shown = frozenset(name for name, each in BY_HAND.items() if each.left_out)
    fine = {name for each in BY_HAND.values() for name in each.fine}
    assert layers.left_out(fine=True, shown=shown) == frozenset()
    assert layers.left_out(fine=False, shown=shown) == fine == {"Scratch depth", "Warp", "Sink"}
    for name in shown:
        assert layers.left_out(fine=True, shown=shown - {name}) == BY_HAND[name].sockets.keys()


@pytest.mark.parametrize("kind", [name for name, each in BY_HAND.items() if each.default_mm])
def test_a_picture_has_a_real_size(kind):
    (size,) = (each.default for each in fields(BY_HAND[kind].record) if each.name == "size_mm")
    assert size == BY_HAND[kind].default_mm
    assert kind in PICTURES


def test_stand_ins_are_drawn_at_the_sizes_that_a_preset_gives_them():
    drawn = [standin.SCRATCHES_SIZE_MM, standin.SMUDGES_SIZE_MM, standin.DUST_SIZE_MM]
    assert [getattr(Wear(), kind).size_mm for kind in ("scratches", "smudges", "dust")] == drawn


def test_a_word_tells_of_one_kind_alone():
    words = [word for each in PICTURES.values() for word in (*each.words, *each.further_words)]
    assert len(words) == len(set(words))


def test_each_draw_of_a_brick_has_a_channel_of_its_own():
    used = [*marking._OFFSET, marking._TURN, tint._CHANNEL, *(each.channel for each in SHARES.values())]
    assert len(used) == len(set(used))
    assert all(each.least > 0.0 for each in SHARES.values())


def test_bricks_of_files_made_before_keep_their_shares():
    """Of two keys, to the bit: scratches and rub as the version that had three layers with shares gave them, fade
    since lots of one colour keep differently well."""
    found = marking.shares(np.array([37, 2**63 + 5], dtype=np.uint64))[:, :3]
    assert list(SHARES)[:3] == ["scratches", "rub", "fade"]
    before = [
        ["0x1.8617638eaa892p+0", "0x1.11dcdfd941e8ep+0", "0x1.7f4dbd3239082p-1"],
        ["0x1.71ede6b60fb94p+0", "0x1.c7ebdb06e9662p-1", "0x1.042a253ca7c28p-1"],
    ]
    assert [[value.hex() for value in row] for row in found.tolist()] == before


def test_files_made_before_are_read_by_the_same_names():
    assert (names.SHARES_OF[0], names.OFFSET, names.TURN, names.LOT, names.WEAR) == (
        "playworn_share", "playworn_offset", "playworn_turn", "playworn_lot", "playworn_wear",
    )  # fmt: skip
    assert {name: f"playworn_more_{name}" for name in BY_HAND} == names.MORE
    assert (names.SPOT, names.OWN_MORE, names.PLACE, names.COPIED_COLOUR, names.SWATCHES) == (
        "playworn_spot", "playworn_more", "playworn_place", "playworn_copied_colour", "playworn_swatches",
    )  # fmt: skip
    for name, pair in (("unreached", names.UNREACHED), ("sheltered", names.SHELTERED), ("unlit", names.UNLIT)):
        assert pair == (f"playworn_{name}", f"playworn_{name}_up")


def test_what_covers_is_never_more_than_all_of_a_brick_and_an_edge_can_be_rubbed_deeper():
    """Whatever a brick's share: a film or a line on all of it is all there is of it."""
    assert [name for name, share in SHARES.items() if not share.is_full] == ["rub"]


def test_what_the_mould_gave_stays_on_a_brick_that_is_new():
    assert [layer for layer, about in LAYERS.items() if not about.of_use] == ["tint", "finish"]
