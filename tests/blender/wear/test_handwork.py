"""What an artist does to rounded bricks is there after whatever we do: as in a build that was never worn."""

import shutil
import tempfile
from dataclasses import replace
from pathlib import Path

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.errors import BuildProblem
from addon.core.pictures import png
from addon.core.wear.layers import Rub, Wear
from addon.core.wear.quality import GEOMETRY, SHADING
from addon.scene import files
from addon.scene.build.build import read
from addon.scene.wear import handwork, imprint, originals
from bench.ways.workshop import workshop
from tests.blender import scenes, turns
from tests.blender.build import versions
from tests.blender.scenes import put, transforms, wall
from tests.blender.sequences import builds
from tests.blender.shots.walls import artists_wall
from tests.blender.wear import hands

pytestmark = pytest.mark.usefixtures("extension")

PRESET = replace(scenes.PRESET, wear=Wear(0.2, rub=Rub(0.5)))
PICTURES = Path(tempfile.mkdtemp(prefix="playworn-hands-"))  # drawing those that stand in would take most of the time
DIALS = usecases.Dials(seed=7, textures=PICTURES, rounding=GEOMETRY)
OTHER = replace(PRESET, fit=replace(PRESET.fit, clearance_mm=0.04), wear=replace(PRESET.wear, rounding_mm=0.3))
LEFT_IN_A_CHANGED_MESH_MM = 0.6  # of motion and clearance, which joining or editing made part of the shape


@pytest.fixture(scope="module", autouse=True)
def pictures():
    PICTURES.mkdir(exist_ok=True)  # a worker may come back to this file
    for kind in ("scratches", "smudges", "dust"):
        grey = np.random.default_rng(0).random((64, 64))
        (PICTURES / f"{kind}.png").write_bytes(png.encode(grey))
    yield
    shutil.rmtree(PICTURES)


def nothing(build):
    pass


def dial(build):
    usecases.dial(build, PRESET, replace(DIALS, looseness=1.6))


def dial_clearance(build):
    usecases.dial(build, OTHER, DIALS)


def another_preset(build):
    usecases.apply(build, OTHER, DIALS)


def to_shading(build):
    usecases.apply(build, PRESET, replace(DIALS, rounding=SHADING))


def all_of_them(build):
    for job in (dial, another_preset, to_shading, another_preset, dial_clearance):
        job(build)


ONE_OF = (nothing, another_preset, to_shading)  # for each the next on the next Blender; bench/sequences.py mixes all
SHARINGS = {"shared": lambda bricks: None, "single": hands.single}


def bare(action, sharing) -> tuple[dict, dict, set]:
    """What the action leaves on a build that was never worn."""
    build = wall(2, 2)
    SHARINGS[sharing](list(build.objects))
    hands.ACTIONS[action](list(build.objects))
    return hands.seen(build), hands.boxes(build), hands.shared(build)


def clean() -> None:
    files.new()


@pytest.mark.shared_out
@pytest.mark.parametrize("sharing", SHARINGS)
@pytest.mark.parametrize("action", hands.ACTIONS)
def test_what_an_artist_did_is_there_after_all_we_do(action, sharing):
    wanted, boxes, shared = bare(action, sharing)
    turn = list(hands.ACTIONS).index(action) + list(SHARINGS).index(sharing) + turns.NUMBER
    for job in (all_of_them, ONE_OF[turn % 3]):
        clean()
        build = wall(2, 2)
        SHARINGS[sharing](list(build.objects))
        usecases.apply(build, PRESET, DIALS)
        hands.ACTIONS[action](list(build.objects))
        worn = hands.seen(build)
        job(build)
        assert _without_ours(hands.seen(build)) == _without_ours(worn), job.__name__
        told = usecases.clear(build)
        assert hands.seen(build) == wanted, job.__name__
        assert hands.shared(build) == shared, job.__name__
        assert hands.of_ours() == [], job.__name__
        near = LEFT_IN_A_CHANGED_MESH_MM if told.changed else 1e-4
        for name, box in hands.boxes(build).items():
            assert box == pytest.approx(boxes[name], abs=near), (job.__name__, name)


def _without_ours(seen: dict) -> dict:
    """What the artist sees while it is worn: what a twin is called, or who keeps it, says nothing."""
    return {name: {key: value for key, value in of.items() if key != "name"} for name, of in seen.items()}


def test_a_brick_that_is_edited_is_told_and_nothing_is_done():
    build = wall(2, 2)
    usecases.apply(build, PRESET, DIALS)
    thing = build.objects[0]
    hands.select(thing)
    bpy.ops.object.mode_set(mode="EDIT")
    before = transforms(build.objects), [each.data for each in build.objects]
    for job in (dial_clearance, another_preset, usecases.clear):
        with pytest.raises(BuildProblem, match="go back to Object Mode"):
            job(build)
    assert (transforms(build.objects), [each.data for each in build.objects]) == before
    bpy.ops.object.mode_set(mode="OBJECT")
    usecases.clear(build)
    assert hands.of_ours() == []


def test_origins_that_moved_leave_every_brick_where_it_was():
    build = artists_wall()
    before, stood = hands.boxes(build), transforms(build.objects)
    usecases.apply(build, PRESET, DIALS)
    worn = hands.boxes(build)
    hands.origins(list(build.objects))
    assert _off(hands.boxes(build), worn) < 1e-4
    dial(build)
    dial(build)
    usecases.dial(build, PRESET, DIALS)
    assert _off(hands.boxes(build), worn) < 1e-3
    usecases.clear(build)
    assert _off(hands.boxes(build), before) < 1e-4
    assert transforms(build.objects) != stood


def test_bricks_whose_mesh_is_painted_keep_their_motion_and_their_clearance():
    build = wall()
    usecases.apply(build, PRESET, DIALS)
    keys, worn, sat = read(build).bricks.key.tobytes(), hands.boxes(build), transforms(build.objects)
    for _ in range(3):
        hands.attribute(list(build.objects))
        usecases.apply(build, PRESET, DIALS)
        build.objects[0].data.attributes.remove(build.objects[0].data.attributes["dirt"])
    assert read(build).bricks.key.tobytes() == keys
    assert transforms(build.objects) == sat
    assert _off(hands.boxes(build), worn) == 0.0
    told = usecases.apply(build, PRESET, DIALS)
    assert {each.reason for each in told.skipped} == {handwork.KEPT}
    bevels = [node for tree in bpy.data.node_groups for node in tree.nodes if node.bl_idname == "ShaderNodeBevel"]
    assert not bevels  # its own mesh is round


def test_a_changed_mesh_is_told_once_in_a_dial_and_in_the_sentence_of_clear():
    build = wall(2, 2)
    usecases.apply(build, PRESET, DIALS)
    hands.single(list(build.objects))
    hands.edit(list(build.objects))
    told = usecases.dial(build, PRESET, replace(DIALS, looseness=0.5))
    assert [(each.object, each.reason) for each in told.skipped] == [(build.objects[0].name, handwork.KEPT)]
    assert usecases.dial(build, PRESET, replace(DIALS, looseness=0.6)).skipped == ()
    assert usecases.clear(build).sentence.endswith("; 1 brick keeps the mesh that you changed")


def test_meshes_that_nothing_needs_go_and_others_stay():
    build = wall(2, 2)
    mesh = build.objects[0].data
    outside = put(bpy.context.scene.collection, mesh, "outside")
    usecases.apply(build, PRESET, DIALS)
    hands.origins(list(build.objects))
    usecases.clear(build)
    assert outside.data == mesh
    assert build.objects[0].data != mesh
    assert sorted(each.name for each in bpy.data.meshes) == ["1x1", "2x4", "2x4.001"]


def test_bricks_rounded_twofold_share_the_mesh_that_was_named_when_its_origin_moved():
    builds.begin("sideways", 12)
    build = bpy.data.collections["build"]
    bricks = [build.objects["holed-4 3"], build.objects["holed-4 6"]]
    before = hands.boxes(build)
    assert bricks[0].data == bricks[1].data
    usecases.apply(build, PRESET, DIALS)
    assert bricks[0].data != bricks[1].data
    bricks[0].data.name = "door"
    hands.origins(bricks)
    another_preset(build)
    usecases.clear(build)
    assert {each.data.name for each in bricks} == {"door"}
    assert len([each for each in bpy.data.meshes if each.name.startswith("holed-4-mustard")]) == 0
    assert _off(hands.boxes(build), before) < 1e-3


def test_a_twin_that_others_show_goes_with_what_was_done_to_it():
    build = wall(2, 2)
    usecases.apply(build, PRESET, DIALS)
    outside = put(bpy.context.scene.collection, build.objects[0].data, "outside")
    hands.uv_map(list(build.objects))
    usecases.clear(build)
    assert outside.data == build.objects[0].data
    assert "by hand" in outside.data.uv_layers


def test_a_copy_of_a_twin_with_a_number_behind_its_name_brings_no_name_along():
    build = wall(1, 2)
    one = build.objects[0]
    kept = bpy.data.meshes.new(f"{one.data.name} rounded")
    kept.use_fake_user = True
    usecases.apply(build, PRESET, DIALS)
    assert one.data.name.endswith(" rounded.001")
    other = one.copy()
    other.data = one.data.copy()
    build.objects.link(other)
    usecases.clear(build)
    assert not any("rounded" in mesh.name for mesh in bpy.data.meshes if mesh != kept)


def _duplicated(thing):
    hands.duplicated([thing])


def _slots_removed(bricks):
    bricks[0].data.materials.clear()


def _turned_alone(thing):
    """Apply Rotation, of a brick that was made a single user for it: its rounded mesh is a copy, and turned."""
    hands.select(thing)
    bpy.ops.object.make_single_user(object=True, obdata=True)
    thing.rotation_euler.z = 1.0
    bpy.ops.object.transform_apply(location=False)


@pytest.mark.parametrize("copied", [_duplicated, _turned_alone])
@pytest.mark.parametrize("action", [hands.assigned, _slots_removed])
def test_a_copy_of_a_twin_has_nothing_of_what_was_done_to_the_other_afterwards(copied, action):
    shown = []
    for is_worn in (False, True):
        clean()
        build = wall(2, 2)
        if is_worn:
            usecases.apply(build, PRESET, DIALS)
        copied(build.objects[0])
        action(build.objects[1:])
        if is_worn:
            usecases.clear(build)
        shown.append({thing.name: [each.name for each in thing.data.materials] for thing in build.objects})
    assert shown[0] == shown[1]
    assert shown[0][bpy.context.object.name] != shown[0][build.objects[1].name]


def test_a_twin_whose_original_was_removed_stays():
    build = wall(2, 2)
    usecases.apply(build, PRESET, DIALS)
    twin = build.objects[0].data
    bpy.data.meshes.remove(originals.original(twin))
    usecases.clear(build)
    assert build.objects[0].data == twin
    assert hands.of_ours() == []


def test_a_brick_whose_transforms_were_applied_is_measured_by_what_it_became():
    build = wall(2, 2)
    hands.all_alone(list(build.objects))
    usecases.apply(build, PRESET, replace(DIALS, looseness=0.0))
    thing = build.objects[0]
    thing.rotation_euler.z = 1.0
    hands.select(thing)
    bpy.ops.object.transform_apply(location=False)
    turned = imprint.change(thing.data, [thing])
    assert turned is not None
    assert turned.is_light
    told = usecases.clear(build)
    assert not told.changed
    assert len(thing.data.vertices) == len(build.objects[1].data.vertices)
    sides = np.ptp(hands.boxes(build)[thing.name], axis=0)
    assert sides[:2] == pytest.approx(
        (32 * np.cos(1.0) + 16 * np.sin(1.0), 32 * np.sin(1.0) + 16 * np.cos(1.0)), abs=0.3
    )


def test_undo_brings_a_worn_build_back_with_what_was_done_to_it():
    build = wall(2, 2)
    usecases.apply(build, PRESET, DIALS)
    hands.uv_map(list(build.objects))
    bpy.ops.ed.undo_push(message="painted")
    usecases.clear(bpy.data.collections["build"])
    bpy.ops.ed.undo_push(message="cleared")
    bpy.ops.ed.undo()
    build = bpy.data.collections["build"]
    assert usecases.is_applied(build)
    assert originals.SHAPE in build.objects[0].data
    usecases.clear(build)
    assert "by hand" in build.objects[0].data.uv_layers
    assert hands.of_ours() == []


@pytest.mark.shared_out
def test_an_update_leaves_it_too(tmp_path):
    bricks = workshop(24)
    build = usecases.bring_in(versions.export(tmp_path, "first", bricks))
    usecases.apply(build, PRESET, DIALS)
    things = read(build).objects
    painted, dyed = things[0], next(thing for thing in things if thing.data != things[0].data)
    hands.uv_map([painted])
    dyed.data.materials[0] = hands.material("by hand")
    told, _ = usecases.update(build, versions.export(tmp_path, "next", versions.recoloured(bricks[:15] + bricks[17:])))
    assert handwork.KEPT in {each.reason for each in told.skipped}
    for clear in (lambda _: None, usecases.clear):
        clear(build)
        assert "by hand" in painted.data.uv_layers
        assert dyed.data.materials[0].name == "by hand"
    assert not [mesh.name for mesh in bpy.data.meshes for name in mesh.keys() if name.startswith("playworn")]  # noqa: SIM118


def _off(boxes: dict[str, np.ndarray], others: dict[str, np.ndarray]) -> float:
    """How far objects lie from where they lay, mm."""
    return max(float(np.abs(box - others[name]).max()) for name, box in boxes.items())
