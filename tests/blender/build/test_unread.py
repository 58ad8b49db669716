"""What of a build cannot be read is left alone with the reason, and the rest of it is a build as ever."""

import subprocess
import sys
import warnings
from pathlib import Path

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.scene.build.build import read
from tests.blender import scenes

CHECKOUT = Path(__file__).resolve().parents[3]
pytestmark = pytest.mark.usefixtures("extension")
NAN, INFINITE = float("nan"), float("inf")
NUMBER, PLACE, CORNER = "is no number", "a place that is no number", "corners that it does not have"


def own_mesh(thing):
    thing.data = thing.data.copy()
    return thing.data


def vertex(thing, value):
    own_mesh(thing).vertices[0].co.x = value


def beyond(thing, number):
    mesh = own_mesh(thing)
    corners = np.empty(len(mesh.loops), np.int32)
    mesh.loops.foreach_get("vertex_index", corners)
    corners[0] = number
    mesh.loops.foreach_set("vertex_index", corners)


def hung(thing, change):
    parent = bpy.data.objects.new("parent", None)
    bpy.context.scene.collection.objects.link(parent)
    thing.parent = parent
    change(parent)


SPOILED = {
    "vertex not a number": (lambda thing: vertex(thing, NAN), NUMBER),
    "vertex infinite": (lambda thing: vertex(thing, -INFINITE), NUMBER),
    "vertex beyond all": (lambda thing: vertex(thing, 3e38), NUMBER),
    "corner beyond the vertices": (lambda thing: beyond(thing, 99_999), CORNER),
    "corner before the vertices": (lambda thing: beyond(thing, -5), CORNER),
    "place not a number": (lambda thing: setattr(thing.location, "x", NAN), PLACE),
    "place infinite": (lambda thing: setattr(thing.location, "y", INFINITE), PLACE),
    "scale infinite": (lambda thing: setattr(thing.scale, "z", INFINITE), PLACE),
    "turn not a number": (lambda thing: setattr(thing.rotation_euler, "z", NAN), PLACE),
    "delta not a number": (lambda thing: setattr(thing.delta_location, "z", NAN), PLACE),
    "parent not a number": (lambda thing: hung(thing, lambda parent: setattr(parent.location, "x", NAN)), PLACE),
}


def is_quiet() -> warnings.catch_warnings:
    return warnings.catch_warnings(action="error")


@pytest.mark.parametrize("what", SPOILED)
def test_it_is_left_alone_and_numpy_says_nothing(what):
    build = scenes.wall()
    spoil, words = SPOILED[what]
    thing = build.objects[3]
    spoil(thing)
    with is_quiet():
        told = usecases.inspect(build)
        assert told.bricks == len(build.objects) - 1
        assert [each.object for each in told.left_out] == [thing.name]
        assert words in told.left_out[0].reason
        applied = usecases.apply(build, usecases.find_preset("well-loved"), usecases.Dials(1))
        assert applied.bricks == told.bricks
        assert thing.name in [each.object for each in applied.skipped]
        usecases.check(build)
        assert usecases.clear(build).bricks > 0


def test_where_nothing_can_be_read_it_is_no_build():
    build = scenes.wall(2, 2)
    for thing in build.objects:
        thing.location.x = NAN
    told = usecases.inspect(build)
    assert (told.bricks, len(told.left_out)) == (0, len(build.objects))


def test_one_that_is_scaled_to_nothing_is_quiet_too():
    build = scenes.wall()
    hung(build.objects[3], lambda parent: setattr(parent, "scale", (0, 0, 0)))
    with is_quiet():
        assert len(read(build).bricks) == len(build.objects) - 1


def test_the_command_line_shows_no_line_of_code(tmp_path):
    build = scenes.wall()
    build.objects[3].location.x = NAN
    vertex(build.objects[4], NAN)
    usecases.save(tmp_path / "spoiled.blend")
    words = [sys.executable, "-m", "addon", "apply", tmp_path / "spoiled.blend", "--preset", "fresh", "--out",
             tmp_path / "worn.blend"]  # fmt: skip
    done = subprocess.run(words, cwd=CHECKOUT, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    assert NUMBER in done.stdout
    assert not [line for line in done.stderr.splitlines() if " %  " not in line[:7]]
