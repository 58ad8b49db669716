"""What stands below prims without a type, and what is missing.

Text written here after AOUSD's Core Specification 1.0: a prim without a type has no place of its own, so what is below
it stands where the next one above that has a place puts it.
"""

import bpy
import pytest

from addon.scene.exports import usd, usd_gaps

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
