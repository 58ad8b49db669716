"""Spoiled presets, bundles, pictures and properties of ours: taken, or refused in one sentence with nothing left.

The first of those that bench/hostile.py makes by the thousand.
"""

import os
import struct
import time
import zlib

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.errors import PlaywornError, TextureProblem
from addon.core.pictures import png
from addon.scene.wear import images
from bench import hostile, kills

LOOKS = {
    "preset": hostile.look_at_preset,
    "bundle": hostile.take_in,
    "own": hostile.take_in,
    "picture": hostile.look_at_picture,
    "kept": hostile.look_at_kept,
}
MANY = {"preset": 30, "bundle": 30, "own": 30, "picture": 15, "kept": 10}
KILLS = 3


@pytest.mark.shared_out
@pytest.mark.parametrize("kind", MANY)
@pytest.mark.usefixtures("extension")
def test_each_is_taken_or_refused_in_a_sentence(kind, tmp_path, monkeypatch):
    monkeypatch.setenv(hostile.OWN, str(tmp_path))
    paths = hostile.spoil(kind, MANY[kind], "test", tmp_path)
    sentences = []
    for path in paths:
        begun = time.process_time()
        try:
            LOOKS[kind](path)
        except PlaywornError as problem:
            sentences.append(str(problem))
        assert time.process_time() - begun < 30
    assert 0 < len(sentences) < MANY[kind]
    assert not [words for words in sentences if "\n" in words or "Traceback" in words]


def folder_of(tmp_path, content):
    (tmp_path / "scratches.png").write_bytes(content)
    return tmp_path


@pytest.mark.parametrize("sides", [(60_000, 60_000), (2**31 - 1, 2**31 - 1), (20_000, 1), (0, 0)])
def test_a_picture_that_says_it_is_huge_takes_no_room(sides, tmp_path):
    whole = png.encode(np.zeros((4, 4)))
    head = b"IHDR" + struct.pack(">II", *sides) + whole[24:29]
    spoiled = whole[:12] + head + struct.pack(">I", zlib.crc32(head)) + whole[33:]
    with pytest.raises(TextureProblem, match="pixels"):
        images.find(folder_of(tmp_path, spoiled))
    assert len(bpy.data.images) == 0
    (told,) = usecases.survey_textures(tmp_path, usecases.find_preset("fresh"))
    assert not told.is_read


def test_half_a_picture_is_refused(tmp_path):
    whole = png.encode(np.random.default_rng(0).random((64, 64)))
    with pytest.raises(TextureProblem, match="is cut"):
        images.find(folder_of(tmp_path, whole[:-60]))


def test_a_folder_with_the_name_of_a_picture_is_none(tmp_path):
    (tmp_path / "scratches.png").mkdir()
    with pytest.raises(TextureProblem, match="holds no PNG"):
        images.find(tmp_path)
    (tmp_path / "dust.png").write_bytes(png.encode(np.random.default_rng(0).random((64, 64))))
    assert "Playworn" in images.find(tmp_path)["scratches"].image.name  # a stand-in


def test_a_picture_goes_by_what_it_is_and_not_by_its_suffix(tmp_path):
    (tmp_path / "scratches.jpg").write_bytes(png.encode(np.random.default_rng(0).random((64, 64))))
    assert images.find(tmp_path)["scratches"].image.size[0] == 64


@pytest.mark.shared_out
@pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are ended by SIGKILL")
def test_a_command_that_is_killed_leaves_the_old_or_the_new(tmp_path):
    """A smaller cousin of bench/kills.py, and of tests/core/presets/test_kills.py without the command around it."""
    kills.start_presets(tmp_path)
    (job,) = (job for job in kills.JOBS if job.name == "bundle")
    counted, wrong = kills.chain(job, tmp_path, KILLS, 0)
    assert wrong == []
    assert counted["kills"] + counted["done before"] == KILLS
    assert counted["in writing"]
    assert counted["left"] == 0
