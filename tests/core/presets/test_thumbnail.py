"""Pictures that tell which look they show; the chunks are checked by the rules of the PNG standard, ISO/IEC 15948."""

import zlib
from dataclasses import replace

import numpy as np
import pytest

from addon.core.pictures import png
from addon.core.presets import thumbnail
from addon.core.presets.preset import Fit, Preset
from addon.core.wear.layers import Wear

PRESET = Preset("pier", "Rain", Fit(shift_mm=0.05), Wear(0.2), tags=("wet",))
GREY = png.encode(np.linspace(0.0, 1.0, 12).reshape(3, 4))


def chunks(picture: bytes) -> list[tuple[bytes, bytes]]:
    """Kind and data of each chunk, every checksum verified (ISO/IEC 15948, 5.3: CRC over kind and data)."""
    found, place = [], 8
    while place < len(picture):
        length = int.from_bytes(picture[place : place + 4], "big")
        kind, data = picture[place + 4 : place + 8], picture[place + 8 : place + 8 + length]
        assert int.from_bytes(picture[place + 8 + length : place + 12 + length], "big") == zlib.crc32(kind + data)
        found.append((kind, data))
        place += 12 + length
    assert place == len(picture)
    return found


def test_words_stand_in_a_chunk_of_their_own_and_nothing_else_changes():
    """ISO/IEC 15948, 5.6: IHDR comes first, IEND last; 11.3.4.3: a tEXt chunk is keyword, null, text in Latin-1."""
    told = png.told(GREY, "harbour", "high tide")
    assert [kind for kind, _ in chunks(told)] == [b"IHDR", b"tEXt", b"IDAT", b"IEND"]
    assert (b"tEXt", b"harbour\0high tide") in chunks(told)
    assert [each for each in chunks(told) if each[0] != b"tEXt"] == chunks(GREY)
    assert (png.tells(told, "harbour"), png.tells(told, "harb"), png.tells(GREY, "harbour")) == ("high tide", "", "")
    assert png.told(told, "harbour", "low tide") == png.told(GREY, "harbour", "low tide")


@pytest.mark.parametrize("end", range(0, len(GREY) + 40, 7))
def test_a_picture_cut_short_tells_its_words_or_nothing(end):
    assert png.tells(png.told(GREY, "harbour", "high tide")[:end], "harbour") in ("high tide", "")


@pytest.mark.parametrize("data", [b"", b"GIF89a", GREY[:8], GREY[:8] + b"\xff\xff\xff\xfftEXtharbour\0x"])
def test_what_is_no_picture_tells_nothing(data):
    assert png.tells(data, "harbour") == ""


def test_a_picture_is_stale_once_the_look_is_another():
    picture = thumbnail.marked(GREY, PRESET)
    assert thumbnail.shows(picture, PRESET)
    assert thumbnail.shows(picture, replace(PRESET, name="quay", note="Sun", tags=()))
    assert not thumbnail.shows(picture, replace(PRESET, fit=Fit(shift_mm=0.06)))
    assert not thumbnail.shows(picture, replace(PRESET, wear=Wear(0.3)))
    assert thumbnail.shows(GREY, PRESET), "one that tells nothing is somebody's own"


def test_a_picture_that_came_along_is_taken_for_that_of_its_preset_unless_it_tells_another():
    other = replace(PRESET, wear=Wear(0.3))
    assert thumbnail.told(thumbnail.adopted(GREY, PRESET)) == thumbnail.look(PRESET)
    assert thumbnail.adopted(thumbnail.marked(GREY, other), PRESET) == thumbnail.marked(GREY, other)


def test_the_stage_is_part_of_the_look(monkeypatch):
    picture = thumbnail.marked(GREY, PRESET)
    monkeypatch.setattr(thumbnail, "STAGE", thumbnail.STAGE + 1)
    assert not thumbnail.shows(picture, PRESET)
