"""A build that bears a look was found to be one: what an artist does to its meshes makes it no other, and no none."""

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.scene.build import state
from addon.scene.build.build import NoBricks, read
from addon.scene.fit.stances import APPLIED
from bench.ways.workshop import workshop
from tests.blender import scenes
from tests.blender.build import versions
from tests.blender.sequences import builds
from tests.core.builds import block

pytestmark = pytest.mark.usefixtures("extension")
ROUND = usecases.Dials(seed=2, rounding="geometry", quality="draft")
INCH = 1 / 25.4  # units of the tiles


def pulled(thing: bpy.types.Object, axis: int, by: float) -> None:
    """Edit mode: the points of one half go outward by a share of the mesh's size."""
    points = np.empty(3 * len(thing.data.vertices), np.float32)
    thing.data.vertices.foreach_get("co", points)
    table = points.reshape(-1, 3)
    size = np.ptp(table, axis=0)
    table[table[:, axis] > table[:, axis].mean(), axis] += by * size[axis]
    thing.data.vertices.foreach_set("co", points)
    thing.data.update()


def sideways(count: int = 12) -> bpy.types.Collection:
    """A workshop on its side under a turned root, most of it no plain bricks: no scale puts it on a lattice."""
    builds.begin("sideways", count)
    return bpy.data.collections["build"]


def tiles() -> bpy.types.Collection:
    """Six tiles of four sizes without a stud, a unit an inch, each with a mesh of its own."""
    build = scenes.collection()
    bpy.context.scene.unit_settings.scale_length = 0.0254
    for n, (wide, deep) in enumerate(((1, 2), (2, 2), (1, 4), (2, 4), (2, 2), (1, 4))):
        solid = block(wide, deep, 1, studded=False)
        mesh = bpy.data.meshes.new(f"tile {n}")
        mesh.from_pydata((solid.vertices * INCH).tolist(), [], solid.triangles.tolist())
        scenes.put(build, mesh, f"tile {n}", np.array([24.0 * (n % 3), 40.0 * (n // 3), 3.2 * (n % 2)]) * INCH)
    bpy.context.view_layer.update()
    return build


def test_a_part_pulled_longer_while_rounded_makes_no_other_scale_of_a_build(tmp_path):
    build = sideways()
    done = usecases.apply(build, scenes.PRESET, ROUND)
    mm = read(build).lattice.mm_per_unit
    pulled(bpy.data.objects["plate-2-1 9"], 1, 0.25)
    assert usecases.dial(build, scenes.PRESET, ROUND).bricks == done.bricks
    assert usecases.apply(build, scenes.PRESET, ROUND).bricks == done.bricks
    assert read(build).lattice.mm_per_unit == mm
    updated, _ = usecases.update(build, versions.export(tmp_path, "next", workshop(24)))
    assert updated.kept + updated.moved > 0
    usecases.clear(build)


def test_what_new_bricks_hold_is_a_brick_from_then_on(tmp_path):
    """A beam that lay beside the first version, and in which the second has pins."""
    build = sideways()
    before = {thing.name for thing in read(build).objects}
    beside = {thing.name: scenes.transforms([thing]) for thing in build.objects if thing.name not in before}
    usecases.apply(build, scenes.PRESET, ROUND)
    assert beside
    usecases.update(build, versions.export(tmp_path, "next", workshop(24)))
    taken = {thing.name for thing in read(build).objects} & beside.keys()
    assert taken
    assert all("playworn_shape" in bpy.data.objects[name].data for name in taken)
    usecases.clear(build)
    for name, stood in beside.items():
        assert scenes.transforms([bpy.data.objects[name]]) == stood


def test_how_bricks_sat_before_an_update_goes_with_clear_after_another_apply_too(tmp_path):
    build = sideways()
    usecases.apply(build, scenes.PRESET, usecases.Dials(seed=1))
    usecases.update(build, versions.export(tmp_path, "next", workshop(24)))
    assert any(APPLIED.sat in thing for thing in build.objects)
    usecases.apply(build, scenes.PRESET, usecases.Dials(seed=2))
    usecases.clear(build)
    assert not [thing.name for thing in build.objects if APPLIED.sat in thing]


def test_what_shows_studs_by_the_scenes_own_unit_is_no_build_six_times_as_large():
    """Without a look, too: the studs are there to be measured."""
    build = sideways()
    for axis in (0, 1, 2):
        pulled(bpy.data.objects["plate-2-1 9"], axis, 0.25)
        found = read(build)
        assert found.lattice.mm_per_unit == pytest.approx(1000.0)
        assert len(found.bricks) >= 6


@pytest.mark.parametrize("by", [0.25, 0.4, 1.0])
@pytest.mark.parametrize("many", [1, 3])
def test_tiles_that_an_artist_remodels_stay_the_build_that_they_were(by, many):
    build = tiles()
    usecases.apply(build, scenes.PRESET, usecases.Dials(seed=1))
    for n in range(many):
        pulled(bpy.data.objects[f"tile {n}"], n % 2, by)
    told = usecases.dial(build, scenes.PRESET, usecases.Dials(seed=4))
    assert told.bricks >= 6 - many
    assert read(build).lattice.mm_per_unit == pytest.approx(25.4, rel=1e-3)
    usecases.clear(build)


def test_bricks_that_an_artist_makes_half_as_large_are_believed():
    """What was believed before does not go before what studs show."""
    build = scenes.wall()
    usecases.apply(build, scenes.PRESET, usecases.Dials(seed=1))
    for thing in build.objects:
        thing.scale = (0.5,) * 3
        thing.location *= 0.5
    bpy.context.view_layer.update()
    assert read(build).lattice.mm_per_unit == pytest.approx(2000.0, rel=1e-3)
    told = usecases.apply(build, scenes.PRESET, usecases.Dials(seed=1))
    assert told.bricks == 17
    assert state.mm_per_unit(build) == pytest.approx(2000.0, rel=1e-3)


def test_the_scale_is_kept_by_a_dial_that_reads_no_build_and_goes_with_clear():
    build = tiles()
    usecases.apply(build, scenes.PRESET, usecases.Dials(seed=1))
    kept = state.mm_per_unit(build)
    usecases.dial_wear(build, scenes.PRESET, usecases.Dials(seed=1, wear=0.5))
    assert state.mm_per_unit(build) == kept == pytest.approx(25.4, rel=1e-3)
    usecases.clear(build)
    assert state.mm_per_unit(build) is None


@pytest.mark.parametrize("spoiled", ['"wide"', "-3.0", "0", "1e99", "[1]", "NaN", "null"])
def test_a_scale_that_another_hand_wrote_is_none(spoiled):
    build = tiles()
    usecases.apply(build, scenes.PRESET, usecases.Dials(seed=1))
    text = build[state.MARK]
    told = text[: text.index('"mm_per_unit"')] + f'"mm_per_unit": {spoiled}}}'
    build[state.MARK] = told
    assert state.mm_per_unit(build) is None
    assert usecases.dial(build, scenes.PRESET, usecases.Dials(seed=4)).bricks == 6


def test_a_worn_collection_without_any_brick_left_is_none():
    build = tiles()
    usecases.apply(build, scenes.PRESET, usecases.Dials(seed=1))
    for n, thing in enumerate(build.objects):
        pulled(thing, 2, 1.3 + 0.31 * n)
    with pytest.raises(NoBricks):
        read(build)
