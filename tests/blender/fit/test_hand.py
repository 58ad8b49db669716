"""What an artist does to worn bricks, then Clear: each stands where the same hand brings one that was never worn.

The world of points against Blender's own operators on a build without us.
"""

from collections.abc import Callable
from dataclasses import replace
from math import radians

import bpy
import numpy as np
import pytest
from mathutils import Euler, Matrix, Quaternion

from addon import usecases
from addon.core import report
from addon.core.fit import fit
from addon.core.wear.quality import GEOMETRY, SHADING
from addon.scene import files
from addon.scene.build.build import read
from addon.scene.columns import Columns
from addon.scene.fit import deltas, motion, rest
from tests.blender import scenes
from tests.blender.scenes import PRESET

DIALS = usecases.Dials(seed=7)
SPUN = Matrix.Translation((1.0, 2.0, 3.0)) @ Euler((0.5, 1.0, 0.2)).to_matrix().to_4x4()
Things = list[bpy.types.Object]


@pytest.fixture(autouse=True)
def registered(extension):
    """The record of the bricks' own deltas is a registered property."""


def wall() -> bpy.types.Collection:
    build = scenes.wall(courses=2)
    bpy.context.view_layer.update()
    return build


def rooted() -> bpy.types.Collection:
    """Under a root that turns and scales, in all modes of rotation, with deltas of the artist's on some."""
    build = wall()
    root = scenes.put(build, None, "root")
    root.matrix_world = Matrix.Translation((0.1, 0.2, 0.3)) @ Euler((radians(90), 0, 0.3)).to_matrix().to_4x4()
    root.scale = (2.0, 2.0, 2.0)
    for number, thing in enumerate(bricks(build)):
        thing.parent = root
        thing.rotation_mode = ("XYZ", "QUATERNION", "ZXY")[number % 3]
        if number % 4 == 0:
            thing.delta_location, thing.delta_scale, thing.scale = (0.01, 0.02, 0.03), (1.25,) * 3, (0.8,) * 3
    bpy.context.view_layer.update()
    return build


BUILDS = {"plain": wall, "rooted": rooted}


def moved(build: bpy.types.Collection, seed: int = 7, looseness: float = 1.0) -> None:
    """With the fit alone on it."""
    found = read(build)
    motion.write(found, fit.fitted(found.bricks, PRESET.fit, seed, looseness, found.held).motions)
    bpy.context.view_layer.update()


def bricks(build: bpy.types.Collection) -> Things:
    return [thing for thing in build.objects if thing.type == "MESH"]


def points(build: bpy.types.Collection) -> dict[str, np.ndarray]:
    """Where the points of all bricks are in the world."""
    bpy.context.view_layer.update()
    found = {}
    for thing in bricks(build):
        flat = np.empty(3 * len(thing.data.vertices), np.float32)
        thing.data.vertices.foreach_get("co", flat)
        world = np.array(thing.matrix_world)
        found[thing.name] = flat.reshape(-1, 3) @ world[:3, :3].T + world[:3, 3]
    return found


def apart(a: dict[str, np.ndarray], b: dict[str, np.ndarray]) -> float:
    """How far points are from where they should be, at the most, in metres, or in sizes of what is larger than that."""
    assert a.keys() == b.keys()
    size = max(1.0, *(np.abs(each).max() for each in b.values()))
    return max(np.abs(a[name] - b[name]).max() for name in a) / size


def select(things: Things) -> None:
    for thing in bpy.context.view_layer.objects:
        thing.select_set(thing in things)
    bpy.context.view_layer.objects.active = things[0]


def apply_transforms(things: Things, location=True, rotation=True, scale=True) -> None:
    for thing in things:
        thing.data = thing.data.copy()
    select(things)
    bpy.ops.object.transform_apply(location=location, rotation=rotation, scale=scale)


def into_deltas(mode: str) -> Callable[[Things], None]:
    def act(things: Things) -> None:
        select(things)
        bpy.ops.object.transforms_to_deltas(mode=mode)

    return act


def clear_deltas(things: Things) -> None:
    for thing in things:
        thing.delta_location = thing.delta_rotation_euler = (0.0, 0.0, 0.0)
        thing.delta_rotation_quaternion, thing.delta_scale = (1.0, 0.0, 0.0, 0.0), (1.0, 1.0, 1.0)


def set_one_delta(things: Things) -> None:
    for thing in things:
        thing.delta_location = (0.0, 0.0, 0.0)


def type_deltas(things: Things) -> None:
    for thing in things:
        thing.delta_location.x, thing.delta_rotation_euler.z = 0.5, radians(45.0)


def nudge_deltas(things: Things) -> None:
    for thing in things:
        thing.delta_location.y += 0.0123


def move(things: Things) -> None:
    for thing in things:
        thing.location.x += 0.1


def turn(things: Things) -> None:
    for thing in things:
        thing.rotation_euler.z = radians(90.0)
        if thing.rotation_mode == "QUATERNION":
            thing.rotation_quaternion = Quaternion((0.5, 0.5, 0.5, 0.5))


def clear_location(things: Things) -> None:
    select(things)
    bpy.ops.object.location_clear(clear_delta=True)


def unparent(things: Things) -> None:
    select(things)
    bpy.ops.object.parent_clear(type="CLEAR_KEEP_TRANSFORM")


def parent(things: Things) -> None:
    holder = scenes.put(bpy.context.scene.collection, None, "holder")
    holder.matrix_world = SPUN @ Matrix.Scale(3.0, 4)
    bpy.context.view_layer.update()
    select([holder, *things])
    bpy.ops.object.parent_no_inverse_set(keep_transform=True)


def bring_elsewhere(things: Things) -> None:
    for thing in things:
        thing.matrix_world = SPUN @ thing.matrix_world


def scale_all(things: Things) -> None:
    for thing in things:
        thing.matrix_world = Matrix.Scale(1000.0, 4) @ thing.matrix_world


def make_real(things: Things) -> None:
    build = things[0].users_collection[0]
    instance = scenes.put(bpy.context.scene.collection, None, "instance")
    instance.instance_type, instance.instance_collection, instance.matrix_world = "COLLECTION", build, SPUN
    bpy.context.view_layer.update()
    select([instance])
    bpy.ops.object.duplicates_make_real()
    for thing in bpy.context.selected_objects:
        if thing.type == "MESH":
            build.objects.link(thing)


def duplicate(things: Things) -> None:
    select(things[:3])
    bpy.ops.object.duplicate()
    for thing in bpy.context.selected_objects:
        thing.location.z += 0.5


def other_mode(things: Things) -> None:
    for thing in things:
        thing.rotation_mode = "XYZ" if thing.rotation_mode == "QUATERNION" else "QUATERNION"


def edit(things: Things) -> None:
    for thing in things:
        thing.data = thing.data.copy()
        thing.data.vertices[0].co.z += 0.0005


def set_one_delta_and_edit(things: Things) -> None:
    away = [thing for thing in things if any(thing.location)]  # at 0 it might have been applied as well
    set_one_delta(away)
    edit(away)


HANDS = {
    "all transforms to deltas": into_deltas("ALL"),
    "location to deltas": into_deltas("LOC"),
    "rotation to deltas": into_deltas("ROT"),
    "scale to deltas": into_deltas("SCALE"),
    "deltas cleared": clear_deltas,
    "a delta set to 0": set_one_delta,
    "deltas typed": type_deltas,
    "deltas nudged": nudge_deltas,
    "moved": move,
    "turned": turn,
    "location cleared, deltas too": clear_location,
    "parent cleared": unparent,
    "parented": parent,
    "brought elsewhere": bring_elsewhere,
    "scaled as a whole": scale_all,
    "instances made real": make_real,
    "duplicated": duplicate,
    "another mode of rotation": other_mode,
    "edited": edit,
    "a delta set to 0 and edited": set_one_delta_and_edit,
}


@pytest.mark.shared_out
@pytest.mark.parametrize("make", BUILDS.values(), ids=BUILDS)
@pytest.mark.parametrize("act", HANDS.values(), ids=HANDS)
def test_after_clear_all_stand_where_the_same_hand_brings_what_was_never_worn(act, make):
    never = make()
    act(bricks(never))
    expected = points(never)
    files.new()
    worn = make()
    moved(worn)
    act(bricks(worn))
    done = deltas.restore(Columns(worn))
    assert apart(points(worn), expected) < 1e-6  # float32 where the farthest parent is: a micrometre
    assert done.applied == done.keyed == []
    assert not any(thing.is_property_set(name) for thing in worn.objects for name in (deltas.RECORD, rest.RECORD))


@pytest.mark.shared_out
@pytest.mark.parametrize("order", ["XYZ", "XZY", "YXZ", "YZX", "ZXY", "ZYX", "QUATERNION"])
@pytest.mark.parametrize("hand", ["all transforms to deltas", "rotation to deltas"])
def test_turns_go_into_deltas_in_any_order_of_their_angles(hand, order):
    """Blender puts the turn of a brick whose angles are in another order than XYZ into its delta, and then says XYZ."""
    found = []
    for worn in (True, False):
        files.new()
        build = wall()
        for number, thing in enumerate(bricks(build)):
            angles = (0.5 * np.pi * (number % 3), 0.0, 0.5 * np.pi * (number % 4) + 0.1 * (number % 2))
            thing.rotation_mode = order
            thing.rotation_quaternion = Euler(angles).to_quaternion()
            if order != "QUATERNION":
                thing.rotation_euler = Euler(angles, order)
                thing.delta_rotation_euler.x = 0.1 * (number % 3 == 1)
            thing.location *= 3.0
        bpy.context.view_layer.update()
        if worn:
            moved(build)
        HANDS[hand](bricks(build))
        if worn:
            deltas.restore(Columns(build))
        found.append(points(build))
    assert apart(*found) < 1e-6


def test_places_and_sizes_that_were_typed_one_after_the_other_stay_to_the_bit():
    worn = wall()
    moved(worn)
    for thing in bricks(worn):
        thing.location.z, thing.scale.y = 0.064, 1.25
    typed = [(*thing.location, *thing.scale) for thing in bricks(worn)]
    deltas.restore(Columns(worn))
    assert [(*thing.location, *thing.scale) for thing in bricks(worn)] == typed


def test_what_is_typed_stays_to_the_bit_where_the_parent_was_renamed():
    worn = rooted()
    moved(worn)
    bpy.data.objects["root"].name = "everything"
    for thing in bricks(worn):
        thing.rotation_mode = "XYZ"
        thing.rotation_euler.y, thing.scale.x = 1.0, 1.25
    typed = [(*thing.location, *thing.rotation_euler, *thing.scale) for thing in bricks(worn)]
    deltas.restore(Columns(worn))
    assert [(*thing.location, *thing.rotation_euler, *thing.scale) for thing in bricks(worn)] == typed


def test_another_parent_is_none_that_was_renamed():
    """Also where the old one is gone and what hung on it hangs on two others since."""
    found = []
    for worn in (False, True):
        files.new()
        build = rooted()
        if worn:
            moved(build)
        unparent(bricks(build))
        bpy.data.objects.remove(bpy.data.objects["root"])
        for some in (bricks(build)[::2], bricks(build)[1::2]):
            parent(some)
        if worn:
            deltas.restore(Columns(build))
        found.append(points(build))
    assert apart(*found) < 1e-6


def test_deltas_nudged_in_units_of_a_millimetre_are_none_that_were_typed():
    """Of numbers about 12 one in a hundred has four digits behind the point and no more: float32 has six there."""
    found = []
    for worn in (False, True):
        files.new()
        bpy.context.scene.unit_settings.scale_length = 0.001
        build = scenes.wall(20, 15, unit=1.0)
        if worn:
            moved(build)
        for thing in bricks(build):
            thing.delta_location = [each - 12.0 for each in thing.delta_location]
        if worn:
            deltas.restore(Columns(build))
        found.append(points(build))
    never, cleared = found
    off = [np.abs(cleared[name] - never[name]).max() for name in never]
    assert max(off) < 0.005  # mm; 7 of 903 numbers were off by up to 0.14, and one in a thousand has three digits


@pytest.mark.parametrize("looseness", [0.4, 0.05])
def test_a_turn_that_leaves_an_angle_almost_as_it_was_is_one_about_what_was_shown(looseness):
    """Under a small tilt of ours a turn about the upright axis changes the angle about x by the square of that."""
    found = []
    for worn in (True, False):
        files.new()
        build = wall()
        for thing in bricks(build):
            thing.rotation_euler = (0.6109, 0.0, np.pi)
        bpy.context.view_layer.update()
        if worn:
            moved(build, looseness=looseness)
        for thing in bricks(build):
            select([thing])
            bpy.ops.transform.rotate(value=1.0, orient_axis="Z", orient_type="GLOBAL", center_override=(0.1, 0.2, 0.0))
        if worn:
            deltas.restore(Columns(build))
        found.append(points(build))
    assert apart(*found) < 1e-6


def test_an_origin_that_moved_moves_nothing():
    def centre(build):
        select(bricks(build))
        bpy.ops.object.origin_set(type="ORIGIN_GEOMETRY", center="BOUNDS")

    never = wall()
    centre(never)
    expected = points(never)
    files.new()
    worn = wall()
    moved(worn)
    centre(worn)
    deltas.restore(Columns(worn))
    assert apart(points(worn), expected) < 1e-6


WAYS = {
    "all": {},
    "location": {"rotation": False, "scale": False},
    "rotation": {"location": False, "scale": False},
    "scale": {"location": False, "rotation": False},
}


@pytest.mark.shared_out
@pytest.mark.parametrize("make", BUILDS.values(), ids=BUILDS)
@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
def test_bricks_whose_transforms_were_applied_stay_and_are_told(way, make):
    worn = make()
    moved(worn)
    apply_transforms(bricks(worn), **way)
    stood = points(worn)
    done = deltas.restore(Columns(worn))
    now = points(worn)
    assert all((now[name] == stood[name]).all() for name in now)
    assert {thing.name for thing in done.applied} == set(now)


@pytest.mark.shared_out
def test_one_whose_transforms_were_applied_is_dialled_from_there_and_told_at_clear():
    worn = wall()
    usecases.apply(worn, PRESET, DIALS)
    bpy.context.view_layer.update()
    one = worn.objects[2]
    apply_transforms([one])
    stood = points(worn)[one.name]
    for seed in (8, 9, 10):
        usecases.dial(worn, PRESET, replace(DIALS, seed=seed))
        assert np.abs(points(worn)[one.name] - stood).max() < 0.001  # a millimetre: one motion and not three
    done = usecases.clear(worn)
    assert np.abs(points(worn)[one.name] - stood).max() < 1e-7
    assert [(each.object, each.reason) for each in done.stays] == [(one.name, report.APPLIED)]
    assert "1 brick stays as it stands" in done.sentence


def far_apart(worn) -> list[bpy.types.Object]:
    """Two bricks of meshes of their own, as far from each other as any."""
    things = bricks(worn)
    two = [things[0], max(things, key=lambda thing: (thing.location - things[0].location).length)]
    for thing in two:
        thing.data = thing.data.copy()
    return two


def join(things: Things) -> None:
    bpy.ops.object.select_all(action="DESELECT")
    for thing in things:
        thing.select_set(True)
    bpy.context.view_layer.objects.active = things[0]
    bpy.ops.object.join()


@pytest.mark.shared_out
@pytest.mark.parametrize("rounding", [SHADING, GEOMETRY])
@pytest.mark.parametrize("make", BUILDS.values(), ids=BUILDS)
def test_what_was_joined_while_worn_stays_as_it_stood_and_is_told(make, rounding):
    worn = make()
    two = far_apart(worn)
    usecases.apply(worn, PRESET, replace(DIALS, looseness=2.0, rounding=rounding))
    bpy.context.view_layer.update()
    join(two)
    one = two[0]
    bpy.context.view_layer.update()
    stood = points(worn)[one.name]
    done = usecases.clear(worn)
    now = points(worn)[one.name]
    size = np.ptp(stood, axis=0).max()
    assert now.shape == stood.shape
    assert np.abs(now - stood).max() < 1e-6 * size
    assert [(each.object, each.reason) for each in done.stays] == [(one.name, report.APPLIED)]


def test_what_was_joined_is_dialled_from_where_it_stood():
    worn = wall()
    two = far_apart(worn)
    usecases.apply(worn, PRESET, DIALS)
    bpy.context.view_layer.update()
    join(two)
    bpy.context.view_layer.update()
    stood = points(worn)[two[0].name]
    for seed in (8, 9):
        usecases.dial(worn, PRESET, replace(DIALS, seed=seed))
    done = usecases.clear(worn)
    assert np.abs(points(worn)[two[0].name] - stood).max() < 1e-7
    assert [each.object for each in done.stays] == [two[0].name]


@pytest.mark.parametrize("work", ["subdivide", "extrude", "pull"])
def test_what_is_worked_on_in_edit_mode_goes_back_whatever_room_it_takes(work):
    worn = wall()
    two = far_apart(worn)
    before = points(worn)
    usecases.apply(worn, PRESET, DIALS)
    one = two[0]
    bpy.context.view_layer.objects.active = one
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    if work == "extrude":
        bpy.ops.mesh.extrude_region_shrink_fatten(TRANSFORM_OT_shrink_fatten={"value": 0.004})
    elif work == "subdivide":
        bpy.ops.mesh.subdivide()
    bpy.ops.object.mode_set(mode="OBJECT")
    if work == "pull":
        one.data.vertices[0].co.z += 0.02
    done = usecases.clear(worn)
    assert done.stays == ()
    assert not one.delta_location.length
    assert all((points(worn)[name] == before[name]).all() for name in before if name != one.name)


@pytest.mark.parametrize("by_mm", [0.5, 1.5, 1.65, 3.2])
def test_a_brick_made_higher_by_about_a_stud_is_none_that_something_was_joined_to(by_mm):
    """Its studs, shells of their own, lie out of the room that it had, and its body about fills that."""
    worn = wall()
    one = far_apart(worn)[0]
    one.data = one.data.copy()
    before = points(worn)
    usecases.apply(worn, PRESET, DIALS)
    for vertex in one.data.vertices:
        vertex.co.z += by_mm / 1000.0 * (vertex.co.z > 0.001)
    done = usecases.clear(worn)
    assert done.stays == ()
    stood = before[one.name] + np.array([0.0, 0.0, by_mm / 1000.0]) * (before[one.name][:, 2:] > 0.001 + one.location.z)
    assert np.abs(points(worn)[one.name] - stood).max() < 1e-7


def test_bricks_with_keyed_deltas_stay_and_are_told():
    worn = wall()
    usecases.apply(worn, PRESET, DIALS)
    one = worn.objects[2]
    one.keyframe_insert("delta_location", frame=1)
    stood = points(worn)[one.name]
    done = usecases.clear(worn)
    bpy.context.scene.frame_set(5)
    assert (points(worn)[one.name] == stood).all()
    assert [(each.object, each.reason) for each in done.stays] == [(one.name, report.KEYED)]
    assert not one.is_property_set(deltas.RECORD)


@pytest.mark.parametrize("hand", ["all transforms to deltas", "moved", "deltas nudged", "a delta set to 0"])
def test_a_dial_reads_the_build_as_the_same_hand_leaves_one_that_was_never_worn(hand):
    never, act = rooted(), HANDS[hand]
    act(bricks(never))
    expected = read(never).bricks.origin
    files.new()
    worn = rooted()
    moved(worn)
    act(bricks(worn))
    bpy.context.view_layer.update()
    assert np.abs(read(worn).bricks.origin - expected).max() < 1e-3  # mm
    moved(worn, seed=9)
    assert np.abs(read(worn).bricks.origin - expected).max() < 1e-3


def test_a_duplicate_is_a_brick_of_its_own():
    worn = wall()
    usecases.apply(worn, PRESET, DIALS)
    bpy.context.view_layer.update()
    one = worn.objects["part.0007"]
    select([one])
    bpy.ops.object.duplicate()
    other = bpy.context.view_layer.objects.active
    other.location.z += 0.0096
    usecases.apply(worn, PRESET, DIALS)
    build = read(worn)
    names = list(build.bricks.names)
    a, b = names.index(one.name), names.index(other.name)
    assert build.bricks.key[a] != build.bricks.key[b]
    assert tuple(one["playworn_offset"]) != tuple(other["playworn_offset"])
    assert tuple(one.delta_location) != tuple(other.delta_location)


def test_a_record_of_an_earlier_version_clears_exactly():
    """It knows the deltas alone, nothing of what stood beneath them."""
    worn = rooted()
    before = scenes.transforms(worn.objects)
    for seed in (7, 8):
        moved(worn, seed)
        for thing in worn.objects:
            thing.property_unset(rest.RECORD)
    deltas.restore(Columns(worn))
    assert scenes.transforms(worn.objects) == before
