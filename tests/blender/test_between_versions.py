"""A file goes from Blender to Blender: registered properties and raw ones are one in 4.5 and two from 5.0 on.

Blender's notes on 5.0, Python API: "data storage of runtime-defined properties is split from custom properties". A
file of 4.5 opened there has both; what is taken off must be off both. `bench/versions.py` goes all ways through
several Blenders; here each Blender has what the other one would have left.
"""

import os
import subprocess
import sys
from pathlib import Path

import bpy
import numpy as np
import pytest

from addon import compat, usecases
from addon.scene import files
from addon.scene.fit import deltas, rest
from tests.blender import scenes, versioned
from tests.blender.scenes import PRESET

CHECKOUT = Path(__file__).resolve().parents[2]
DIALS = usecases.Dials(seed=7)
RECORDS = (deltas.RECORD, rest.RECORD)


@pytest.fixture(autouse=True)
def registered(extension):
    """The record of the bricks' own deltas is a registered property."""


def worn() -> bpy.types.Collection:
    """With the raw twins of the records that 5.0 makes when it opens a file of 4.5."""
    versioned.make()
    build = bpy.data.collections["build"]
    usecases.apply(build, PRESET, DIALS)
    for thing in build.objects if compat.keeps_raw_apart() else ():
        for name in RECORDS:
            thing[name] = list(getattr(thing, name))
    return build


def test_clear_takes_off_what_is_registered_and_what_is_raw():
    versioned.make()
    before = scenes.transforms(bpy.data.collections["build"].objects)
    files.new()
    build = worn()
    usecases.clear(build)
    assert scenes.transforms(build.objects) == before
    for thing in build.objects:
        assert not any(thing.is_property_set(name) for name in RECORDS)
        assert not [name for store in compat.stores(thing) for name in store.keys() if name.startswith("playworn")]  # noqa: SIM118


def test_a_dial_over_stale_raw_twins_is_that_dial():
    versioned.make()
    build = bpy.data.collections["build"]
    usecases.apply(build, PRESET, DIALS)
    usecases.dial(build, PRESET, usecases.Dials(seed=8))
    expected = scenes.transforms(build.objects)
    files.new()
    build = worn()
    usecases.dial(build, PRESET, usecases.Dials(seed=8))
    assert scenes.transforms(build.objects) == expected


def test_a_record_that_an_earlier_version_left_behind_after_clear_does_no_harm():
    """Cleared by it in 5.0, saved, and opened in 4.5, where the raw twin is read as the record again."""
    versioned.make()
    build = bpy.data.collections["build"]
    before = scenes.transforms(build.objects)
    usecases.apply(build, PRESET, DIALS)
    records = {thing.name: np.array(getattr(thing, deltas.RECORD)) for thing in build.objects}
    usecases.clear(build)
    for thing in build.objects:
        setattr(thing, deltas.RECORD, records[thing.name])
    usecases.apply(build, PRESET, usecases.Dials(seed=8))
    usecases.clear(build)
    assert scenes.transforms(build.objects) == before


def test_all_ways_through_other_blenders(tmp_path):
    """Those that PLAYWORN_PYTHONS names, one path after the other."""
    others = os.environ.get("PLAYWORN_PYTHONS", "").split(os.pathsep)
    if not any(others):
        pytest.skip("PLAYWORN_PYTHONS names no other Blender")
    run = subprocess.run(
        [sys.executable, CHECKOUT / "bench" / "versions.py", sys.executable, *others], capture_output=True, text=True
    )
    assert run.returncode == 0, run.stdout + run.stderr
