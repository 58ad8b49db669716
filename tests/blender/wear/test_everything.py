"""Clear finds what has left its build, and one button takes everything of ours out of a file."""

from collections.abc import Callable

import bpy
import pytest

from addon import usecases
from addon.core.errors import BuildProblem
from addon.core.wear.quality import GEOMETRY, SHADING
from addon.scene import files, traces
from addon.scene.build import state
from addon.scene.columns import Columns
from addon.scene.fit import deltas, rest
from addon.scene.wear import stamps
from addon.transaction import transaction
from tests.blender import scenes
from tests.blender.faults import all_of_it
from tests.blender.scenes import PRESET

ROUNDINGS = [SHADING, GEOMETRY]


@pytest.fixture(autouse=True)
def registered(extension):
    """The record of the bricks' own deltas is a registered property."""


def wall() -> bpy.types.Collection:
    """With a brick that has no material and one whose material has no nodes."""
    build = scenes.wall(courses=2)
    build.objects[3].data = scenes.brick_mesh("bare", 4, 2, 3)
    build.objects[5].data = scenes.brick_mesh("plain", 4, 2, 3)
    build.objects[5].data.materials.append(None)
    bpy.context.view_layer.update()
    return build


def select(*things: bpy.types.Object) -> None:
    for thing in bpy.context.view_layer.objects:
        thing.select_set(thing in things)
    bpy.context.view_layer.objects.active = things[0]


def elsewhere() -> bpy.types.Collection:
    return bpy.data.collections.get("elsewhere") or scenes.collection("elsewhere")


def move_out(build: bpy.types.Collection) -> None:
    for thing in list(build.objects)[:6]:
        build.objects.unlink(thing)
        elsewhere().objects.link(thing)


def duplicate_out(build: bpy.types.Collection) -> None:
    select(*list(build.objects)[:6])
    bpy.ops.object.duplicate()
    for thing in bpy.context.selected_objects:
        build.objects.unlink(thing)
        elsewhere().objects.link(thing)


def make_real(build: bpy.types.Collection) -> None:
    instance = scenes.put(bpy.context.scene.collection, None, "instance", (0.0, 1.0, 0.0))
    instance.instance_type, instance.instance_collection = "COLLECTION", build
    bpy.context.view_layer.update()
    select(instance)
    bpy.ops.object.duplicates_make_real()


def separate(build: bpy.types.Collection) -> None:
    one = build.objects[1]
    one.data = one.data.copy()
    select(one)
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="DESELECT")
    bpy.ops.object.mode_set(mode="OBJECT")
    for face in one.data.polygons[:4]:
        face.select = True
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.separate(type="SELECTED")
    bpy.ops.object.mode_set(mode="OBJECT")
    move_out(build)


def rename(build: bpy.types.Collection) -> None:
    move_out(build)
    build.name = "renamed"


WAYS: dict[str, Callable[[bpy.types.Collection], None]] = {
    "moved out": move_out,
    "duplicated out": duplicate_out,
    "made real": make_real,
    "separated": separate,
    "collection renamed": rename,
}


def worn(thing: bpy.types.Object) -> bool:
    return any(thing.is_property_set(name) for name in (deltas.RECORD, rest.RECORD)) or any(
        name.startswith("playworn")
        for name in thing.keys()  # noqa: SIM118  no dict
    )


def worlds() -> dict[str, bytes]:
    bpy.context.view_layer.update()
    return scenes.transforms(bpy.data.objects)


@pytest.mark.parametrize("rounding", ROUNDINGS)
@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
def test_clear_finds_what_has_left_its_build(way, rounding):
    build = wall()
    way(build)
    expected = worlds()
    files.new()
    build = wall()
    usecases.apply(build, PRESET, usecases.Dials(seed=7, rounding=rounding))
    bpy.context.view_layer.update()
    way(build)
    done = usecases.clear(build)
    assert done.outside
    assert not any(map(worn, bpy.data.objects))
    assert worlds().keys() == expected.keys()
    if way is not make_real:  # Blender works out the place of an instance anew, to the last bit but one
        assert worlds() == expected
    assert not [each for each in bpy.data.materials if each.name.startswith("Playworn")]
    if way is not separate:  # what an artist has changed of a rounded mesh is theirs
        assert not [each for each in bpy.data.meshes if "rounded" in each.name]


def brought(path, linked):
    """The build of another file, linked or appended to an empty one."""
    files.new()
    with bpy.data.libraries.load(str(path), link=linked) as (_there, here):
        here.collections = ["build"]
    build = bpy.data.collections["build"]
    bpy.context.scene.collection.children.link(build)
    return build


def test_a_build_cleared_leaves_what_has_left_another():
    first, second = wall(), wall()
    for build in (first, second):
        usecases.apply(build, PRESET, usecases.Dials(seed=7))
    move_out(second)
    strays = list(elsewhere().objects)
    usecases.clear(first)
    assert all(map(worn, strays))
    assert usecases.clear(second).outside == len(strays)
    assert not any(map(worn, bpy.data.objects))
    assert not any(name in bpy.context.scene for name in (stamps.WEAR, *stamps.MORE.values()))


def test_a_build_that_is_gone_is_told_and_everything_finds_its_bricks():
    build = wall()
    before = worlds()
    usecases.apply(build, PRESET, usecases.Dials(seed=7))
    move_out(build)
    bpy.data.collections.remove(build)
    with pytest.raises(BuildProblem, match="outside of builds are still worn: clear everything"):
        usecases.clear(elsewhere())
    usecases.clear_everything()
    after = worlds()
    assert all(after[name] == before[name] for name in after)
    assert not any(map(worn, bpy.data.objects))


@pytest.mark.parametrize("rounding", ROUNDINGS)
def test_everything_leaves_nothing_of_ours(rounding):
    build = wall()
    before = all_of_it()
    usecases.apply(build, PRESET, usecases.Dials(seed=7, rounding=rounding))
    usecases.pin(build, build.objects[:2])
    usecases.roll_again(build, build.objects[5:7])
    usecases.count_in(build, build.objects[:1])
    scene = bpy.context.scene
    scene.playworn.build = build
    camera = scenes.put(scene.collection, None, "camera")
    camera = bpy.data.objects.new("shot", bpy.data.cameras.new("shot"))
    scene.collection.objects.link(camera)
    scene.camera = camera
    usecases.find_shots(scene)
    assert "playworn_shots" in scene
    bpy.data.screens[0]["playworn_shading"] = "{}" if bpy.data.screens else None
    for block in (*bpy.data.meshes, *bpy.data.materials, *bpy.data.node_groups, *bpy.data.images):
        block.use_fake_user = block.name not in ("red", "2x4", "1x1", "bare", "plain")
    assert len(traces.marked()[0]) > len(build.objects)
    done = usecases.clear_everything()
    assert (done.builds, done.bricks) == (1, len(build.objects))
    assert [(each.bl_rna.name, each.name) for each in traces.marked()[0]] == []
    for kind in ("materials", "meshes", "node_groups", "images", "actions"):
        assert [each.name for each in getattr(bpy.data, kind) if "layworn" in each.name or "rounded" in each.name] == []
    for thing in ("camera", "shot"):
        bpy.data.objects.remove(bpy.data.objects[thing])
    bpy.data.cameras.remove(bpy.data.cameras["shot"])
    after = all_of_it()
    assert [part for part in before if before[part] != after[part]] == []


def test_everything_fails_whole():
    build = wall()
    usecases.apply(build, PRESET, usecases.Dials(seed=7, rounding=GEOMETRY))
    usecases.pin(build, build.objects[:2])
    bpy.context.scene.playworn.build = build
    before = all_of_it()

    def fails() -> None:
        with transaction():
            usecases.clear_everything()
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fails()
    after = all_of_it()
    assert [part for part in before if before[part] != after[part]] == []
    assert bpy.context.scene.playworn.build == build
    assert state.is_marked(build)


def test_a_file_without_anything_of_ours_is_told_so():
    wall()
    before = all_of_it()
    assert "nothing of Playworn" in usecases.clear_everything().sentence
    assert all_of_it() == before


def test_what_other_files_keep_is_told_and_left(tmp_path):
    build = wall()
    usecases.apply(build, PRESET, usecases.Dials(seed=7))
    usecases.save(tmp_path / "library.blend")
    brought(tmp_path / "library.blend", linked=True)
    stood = worlds()
    with pytest.raises(BuildProblem, match="is linked from another file: clear it there"):
        usecases.clear(bpy.data.collections["build"])
    done = usecases.clear_everything()
    assert done.linked
    assert "of other files keep" in done.sentence
    assert worlds() == stood


def test_an_appended_build_clears_exactly(tmp_path):
    before = scenes.transforms(wall().objects)
    build = bpy.data.collections["build"]
    usecases.apply(build, PRESET, usecases.Dials(seed=7))
    usecases.save(tmp_path / "worn.blend")
    build = brought(tmp_path / "worn.blend", linked=False)
    usecases.clear(build)
    assert scenes.transforms(build.objects) == before
    assert traces.marked()[0] == []


def test_an_overridden_build_clears_exactly(tmp_path):
    wall()
    usecases.save(tmp_path / "library.blend")
    linked = brought(tmp_path / "library.blend", linked=True)
    linked.override_hierarchy_create(bpy.context.scene, bpy.context.view_layer, do_fully_editable=True)
    build = next(room for room in bpy.data.collections if room.override_library)
    before = scenes.transforms(build.objects)
    usecases.apply(build, PRESET, usecases.Dials(seed=7))
    assert scenes.transforms(build.objects) != before
    usecases.save(tmp_path / "shot.blend")
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "shot.blend"))
    usecases.clear_everything()  # what is raw on an override Blender does not keep: no collection is marked any more
    build = next(room for room in bpy.data.collections if room.override_library)
    assert scenes.transforms(build.objects) == before
    usecases.save(tmp_path / "cleared.blend")
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "cleared.blend"))
    build = next(room for room in bpy.data.collections if room.override_library)
    assert scenes.transforms(build.objects) == before
    assert not deltas.carrying(Columns(build)).any()
