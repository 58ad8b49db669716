"""One preset on several builds, several on one scene, and a look taken from another file."""

import json
from pathlib import Path

import bpy
import pytest

from addon import usecases
from addon.core.errors import BuildProblem, FileProblem, PresetProblem
from addon.core.report import DONE
from addon.scene import files
from addon.scene.build import builds, state
from addon.scene.presets import library
from addon.scene.wear import stamps
from tests.blender import scenes


@pytest.fixture(autouse=True)
def own(extension, tmp_path, monkeypatch) -> Path:
    folder = tmp_path / "presets"
    monkeypatch.setenv(library.FOLDER_VARIABLE, str(folder))
    monkeypatch.delenv(library.STUDIO_VARIABLE, raising=False)
    return folder


def wall(name: str, scene: bpy.types.Scene | None = None) -> bpy.types.Collection:
    """A wall of 9 bricks of its own mesh and material, in a scene."""
    room = scenes.wall(2, 4)
    room.name = name
    if scene:
        bpy.context.scene.collection.children.unlink(room)
        scene.collection.children.link(room)
    return room


def furniture() -> bpy.types.Collection:
    """A collection with two things of the size of bricks that hold nothing."""
    room = scenes.collection("furniture")
    cube = bpy.data.meshes.new("cube")
    corners = [(x, y, z) for x in (0, 0.02) for y in (0, 0.02) for z in (0, 0.02)]
    cube.from_pydata(corners, [], [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)])
    for n in range(2):
        scenes.put(room, cube, f"cube.{n}", (0.5 + 0.1 * n, 0, 0))
    bpy.context.view_layer.update()
    return room


def spread(rooms, name: str = "toy-box", **dials) -> dict[str, str]:
    done = usecases.apply_to_all(rooms, library.find_preset(name), usecases.Dials(**dials))
    return {outcome.build: outcome.result for outcome, _ in done}


def test_a_whole_scene_gets_a_preset_and_furniture_is_told():
    wall("castle"), wall("tower")
    other = furniture()
    before = scenes.transforms(other.objects)
    told = spread(usecases.builds_of_scene(bpy.context.scene))
    assert (told["castle"], told["tower"]) == (DONE, DONE)
    assert "is no brick build" in told["furniture"]
    assert scenes.transforms(other.objects) == before
    assert [room.name for room in state.marked()] == ["castle", "tower"]


def test_several_builds_keep_their_own_presets():
    castle, tower = wall("castle"), wall("tower")
    spread([castle], "fresh")
    before = scenes.transforms(castle.objects), castle[state.MARK]
    spread([tower], "toy-box", seed=5)
    assert (scenes.transforms(castle.objects), castle[state.MARK]) == before
    assert [usecases.recall(room).preset.name for room in (castle, tower)] == ["fresh", "toy-box"]
    usecases.clear(castle)
    assert usecases.recall(tower).preset.name == "toy-box"
    assert stamps.WEAR in bpy.context.scene


def test_a_material_of_two_builds_with_two_wears_is_told():
    castle, tower = wall("castle"), wall("tower")
    for thing in tower.objects:
        thing.data.materials[0] = castle.objects[0].data.materials[0]
    spread([castle], "fresh")
    done = usecases.apply(tower, library.find_preset("toy-box"), usecases.Dials())
    assert ("red", 'is on the build "castle" too, which shows this wear with it: give each a copy') in [
        (each.object, each.reason) for each in done.skipped
    ]
    assert spread([castle], "toy-box") == {"castle": DONE}
    assert not usecases.apply(tower, library.find_preset("toy-box"), usecases.Dials()).skipped


def test_builds_within_a_collection_are_found_as_their_artist_named_them():
    outer = scenes.collection("set")
    castle, tower = wall("castle"), wall("tower")
    for room in (castle, tower):
        bpy.context.scene.collection.children.unlink(room)
        outer.children.link(room)
    assert usecases.builds_of_scene(bpy.context.scene) == [outer], "halves of one model, until one has a look"
    spread([castle])
    assert usecases.builds_of_scene(bpy.context.scene) == [castle, tower]


def test_the_selection_means_the_builds_it_stands_in():
    castle, tower = wall("castle"), wall("tower")
    scene = bpy.context.scene
    assert usecases.builds_of_selection(scene, [tower.objects[3]]) == [tower]
    assert usecases.builds_of_selection(scene, [castle.objects[0], tower.objects[3]]) == [castle, tower]
    assert usecases.builds_of_selection(scene, []) == []


def test_every_scene_that_shows_a_build_shows_its_wear():
    """The scene's raw property is what shaders read; a scene without it would render the build clean."""
    castle, second, third = wall("castle"), bpy.data.scenes.new("second"), bpy.data.scenes.new("third")
    empty = bpy.data.scenes.new("empty")
    second.collection.children.link(castle)
    instance = bpy.data.objects.new("instance", None)
    instance.instance_type, instance.instance_collection = "COLLECTION", castle
    third.collection.objects.link(instance)
    spread([castle], wear=0.5)
    assert [scene.get(stamps.WEAR) for scene in (bpy.context.scene, second, third, empty)] == [0.5, 0.5, 0.5, None]
    usecases.dial_wear(castle, usecases.recall(castle).preset, usecases.Dials(wear=0.7))
    assert second[stamps.WEAR] == third[stamps.WEAR] == pytest.approx(0.7)
    usecases.clear(castle)
    assert not any(stamps.WEAR in scene for scene in bpy.data.scenes)


def test_all_scenes_of_a_file():
    second = bpy.data.scenes.new("second")
    castle, tower = wall("castle"), wall("tower", second)
    assert usecases.builds_of_file() == [castle, tower]
    assert spread(usecases.builds_of_file()) == {"castle": DONE, "tower": DONE}
    assert second[stamps.WEAR] == bpy.context.scene[stamps.WEAR] == 1.0


def test_a_build_is_found_by_name():
    wall("castle"), wall("tower")
    assert builds.named("tower").name == "tower"
    with pytest.raises(BuildProblem, match=r'no build called "keep": choose one of .*"castle".*"tower"'):
        builds.named("keep")


@pytest.fixture
def elsewhere(tmp_path) -> Path:
    """A file with two builds: one with a preset that no library has, one with a shipped preset."""
    castle, tower = wall("castle"), wall("tower")
    library.save_preset(library.find_preset("toy-box"), "harbour-day")
    usecases.delete_preset("harbour-day")
    usecases.restore_preset("harbour-day")
    spread([castle], "harbour-day", seed=3, looseness=1.5)
    spread([tower], "fresh")
    usecases.save(tmp_path / "elsewhere.blend")
    usecases.delete_preset("harbour-day")
    files.new()
    wall("mine")
    return tmp_path / "elsewhere.blend"


def everything() -> dict[str, list[str]]:
    return {
        name: [block.name_full for block in getattr(bpy.data, name)]
        for name in ("collections", "objects", "meshes", "materials", "libraries", "scenes", "node_groups", "images")
    }


def test_a_look_is_taken_from_another_file_without_its_json(elsewhere):
    before = everything()
    taken = usecases.take_look(elsewhere, "castle")
    assert (taken.name, taken.look.seed, taken.look.looseness) == ("harbour-day", 3, 1.5)
    assert library.find_preset("harbour-day").fit == library.find_preset("toy-box").fit
    assert everything() == before, "nothing of the other file stays in this one"
    again = usecases.take_look(elsewhere, "castle")
    assert (again.name, again.file) == ("harbour-day", None)
    assert usecases.take_look(elsewhere, "tower").file is None
    assert usecases.take_look(elsewhere, "tower", "like-new").name == "like-new"


def test_a_taken_look_never_takes_another_preset_s_place(elsewhere):
    library.save_preset(library.find_preset("attic"), "harbour-day")
    taken = usecases.take_look(elsewhere, "castle")
    assert taken.name == "harbour-day-2"
    assert library.find_preset("harbour-day").fit == library.find_preset("attic").fit
    with pytest.raises(PresetProblem, match="already"):
        usecases.take_look(elsewhere, "castle", "harbour-day")


def test_a_look_that_is_not_there_is_told(elsewhere, tmp_path):
    with pytest.raises(BuildProblem, match='holds several looks: name one of the builds "castle", "tower"'):
        usecases.take_look(elsewhere)
    with pytest.raises(BuildProblem, match='holds no build called "keep"'):
        usecases.take_look(elsewhere, "keep")
    usecases.save(tmp_path / "bare.blend")
    with pytest.raises(BuildProblem, match="no build with a look on it"):
        usecases.take_look(tmp_path / "bare.blend")
    for name, content in (("odd.blend", b"no file of Blender"), ("cut.blend", elsewhere.read_bytes()[:900])):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(FileProblem, match=r"cannot be read as a \.blend file"):
            usecases.take_look(tmp_path / name)
    for name in ("gone.blend", "odd.txt"):
        with pytest.raises(FileProblem):
            usecases.take_look(tmp_path / name)


def test_a_look_of_a_newer_playworn_is_told(elsewhere, tmp_path):
    room = bpy.data.collections["mine"]
    room[state.MARK] = json.dumps({"format": state.FORMAT + 1})
    usecases.save(tmp_path / "newer.blend")
    with pytest.raises(PresetProblem, match="newer Playworn"):
        usecases.take_look(tmp_path / "newer.blend")
