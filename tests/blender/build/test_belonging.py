"""What is no brick is left alone, listed, and counted in on the artist's word; a file of other things is refused."""

import bmesh
import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.errors import BuildProblem
from addon.scene.build import counted
from addon.scene.build.build import NoBricks, read
from addon.scene.columns import Columns
from addon.scene.fit import deltas
from addon.scene.presets import library
from addon.scene.wear import stamps
from tests.blender import scenes

MM = 0.001
DIALS = usecases.Dials(seed=3)
pytestmark = pytest.mark.usefixtures("extension")


def solid(build, name: str, make, place=(0.0, 0.0, 0.0), size=(1.0, 1.0, 1.0)) -> bpy.types.Object:
    """One of Blender's own primitives, `size` and `place` in mm."""
    form, mesh = bmesh.new(), bpy.data.meshes.new(name)
    make(form)
    bmesh.ops.scale(form, vec=size, verts=form.verts)
    form.to_mesh(mesh)
    form.free()
    thing = scenes.put(build, mesh, name, np.array(place) * MM)
    thing.scale = (MM,) * 3
    return thing


def furnished() -> tuple[bpy.types.Collection, list[bpy.types.Object]]:
    """The wall among things that are no bricks: a ground, a table and its leg, a ball, a figure, a flag, a tripod."""
    build = scenes.wall()

    def cube(form):
        bmesh.ops.create_cube(form, size=1.0)

    def ball(form):
        bmesh.ops.create_uvsphere(form, u_segments=12, v_segments=8, radius=0.5)

    def head(form):
        bmesh.ops.create_icosphere(form, subdivisions=2, radius=0.5)

    def sheet(form):
        bmesh.ops.create_grid(form, x_segments=12, y_segments=12, size=0.5)
        for vertex in form.verts:
            vertex.co.z = 0.1 * np.sin(7 * vertex.co.x + 3 * vertex.co.y)

    def cone(form):
        bmesh.ops.create_cone(form, segments=5, radius1=0.5, radius2=0.4, depth=1.0, cap_ends=True)

    others = [
        solid(build, "ground", cube, (0, 0, -520), (2000, 2000, 10)),
        solid(build, "plane", lambda form: bmesh.ops.create_grid(form, size=100.0), (0, 0, -30)),
        solid(build, "table", cube, (64, 8, -8), (320, 240, 16)),
        solid(build, "leg", cube, (-60, -60, -166), (45, 45, 300)),
        solid(build, "ball", ball, (200, 40, 20), (40, 40, 40)),
        solid(build, "figure", head, (-60, 40, 45), (30, 30, 45)),
        solid(build, "flag", sheet, (0, -80, 70), (60, 40, 30)),
        solid(build, "tripod", cone, (0, -300, 100), (12, 12, 200)),
    ]
    bpy.context.view_layer.update()
    return build, others


def apply(build, **dials):
    return usecases.apply(build, library.find_preset("toy-box"), usecases.Dials(seed=3, **dials))


def test_what_is_no_brick_is_left_alone_and_listed_with_the_reason():
    build, others = furnished()
    before = scenes.transforms(others)
    done = apply(build)
    assert done.bricks == 17
    assert {each.object for each in done.skipped} == {thing.name for thing in others}
    assert scenes.transforms(others) == before
    assert not any(stamps.SHARE in thing for thing in others)
    reasons = {each.object: each.reason for each in done.skipped}
    assert "half a metre" in reasons["ground"]
    assert "flat" in reasons["plane"]
    assert reasons["ball"] == reasons["figure"] == "has no studs and no size of a brick, and no brick holds it"


def test_the_bricks_move_as_they_do_alone():
    build, others = furnished()
    apply(build)
    among = scenes.transforms(read(build).objects)
    usecases.clear(build)
    for thing in others:
        bpy.data.objects.remove(thing)
    apply(build)
    assert scenes.transforms(read(build).objects) == among


def test_the_artist_counts_a_thing_in_and_a_brick_out():
    build, others = furnished()
    ball, brick = others[4], read(build).objects[0]
    assert usecases.count_in(build, [ball]) == 1
    assert usecases.leave_out(build, [brick]) == 1
    told = usecases.inspect(build)
    assert told.bricks == 17
    names = {each.object: each.reason for each in told.left_out}
    assert ball.name not in names
    assert names[brick.name] == "is left out by hand"


def test_a_brick_that_is_left_out_after_all_goes_back_exactly():
    build, _ = furnished()
    brick = read(build).objects[5]
    before = scenes.transforms([brick])
    apply(build, rounding="geometry")
    mesh = brick.data
    assert scenes.transforms([brick]) != before
    usecases.leave_out(build, [brick])
    apply(build, rounding="geometry")
    assert scenes.transforms([brick]) == before
    assert stamps.SHARE not in brick
    assert brick.data != mesh
    assert not deltas.carrying(Columns(build))[Columns(build).objects.index(brick)]


def test_the_artists_word_survives_clear():
    build, others = furnished()
    usecases.count_in(build, [others[4]])
    apply(build)
    usecases.clear(build)
    assert others[4][counted.COUNTED] == 1
    assert usecases.inspect(build).bricks == 18


def test_what_is_flat_is_no_brick_whatever_is_said():
    build, others = furnished()
    usecases.count_in(build, [others[1]])
    assert usecases.inspect(build).bricks == 17


def test_a_build_of_other_things_is_refused_in_one_sentence_and_inspected():
    build, others = furnished()
    names = [thing.name for thing in read(build).objects]
    bpy.data.batch_remove([bpy.data.objects[name] for name in names])
    before = scenes.transforms(others)
    with pytest.raises(NoBricks, match="is no brick build") as caught:
        apply(build)
    assert str(caught.value).count(". ") == 0
    assert scenes.transforms(others) == before
    told = usecases.inspect(build)
    assert (told.bricks, len(told.left_out)) == (0, len(others))
    assert "is no brick build" in told.warnings[0]


def test_blenders_default_cube_is_no_build():
    build = scenes.collection()
    solid(build, "cube", lambda form: bmesh.ops.create_cube(form, size=2.0), size=(1000, 1000, 1000))
    bpy.context.view_layer.update()
    with pytest.raises(BuildProblem, match="is no brick build"):
        read(build)


def test_a_name_that_fits_nothing_is_told():
    with pytest.raises(BuildProblem, match='called "spider"'):
        usecases.named_like(scenes.wall(), "spider")


def test_a_pattern_names_many():
    assert len(usecases.named_like(scenes.wall(), "part.000?")) == 10
