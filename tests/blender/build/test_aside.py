"""What an update brought and the next one no more has: touched it waits, untouched it goes and takes nothing along."""

from dataclasses import replace
from pathlib import Path

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.slices import whole
from addon.core.wear.quality import GEOMETRY, SHADING
from addon.scene import files
from addon.scene.build import aside, sign
from addon.scene.wear import handwork
from addon.transaction import transaction
from bench.ways.workshop import workshop
from tests.blender import scenes
from tests.blender.build import versions
from tests.blender.build.test_update import bricks, update
from tests.blender.turns import third

pytestmark = pytest.mark.usefixtures("extension")

SMALL = workshop(24)
NEW = [replace(SMALL[3], at=np.array((64.0 * n, 160.0, SMALL[3].at[2]))) for n in range(2)]
ELSEWHERE = [replace(brick, at=brick.at + np.array((0.0, 8.0, 0.0))) for brick in NEW]
OTHER_COLOUR = [replace(brick, colour=next(b.colour for b in SMALL if b.colour != brick.colour)) for brick in NEW]
ONLY_COLOUR = [replace(brick, colour="amber") for brick in NEW]


@pytest.fixture(scope="module")
def exports(tmp_path_factory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("aside")
    more = {"small": [], "larger": NEW, "elsewhere": ELSEWHERE, "other": OTHER_COLOUR, "only": ONLY_COLOUR}
    return {name: versions.export(folder, name, [*SMALL, *new]) for name, new in more.items()}


@pytest.fixture(scope="module")
def known() -> dict[str, Path]:
    return {}


@pytest.fixture(params=["bare", SHADING, GEOMETRY])
def worn(request, exports, known, tmp_path_factory):
    """A build with two bricks that an update brought, with a look on it and without."""
    look = request.param
    if look not in known:
        files.new()
        room = usecases.bring_in(exports["small"])
        if look != "bare":
            usecases.apply(room, scenes.PRESET, usecases.Dials(seed=3, rounding=look))
        update(room, exports["larger"])
        known[look] = tmp_path_factory.mktemp(look) / "worn.blend"
        usecases.save(known[look])
    return usecases.open_build(known[look])


def brought(room) -> list[bpy.types.Object]:
    return sorted((thing for thing in bricks(room) if sign.ADDED in thing), key=lambda thing: thing.name)


def own_mesh(thing):
    thing.data = thing.data.copy()
    return thing.data


def moved(thing):
    thing.location.x += 0.001


def turned(thing):
    thing.rotation_mode = "XYZ"
    thing.rotation_euler.z += 0.02


def turned_otherwise(thing):
    thing.rotation_mode = "YXZ" if thing.rotation_mode != "YXZ" else "XYZ"


def sized(thing):
    thing.scale.z *= 1.01


def nudged(thing):
    thing.delta_location.x += 0.003


def pulled(thing):
    own_mesh(thing).vertices[0].co.x += 0.0005


def pulled_for_all(thing):
    thing.data.vertices[0].co.x += 0.0005


def edited(thing):
    own_mesh(thing)
    bpy.context.view_layer.objects.active = thing
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.mesh.subdivide()
    bpy.ops.object.mode_set(mode="OBJECT")


def painted(thing):
    own_mesh(thing).attributes.new("paint", "FLOAT_COLOR", "POINT")


def mapped(thing):
    own_mesh(thing).uv_layers.new(name="mine")


def recoloured(thing):
    own_mesh(thing).materials[0] = bpy.data.materials.new("mine")


def recoloured_alone(thing):
    thing.material_slots[0].link = "OBJECT"
    thing.material_slots[0].material = bpy.data.materials.new("mine")


def keyed_shape(thing):
    own_mesh(thing)
    thing.shape_key_add(name="mine")


def grouped(thing):
    own_mesh(thing)
    thing.vertex_groups.new(name="mine")


def noted(thing):
    thing["note"] = "mine"


def named(thing):
    thing.name = "mine"


def locked(thing):
    thing.lock_location[0] = True


def hidden(thing):
    thing.hide_render = True


def unseen(thing):
    thing.visible_camera = False


def shadowless(thing):
    thing.display.show_shadows = False


def tinted(thing):
    thing.color = (1.0, 0.5, 0.25, 1.0)


def bevelled(thing):
    thing.modifiers.new("mine", "BEVEL")


def held(thing):
    thing.constraints.new("LIMIT_LOCATION")


def animated(thing):
    thing.keyframe_insert("location", frame=3)


def hung_on(thing):
    other = bpy.data.objects.new("hangs", None)
    bpy.context.scene.collection.objects.link(other)
    other.parent = thing


def aimed_at(thing):
    other = bpy.data.objects.new("looks", None)
    bpy.context.scene.collection.objects.link(other)
    other.constraints.new("TRACK_TO").target = thing


def cutting(thing):
    other = bpy.data.objects.new("cut", bpy.data.meshes.new("cut"))
    bpy.context.scene.collection.objects.link(other)
    other.modifiers.new("cut", "BOOLEAN").object = thing


def sorted_in(thing):
    room = bpy.data.collections.new("hero")
    bpy.context.scene.collection.children.link(room)
    room.objects.link(thing)


def referred_to(thing):
    bpy.context.scene["hero"] = thing


def kept_by_user(thing):
    thing.use_fake_user = True


HANDS = [
    moved, turned, turned_otherwise, sized, pulled, pulled_for_all, edited, painted, mapped, recoloured,
    recoloured_alone, keyed_shape, grouped, noted, named, locked, hidden, unseen, shadowless, tinted, bevelled, held,
    animated, hung_on, aimed_at, cutting, sorted_in, referred_to, kept_by_user,
]  # fmt: skip


def saved_and_loaded(tmp_path):
    usecases.save(tmp_path / "between.blend")
    return usecases.open_build(tmp_path / "between.blend")


def test_untouched_it_goes(worn, exports, tmp_path):
    assert len(brought(worn)) == len(NEW)
    room = saved_and_loaded(tmp_path)
    update(room, exports["small"])
    assert aside.room_of(room) is None
    assert not any(sign.ADDED in thing for thing in bpy.data.objects)
    assert len(bricks(room)) == len(SMALL)


def test_untouched_it_goes_after_an_update_that_moved_it(worn, exports, tmp_path):
    update(worn, exports["elsewhere"])
    room = saved_and_loaded(tmp_path)
    update(room, exports["small"])
    assert aside.room_of(room) is None


def test_what_it_alone_shows_is_kept_with_it(worn, exports, tmp_path):
    update(worn, exports["small"])
    update(worn, exports["only"])
    material = brought(worn)[0].material_slots[0].material
    material.diffuse_color = (0.2, 0.3, 0.4, 1.0)
    name = material.name
    update(worn, exports["small"])
    room = saved_and_loaded(tmp_path)
    assert len(aside.waiting(room)) == len(NEW)
    assert tuple(bpy.data.materials[name].diffuse_color) == pytest.approx((0.2, 0.3, 0.4, 1.0))


def test_it_comes_back_into_the_collections_where_it_stood(exports, tmp_path):
    files.new()
    room = usecases.bring_in(exports["larger"])
    one, two = bricks(room)[:-3:-1]
    inner, hero = bpy.data.collections.new("inner"), bpy.data.collections.new("hero")
    room.children.link(inner)
    bpy.context.scene.collection.children.link(hero)
    for thing, to in ((one, inner), (one, hero), (two, hero)):
        to.objects.link(thing)
    room.objects.unlink(one)
    names = one.name, two.name
    job = usecases.updating(room, exports["small"])
    for fraction, _ in job:
        if fraction >= 0.7:
            break
    job.close()
    stood = [{each.name for each in thing.users_collection} for thing in (one, two)]
    assert stood == [{"inner", "hero"}, {room.name, "hero"}]
    update(room, exports["small"])
    room = saved_and_loaded(tmp_path)
    update(room, exports["larger"])
    again = [{each.name for each in bpy.data.objects[name].users_collection} for name in names]
    assert again == stood
    assert not any(aside.STOOD in thing for thing in bpy.data.objects)


@pytest.mark.parametrize("hand", [nudged, painted], ids=lambda hand: hand.__name__)
def test_touched_it_waits(worn, exports, tmp_path, hand):
    touched, _ = brought(worn)
    hand(touched)
    name = touched.name
    room = saved_and_loaded(tmp_path)
    update(room, exports["small"])
    assert [thing.name for thing in aside.waiting(room)] == [name]


def test_whatever_is_done_to_one_is_seen(worn, tmp_path):
    """But for deltas, on which ours lie: the build tells of those by comparison."""
    path, unseen_hands = tmp_path / "worn.blend", []
    usecases.save(path)
    for hand in third(HANDS):
        touched, _ = brought(usecases.open_build(path))
        hand(touched)
        name, both = touched.name, hand is pulled_for_all
        room = saved_and_loaded(tmp_path)
        with transaction():
            handwork.adopt(bricks(room))  # as an update does before it looks
        wanted = set() if both else {thing.name for thing in brought(room)} - {name}
        if {thing.name for thing in whole(sign.finding_untouched(brought(room)))} != wanted:
            unseen_hands.append(hand.__name__)
    assert unseen_hands == []
