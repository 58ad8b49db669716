"""What stands below prims without a type, and what is missing.

Text written here after AOUSD's Core Specification 1.0: a prim without a type has no place of its own, so what is below
it stands where the next one above that has a place puts it.
"""

import bpy
import pytest

from addon.scene.exports import importers, usd, usd_gaps, usd_whole

STONE = """
def Mesh "stone" {
    int[] faceVertexCounts = [3, 3, 3, 3]
    int[] faceVertexIndices = [0, 2, 1, 0, 1, 3, 1, 2, 3, 0, 3, 2]
    point3f[] points = [(0, 0, 0), (3, 0, 0), (0, 2, 0), (0, 0, 1)]
    double3 xformOp:translate = (0, 0, 0.5)
    uniform token[] xformOpOrder = ["xformOp:translate"]
}
"""
HEAD = '#usda 1.0\n( defaultPrim = "top"\n metersPerUnit = 1\n upAxis = "Z" )\n'


def xform(name, place, inner, said=""):
    said = f"({said})" if said else ""
    return f"""
    def Xform "{name}" {said}
    {{
        double3 xformOp:translate = {place}
        uniform token[] xformOpOrder = ["xformOp:translate"]
        {inner}
    }}
    """


def places():
    bpy.context.view_layer.update()
    found = [obj.matrix_world.translation for obj in bpy.data.objects if obj.type == "MESH"]
    return sorted(tuple(round(each, 4) for each in place) for place in found)


FILES = {
    "gap": xform("top", (10, 0, 0), 'def "gap"\n{\n' + STONE + "}\n"),
    "two gaps": xform("top", (10, 0, 0), 'def "gap"\n{\ndef "again"\n{\n' + STONE + "}\n}\n"),
    "gap at the root": 'def "top"\n{\n' + xform("a", (10, 0, 0), STONE) + "}",
    "scope": xform("top", (10, 0, 0), 'def Scope "gap"\n{\n' + STONE + "}\n"),
}


@pytest.mark.parametrize("text", FILES.values(), ids=FILES)
def test_a_prim_without_a_type_hands_on_its_parents_place(text, tmp_path):
    path = tmp_path / "wall with spaces é.usda"
    path.write_text(HEAD + text, encoding="utf-8")
    usd.load(path)
    assert places() == [(10.0, 0.0, 0.5)]
    assert [each.name for each in tmp_path.iterdir()] == [path.name]


PLAIN = {
    "gap": False,
    "two gaps": False,
    "gap at the root": True,
    "scope": True,
    "a part of another file": False,
    "a part below a prim without a type": False,
}
FILES_ASKED = FILES | {
    "a part of another file": xform("top", (10, 0, 0), 'def Xform "part" (references = @part.usda@)\n{\n}\n'),
    "a part below a prim without a type": 'class "parts"\n{\n def "part"\n{\n'
    + STONE
    + "}\n}\n"
    + xform("top", (10, 0, 0), "", "instanceable = true\n references = </parts/part>"),
}


@pytest.mark.parametrize("what", PLAIN)
def test_a_file_that_stands_alone_without_gaps_is_told(what, tmp_path, monkeypatch):
    """It need not be opened here, where its gaps would be looked for and what it lacks."""
    path = tmp_path / "wall.usda"
    (tmp_path / "part.usda").write_text(HEAD.replace("top", "part") + 'def Xform "part"\n{\n' + STONE + "}\n")
    path.write_text(HEAD + FILES_ASKED[what])
    assert usd_whole.looked_at(path).is_plain == PLAIN[what]
    opened = []
    monkeypatch.setattr(usd_gaps, "typed", lambda path, typed=usd_gaps.typed: opened.append(path) or typed(path))
    importers.bring(path, keep_objects=True)
    assert opened == ([] if PLAIN[what] else [path])


@pytest.mark.parametrize("name", ["Cube", "build/Cube"])
@pytest.mark.parametrize("shape", [False, True])
def test_a_prim_without_a_type_beside_a_build_changes_no_scale(name, shape, tmp_path):
    """A build in millimetres, written by Pixar's library; with a prim that has no type, a solid in it or nothing."""
    bpy.utils.expose_bundled_modules()
    from pxr import Gf, Sdf, Usd, UsdGeom

    stage = Usd.Stage.CreateNew(str(tmp_path / "wall.usda"))
    UsdGeom.SetStageMetersPerUnit(stage, 0.001)
    UsdGeom.SetStageUpAxis(stage, UsdGeom.Tokens.z)
    stage.SetDefaultPrim(UsdGeom.Xform.Define(stage, "/build").GetPrim())
    for n in range(24):
        brick = UsdGeom.Cube.Define(stage, f"/build/brick{n}")
        brick.CreateSizeAttr(1)
        brick.AddTranslateOp().Set(Gf.Vec3d(32 * (n % 4) + 16 * (n // 12), 16 * (n // 4 % 3), 9.6 * (n // 12)))
        brick.AddScaleOp().Set(Gf.Vec3f(31.8, 15.8, 9.6))
    stage.GetRootLayer().Save()
    spec = Sdf.CreatePrimInLayer(stage.GetRootLayer(), f"/{name}")
    spec.specifier = Sdf.SpecifierDef
    if shape:
        UsdGeom.Cube.Define(stage, f"/{name}/Cube").CreateSizeAttr(20)
    stage.GetRootLayer().Save()
    assert not stage.GetPrimAtPath(f"/{name}").GetTypeName()
    room, found = importers.bring(tmp_path / "wall.usda")
    sizes = [tuple(round(1000 * side, 1) for side in obj.dimensions) for obj in room.objects if obj.type == "MESH"]
    assert found.mm_per_unit == 1000.0
    assert sizes.count((31.8, 15.8, 9.6)) == 24
    assert len(sizes) == 24 + shape


@pytest.mark.parametrize("instanced", ["true", "false"])
def test_within_instances_of_other_files(instanced, tmp_path):
    (tmp_path / "part.usda").write_text(HEAD + xform("top", (0, 7, 0), 'def "gap"\n{\n' + STONE + "}\n"))
    said = f"instanceable = {instanced}\n references = @./part.usda@"
    inner = "\n".join(xform(f"brick{n}", (n, 0, 0), "", said) for n in range(3))
    path = tmp_path / "wall.usda"
    path.write_text(HEAD + xform("top", (100, 0, 0), inner))
    usd.load(path)
    # What refers to a prim says its own place in the stead of that prim's.
    assert places() == [(100.0 + n, 0.0, 0.5) for n in range(3)]
    assert usd_gaps.missing(path) == ""


def test_missing_files_are_told(tmp_path):
    part = "(references = @./parts/{}.usda@)"
    inner = "".join(
        f'\ndef Xform "b{n}" {part.format(name)}\n{{\n}}\n' for n, name in enumerate(["plate", "arch", "plate"])
    )
    path = tmp_path / "wall.usda"
    path.write_text(HEAD + xform("top", (0, 0, 0), STONE + inner))
    told = usd_gaps.missing(path)
    assert told.startswith("2 files that it refers to are missing")
    assert "arch.usda" in told
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / "plate.usda").write_text(HEAD + xform("top", (0, 0, 0), STONE))
    assert usd_gaps.missing(path).startswith("A file that it refers to is missing")
