"""Half an export is told to be one: refused, or with a sentence where the format leaves nothing to know."""

import bpy
import pytest

from addon.core.errors import FileProblem
from addon.scene import files
from addon.scene.exports import importers
from tests.blender import scenes

WRITTEN = {
    "obj": lambda path: bpy.ops.wm.obj_export(filepath=path, global_scale=1000),
    "ply": lambda path: bpy.ops.wm.ply_export(filepath=path, global_scale=1000),
    "text.ply": lambda path: bpy.ops.wm.ply_export(filepath=path, global_scale=1000, ascii_format=True),
    "stl": lambda path: bpy.ops.wm.stl_export(filepath=path, global_scale=1000),
    "text.stl": lambda path: bpy.ops.wm.stl_export(filepath=path, global_scale=1000, ascii_format=True),
    "glb": lambda path: bpy.ops.export_scene.gltf(filepath=path),
    "gltf": lambda path: bpy.ops.export_scene.gltf(filepath=path, export_format="GLTF_SEPARATE"),
    "fbx": lambda path: bpy.ops.export_scene.fbx(filepath=path),
    "usda": lambda path: bpy.ops.wm.usd_export(filepath=path),
    "usdc": lambda path: bpy.ops.wm.usd_export(filepath=path),
}


def written(kind, folder):
    scenes.wall()
    path = folder / f"whole.{kind}"
    WRITTEN[kind](str(path))
    files.new()
    return path


def brought(path):
    """How many bricks came in, and what was said; none where it was refused."""
    files.new()
    try:
        room, found = importers.bring(path)
    except FileProblem as problem:
        return 0, str(problem)
    return sum(thing.type == "MESH" for thing in room.all_objects), " ".join(found.warnings)


@pytest.mark.shared_out
@pytest.mark.parametrize("kind", WRITTEN)
def test_no_half_is_taken_in_silence(kind, tmp_path):
    whole = written(kind, tmp_path)
    bricks, told = brought(whole)
    assert bricks == 17
    assert "may be cut" not in told
    data = whole.read_bytes()
    for share in (0.55, 0.97):
        cut = tmp_path / f"cut.{kind}"
        cut.write_bytes(data[: int(share * len(data))])
        bricks, told = brought(cut)
        assert not bricks or "may be cut" in told, f"{share:.0%} of it: {bricks} bricks, {told}"


def test_the_buffer_beside_a_gltf_is_cut(tmp_path):
    whole = written("gltf", tmp_path)
    (buffer,) = tmp_path.glob("*.bin")
    buffer.write_bytes(buffer.read_bytes()[:-4000])
    assert brought(whole)[0] == 0


def test_an_obj_that_ends_between_two_lines(tmp_path):
    whole = written("obj", tmp_path)
    lines = whole.read_bytes().splitlines(keepends=True)
    last = max(n for n, line in enumerate(lines) if line.startswith(b"o "))
    for end in (last + 1, last + 5):  # its name alone, and some of its corners
        whole.write_bytes(b"".join(lines[:end]))
        bricks, told = brought(whole)
        assert bricks == 16
        assert "ends before the faces of its last object" in told


@pytest.mark.parametrize(
    ("face", "astray"), [("f 1 2 99999", 1), ("f 1 2 -99999", 1), ("f 1//99999 2//1 3//1", 1), ("f 1 1 1", 0)]
)
def test_faces_of_an_obj_that_blender_drops_are_not_dropped_in_silence(face, astray, tmp_path):
    whole = written("obj", tmp_path)
    whole.write_text(whole.read_text() + face + "\n")
    bricks, told = brought(whole)
    assert (bricks, "1 of its faces lead to corners" in told) == ((0, True) if astray else (17, False))
