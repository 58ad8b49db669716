"""Which bricks and builds a command takes: balls left alone, several builds, several files, and what is none."""

import json
from pathlib import Path

import bmesh
import bpy
import pytest

from addon import usecases
from addon.scene import files
from tests.blender import scenes
from tests.blender.cli.folders import DONE, WRONG, answer, contents, text


@pytest.fixture
def mixed(somewhere) -> Path:
    """The wall, and a ball on the ground beside it."""
    wall = scenes.wall()
    mesh = bpy.data.meshes.new("ball")
    form = bmesh.new()
    bmesh.ops.create_uvsphere(form, u_segments=12, v_segments=8, radius=0.02)
    form.to_mesh(mesh)
    form.free()
    scenes.put(wall, mesh, "ball", (0.2, 0.1, 0.02))
    usecases.save(somewhere / "mixed.blend")
    return Path("mixed.blend")


def test_what_is_no_brick_is_left_alone_unless_it_is_included(run, mixed):
    told = answer(run("inspect", mixed, "--json"))
    assert told["bricks"] == 17
    assert [each["object"] for each in told["left_out"]] == ["ball"]
    assert "ball: has no studs" in run("inspect", mixed)[1]
    assert answer(run("inspect", mixed, "--include", "b*l", "--json"))["bricks"] == 18
    assert answer(run("inspect", mixed, "--leave", "part.00*", "--json"))["bricks"] == 1

    out = ("--preset", "fresh", "--out", "worn.blend", "--json")
    assert [each["object"] for each in answer(run("apply", mixed, *out))["skipped"]] == ["ball"]
    assert answer(run("apply", mixed, "--include", "ball", *out))["bricks"] == 18
    assert answer(run("inspect", "worn.blend", "--json"))["bricks"] == 18  # the word is kept in the file


def test_a_file_without_a_build_is_refused_by_apply_and_told_by_inspect(run, mixed, somewhere):
    usecases.open_build(mixed)
    bpy.data.batch_remove([thing for thing in bpy.data.objects if thing.name != "ball"])
    usecases.save(somewhere / "ball.blend")
    before = contents(somewhere)
    for named in ((), ("--build", "build")):
        code, out, err = run("apply", "ball.blend", "--preset", "fresh", "--out", "worn.blend", *named)
        assert (code, out) == (WRONG, "")
        assert "is no brick build" in err.splitlines()[-1]
        assert "--include" in err.splitlines()[-1]
    assert contents(somewhere) == before
    told = answer(run("inspect", "ball.blend", "--json"))
    assert told["bricks"] == 0
    assert "is no brick build" in told["warnings"][0]


def test_a_name_to_include_that_nothing_has_is_refused(run, build, somewhere):
    before = contents(somewhere)
    code, out, err = run("apply", build, "--include", "spider", "--preset", "fresh", "--out", "worn.blend")
    assert (code, out) == (WRONG, "")
    assert '"spider"' in err
    assert contents(somewhere) == before


MODELS = Path("/usr/share/assimp/models")  # of Debian's package assimp-testmodels: made by many hands, none a build
OTHERS = (
    "FBX/spider.fbx", "OBJ/spider.obj", "STL/Spider_binary.stl", "OBJ/WusonOBJ.obj", "FBX/box.fbx",
    "FBX/huesitos.fbx", "FBX/cubes_with_names.fbx", "PLY/cube.ply", "OBJ/box.obj",
    "glTF2/2CylinderEngine-glTF-Binary/2CylinderEngine.glb",
)  # fmt: skip


@pytest.mark.skipif(not MODELS.is_dir(), reason="assimp-testmodels is not installed")
@pytest.mark.parametrize("model", OTHERS)
def test_models_that_are_no_build_are_refused(run, model, somewhere):
    code, out, err = run("apply", MODELS / model, "--preset", "fresh", "--out", "worn.blend")
    assert (code, out) == (WRONG, "")
    assert "is no brick build" in err.splitlines()[-1]
    assert not (somewhere / "worn.blend").exists()


def test_several_files_and_builds_get_a_table_and_an_exit_code(run, somewhere, build):
    scenes.collection("second")
    usecases.save(somewhere / "two.blend")
    (somewhere / "out").mkdir()
    text(somewhere, "broken.blend", "no file of Blender")
    words = ("apply", build, "broken.blend", "two.blend", "--preset", "fresh", "--out-dir", "out")
    code, out, err = run(*words, "--json", "--report", "told.json")
    assert code == WRONG
    told = json.loads(out)
    assert json.loads(Path("told.json").read_text(encoding="utf-8")) == told
    assert [(each["file"], each["bricks"]) for each in told["builds"]] == [
        ("wall.blend", 17), ("broken.blend", 0), ("two.blend", 17),
    ]  # fmt: skip
    assert "cannot be read as a .blend file" in told["builds"][1]["result"]
    assert told["files"] == ["out/wall.blend", "out/two.blend"]
    assert sorted(path.name for path in Path("out").iterdir()) == ["two.blend", "wall.blend"]
    assert "1 of 3 are as they were" in err
    code, out, _ = run("apply", build, "two.blend", "--preset", "fresh", "--out-dir", "out")
    assert code == DONE
    assert "done" in out


def test_builds_are_chosen_by_name_or_all_at_once(run, somewhere):
    files.new()
    for name in ("castle", "tower"):
        scenes.wall().name = name
    usecases.save(somewhere / "both.blend")
    words = ("apply", "both.blend", "--preset", "fresh", "--out", "worn.blend", "--json")
    told = answer(run(*words, "--build", "tower"))
    assert (told["build"], told["bricks"]) == ("tower", 17)
    assert answer(run("check", "worn.blend", "--build", "tower", "--json"))["moved"] > 0
    assert answer(run("check", "worn.blend", "--build", "castle", "--json"))["moved"] == 0
    for scope in (("--all", "scene"), ("--all", "file"), ("--build", "castle", "--build", "tower")):
        told = answer(run(*words, *scope))
        assert [(each["build"], each["result"]) for each in told["builds"]] == [("castle", "done"), ("tower", "done")]
    assert answer(run("clear", "worn.blend", "--build", "castle", "--out", "bare.blend", "--json"))["build"] == "castle"
    code, _, err = run(*words, "--build", "keep")
    assert code == WRONG
    assert 'no build called "keep"' in err


def test_window_and_wall_are_angles_or_things_of_the_file(run, mixed):
    """The ball stands at (200, 100) mm and the middle of the bricks near (56, 4): about 34 degrees, by arc tangent."""
    told = "--preset", "sun-window", "--out", "worn.blend"
    assert run("apply", mixed, *told, "--window", "ball", "--wall", "180", "--set", "story.grip=-1")[0] == DONE
    state = usecases.recall(usecases.open_build(Path("worn.blend")))
    assert (state.window_deg, state.wall_deg, state.preset.story.grip) == (pytest.approx(34.0, abs=3.0), 180.0, -1.0)
    for wrong, word in ((("--wall", "shelf"), "no object"), (("--wall", "400"), "from 0 to 360")):
        code, _, err = run("apply", mixed, *told, *wrong)
        assert code == WRONG
        assert word in err.splitlines()[-1]
