"""What a brick is measured by once its rounded mesh was changed: the part's mesh, as long as its body is the part's."""

from pathlib import Path

import bmesh
import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.wear.quality import GEOMETRY, SHADING
from addon.scene.exports.forms import points_of
from addon.scene.wear import originals
from bench.ways.workshop import workshop
from tests.blender import scenes
from tests.blender.build import versions
from tests.blender.wear import hands

pytestmark = pytest.mark.usefixtures("extension")


@pytest.fixture(scope="module")
def textures(tmp_path_factory) -> Path:
    return scenes.textures(tmp_path_factory.mktemp("textures"))


def cut(thing: bpy.types.Object, how) -> None:
    """Works on the faces of an object's mesh."""
    work = bmesh.new()
    work.from_mesh(thing.data)
    how(work)
    work.to_mesh(thing.data)
    work.free()


def subdivided(work) -> None:
    bmesh.ops.subdivide_edges(work, edges=work.edges, cuts=1, use_grid_fill=True)


def triangulated(work) -> None:
    bmesh.ops.triangulate(work, faces=work.faces)


def raised(work) -> None:
    """The studs grow by a millimetre."""
    top = max(vert.co.z for vert in work.verts)
    for vert in work.verts:
        vert.co.z += hands.MM * (vert.co.z > top - 0.5 * hands.MM)


def measured_by(thing: bpy.types.Object) -> bpy.types.ID | None:
    return originals.originals([thing])[0][0]


def test_faces_cut_otherwise_leave_the_body_and_work_on_it_does_not(textures):
    build = scenes.wall(2, 2)
    bricks = list(build.objects)[:4]
    hands.single(bricks)
    dials = usecases.Dials(textures=textures, rounding=GEOMETRY)
    usecases.apply(build, scenes.PRESET, dials)
    parts = [originals.original(thing.data) for thing in bricks]
    for thing, how in zip(bricks, (subdivided, triangulated, raised), strict=False):
        cut(thing, how)
    usecases.dial(build, scenes.PRESET, dials)
    assert [measured_by(thing) for thing in bricks] == [parts[0], parts[1], bricks[2].data, parts[3]]
    usecases.clear(build)
    assert [originals.is_changed(thing.data) for thing in bricks] == 4 * [False]
    assert hands.of_ours() == []


@pytest.mark.shared_out
def test_an_update_knows_a_brick_whose_rounded_mesh_was_subdivided(textures, tmp_path):
    export = versions.export(tmp_path, "build", workshop(10)[4:])
    build = usecases.bring_in(export)
    usecases.apply(build, scenes.PRESET, usecases.Dials(textures=textures, rounding=GEOMETRY))
    cut(next(thing for thing in build.all_objects if thing.type == "MESH"), subdivided)
    usecases.apply(build, scenes.PRESET, usecases.Dials(textures=textures, rounding=SHADING))
    told, _ = usecases.update(build, export)
    assert (told.kept, told.added, told.removed) == (told.bricks, 0, 0)


@pytest.mark.shared_out
def test_bodies_with_noise_of_their_own_are_rounded_all_the_same(textures, tmp_path):
    """Points off by up to 2 micrometres, each body's by others, as exports that round coordinates leave them."""
    build = usecases.bring_in(versions.export(tmp_path, "build", workshop(40)))
    things = [thing for thing in build.all_objects if thing.type == "MESH"]
    hands.single(things)
    random = np.random.default_rng(7)
    for thing in things:
        cut(thing, triangulated)
        points = points_of(thing.data)
        points += random.uniform(-0.002, 0.002, points.shape) * hands.MM
        thing.data.vertices.foreach_set("co", points.ravel())
    told = usecases.apply(build, scenes.PRESET, usecases.Dials(textures=textures, rounding=GEOMETRY))
    assert [each for each in told.skipped if "rounded" in each.reason] == []
