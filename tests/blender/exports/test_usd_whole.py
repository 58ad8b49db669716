"""Which USD files need no trial reading: those that Pixar's own library reads as meshes with lists that fit."""

import bpy
import pytest

from addon.core.errors import FileProblem
from addon.scene.exports import importers, trial, usd_whole

FILE = """#usda 1.0
(
    metersPerUnit = 0.001
    upAxis = "Z"
)
def Xform "build" {
    def Xform "part" {
        def Mesh "brick" (prepend apiSchemas = ["MaterialBindingAPI"]) {
            rel material:binding = </build/red>
            int[] faceVertexCounts = [3, 3, 3, 3]
            int[] faceVertexIndices = [0, 2, 1, 0, 1, 3, 1, 2, 3, 2, 0, 3]
            point3f[] points = [(0, 0, 0), (16, 0, 0), (0, 16, 0), (0, 0, 9.6)]
            normal3f[] normals = [(0, 0, -1), (0, -1, 0), (1, 1, 1), (-1, 0, 0)] (interpolation = "uniform")
            texCoord2f[] primvars:st = [(0, 0), (1, 0)] (interpolation = "vertex")
            int[] primvars:st:indices = [0, 1, 1, 0]
            double3 xformOp:translate = (8, 0, 0)
            uniform token[] xformOpOrder = ["xformOp:translate"]
            def GeomSubset "some" {
                uniform token elementType = "face"
                uniform token familyName = "materialBind"
                int[] indices = [0, 3]
            }
        }
    }
    def "copy" (
        instanceable = true
        references = </build/part>
    ) {
        double3 xformOp:translate = (40, 0, 0)
    }
    def Material "red" {
        token outputs:surface.connect = </build/red/surface.outputs:surface>
        def Shader "surface" {
            uniform token info:id = "UsdPreviewSurface"
            color3f inputs:diffuseColor = (0.7, 0.1, 0.1)
            token outputs:surface
        }
    }
}
"""
SPOILED = {
    "a corner that is not there": ("[0, 2, 1,", "[0, 2, 4,"),
    "a corner before the first": ("[0, 2, 1,", "[0, 2, -1,"),
    "faces of more corners than there are": ("[3, 3, 3, 3]", "[3, 3, 3, 4]"),
    "a face of two corners": ("[3, 3, 3, 3]", "[3, 3, 4, 2]"),
    "no number": ("(16, 0, 0)", "(nan, 0, 0)"),
    "a place that is no number": ("(8, 0, 0)", "(inf, 0, 0)"),
    "too few normals": ("[(0, 0, -1), (0, -1, 0)", "[(0, 0, -1)"),
    "a number that leads nowhere": ("[0, 1, 1, 0]", "[0, 1, 2, 0]"),
    "too few numbers": ("[0, 1, 1, 0]", "[0, 1, 1]"),
    "a face of a subset that is not there": ("indices = [0, 3]", "indices = [0, 4]"),
    "values over time": ("xformOp:translate = (8, 0, 0)", "xformOp:translate.timeSamples = { 1: (8, 0, 0) }"),
    "a shader that feeds itself": (
        "inputs:diffuseColor = (0.7, 0.1, 0.1)",
        "inputs:diffuseColor.connect = </build/red/surface.outputs:surface>",
    ),
    "a shader that no one knows": ("UsdPreviewSurface", "Marble"),
    "a list of holes": ("int[] faceVertexCounts", "int[] holeIndices = [99]\n            int[] faceVertexCounts"),
    "a curve": ('def "copy" (', 'def BasisCurves "wire" {}\n    def "copy" ('),
    "a skeleton": ("rel material:binding = ", "rel skel:skeleton = </build>\n            rel material:binding = "),
    "no file": ("#usda 1.0", "#usda"),
}


bpy.utils.expose_bundled_modules()


def is_whole(tmp_path, text):
    path = tmp_path / "build.usda"
    path.write_text(text)
    return usd_whole.looked_at(path) is not None


def test_a_whole_file_is_told_and_read(tmp_path):
    assert is_whole(tmp_path, FILE)
    room, _ = importers.bring(tmp_path / "build.usda", keep_objects=True)
    assert sum(obj.type == "MESH" for obj in room.all_objects) == 2


@pytest.mark.parametrize("what", SPOILED)
def test_a_file_with_anything_open_is_not(what, tmp_path):
    good, bad = SPOILED[what]
    assert FILE.count(good) == 1
    assert not is_whole(tmp_path, FILE.replace(good, bad))


LUCK = {  # Blender 4.5 and 5.0 died of these in one reading of six
    "fewer": ("[3, 3, 3, 3]", "[3, 3, 0, 3]"),
    "more": ("[3, 3, 3, 3]", "[3, 3, 3, 4]"),
    "more than there are faces": ("[0, 2, 1, 0, 1, 3, 1, 2, 3, 2, 0, 3]", "[0, 2, 1, 0, 1, 3, 1, 2, 3, 2, 0, 3, 0]"),
}


@pytest.mark.shared_out
@pytest.mark.parametrize("what", LUCK)
def test_corners_that_the_faces_do_not_ask_for_are_refused_by_rule_and_not_by_luck(what, tmp_path):
    """OpenUSD, UsdGeomMesh: the face counts add up to the number of face vertex indices."""
    good, bad = LUCK[what]
    path = tmp_path / "build.usda"
    path.write_text(FILE)
    assert not usd_whole.misfits(path)
    path.write_text(FILE.replace(good, bad))
    assert usd_whole.misfits(path)
    with pytest.raises(FileProblem, match="its lists do not fit"):
        importers.bring(path)
    assert not bpy.data.meshes


def test_values_over_time_are_asked_at_their_first(tmp_path):
    path, times = tmp_path / "build.usda", "faceVertexCounts.timeSamples = {{ 1: [3, 3, 3, {}] }}"
    for last, is_misfit in ((3, False), (2, True)):
        path.write_text(FILE.replace("faceVertexCounts = [3, 3, 3, 3]", times.format(last)))
        assert usd_whole.misfits(path) == is_misfit


def test_what_blender_writes_is_whole_in_every_form(tmp_path):
    bpy.ops.mesh.primitive_cube_add(size=0.016)
    bpy.context.object.data.color_attributes.new("tint", "FLOAT_COLOR", "CORNER")
    bpy.context.object.data.materials.append(bpy.data.materials.new("red"))
    for kind in ("usda", "usdc", "usdz"):
        path = tmp_path / f"cube.{kind}"
        bpy.ops.wm.usd_export(filepath=str(path), export_lights=False, convert_world_material=False)
        assert usd_whole.looked_at(path) is not None, kind


@pytest.fixture
def tried(monkeypatch):
    """Which files a whole Blender was asked to try."""
    found = []
    monkeypatch.setattr(trial, "survive", lambda path, name: found.append(path.read_text()) or iter(()))
    return found


def test_no_blender_tries_a_whole_file(tmp_path, tried):
    """It takes longer to start than most files to be asked about, and to read as long as the reading itself."""
    path, open_ = tmp_path / "build.usda", FILE.replace("UsdPreviewSurface", "Marble")
    for text in (FILE, open_):
        path.write_text(text)
        list(importers.trying(path))
    assert tried == [open_]


def test_a_python_that_cannot_be_asked_or_dies_of_it_says_nothing(tmp_path, tried, monkeypatch):
    path = tmp_path / "build.usda"
    path.write_text(FILE)
    for name, value in (("executable", str(tmp_path / "blender")), ("path", [])):
        with monkeypatch.context() as patched:
            patched.setattr(trial.sys, name, value)
            patched.setattr(bpy.utils, "expose_bundled_modules", lambda: None)
            list(importers.trying(path))
    folder = tmp_path / "addon" / "scene" / "exports"
    folder.mkdir(parents=True)
    for each in (folder, *folder.parents[:2]):
        (each / "__init__.py").touch()
    (folder / "usd_whole.py").write_text("import os\ndef stand(name):\n    os.abort()\n")
    monkeypatch.setattr(trial, "ROOT", tmp_path)
    list(importers.trying(path))
    assert tried == [FILE] * 3
