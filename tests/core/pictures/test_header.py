"""Sizes as Pillow writes them, cuts, and headers that ask for more than there is."""

import io
import struct
import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from addon.core.pictures import header, png

WAYS = {
    "png": ("PNG", {}),
    "jpeg": ("JPEG", {}),
    "progressive jpeg": ("JPEG", {"progressive": True}),
    "tiff": ("TIFF", {}),
    "packed tiff": ("TIFF", {"compression": "tiff_lzw"}),
    "big tiff": ("TIFF", {"big_tiff": True}),
    "webp": ("WEBP", {}),
    "lossless webp": ("WEBP", {"lossless": True}),
    "webp with more": ("WEBP", {"exif": b"Exif\0\0abcd"}),
}


def made(way: str) -> bytes:
    form, options = WAYS[way]
    grey = (np.random.default_rng(0).random((70, 133, 3)) * 255).astype(np.uint8)
    content = io.BytesIO()
    Image.fromarray(grey).save(content, form, **options)
    return content.getvalue()


def exr(right: int, high: int) -> bytes:
    """The head of one, by the file layout that OpenEXR publishes."""
    window = struct.pack("<iiii", 0, 0, right, high)
    return header.EXR + b"\2\0\0\0" + b"dataWindow\0box2i\0\x10\0\0\0" + window + b"\0"


@pytest.mark.parametrize("way", WAYS)
def test_the_size_is_pillow_s(way):
    assert header.size(made(way)) == (133, 70)
    assert header.fault(made(way)) == ""


def test_the_size_of_an_exr_goes_to_its_last_pixel():
    assert header.size(exr(132, 69)) == (133, 70)


@pytest.mark.parametrize("way", WAYS)
def test_one_that_ends_in_its_header_is_refused(way):
    assert header.fault(made(way)[:14])


@pytest.mark.parametrize("way", [way for way in WAYS if "tiff" not in way])
@pytest.mark.parametrize("share", [0.4, 0.9, 0.99])
def test_one_that_is_cut_is_refused(way, share):
    whole = made(way)
    assert header.fault(whole[: int(share * len(whole))]) == "is cut"


def test_a_jpeg_with_a_small_one_in_its_header_is_cut_all_the_same():
    whole, small = made("jpeg"), made("progressive jpeg")[:4000] + b"\xff\xd9"
    block = b"\xff\xe1" + struct.pack(">H", len(small) + 2) + small
    assert header.fault(whole[:2] + block + whole[2:]) == ""
    assert header.fault(whole[:2] + block + whole[2:-900]) == "is cut"


@pytest.mark.parametrize("sides", [(0, 5), (5, 0), (20_000, 4), (16_384, 16_384), (2**31 - 1, 2**31 - 1)])
def test_a_size_that_nobody_works_with_is_refused(sides):
    whole = png.encode(np.zeros((4, 4)))
    head = b"IHDR" + struct.pack(">II", *sides) + whole[24:29]
    spoiled = whole[:12] + head + struct.pack(">I", zlib.crc32(head)) + whole[33:]
    assert header.size(spoiled) == sides
    assert "pixels" in header.fault(spoiled)
    assert "pixels" in header.fault(exr(sides[0] - 1, sides[1] - 1))


@given(st.sampled_from(list(WAYS)), st.data())
def test_any_header_gets_an_answer(way, data):
    whole = bytearray(made(way)[:2000])
    for _ in range(data.draw(st.integers(1, 6))):
        whole[data.draw(st.integers(8, min(len(whole), 200) - 1))] = data.draw(st.integers(0, 255))
    assert isinstance(header.fault(bytes(whole[: data.draw(st.integers(12, len(whole)))])), str)
