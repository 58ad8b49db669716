"""Models of an FBX that share a mesh show each its own materials, also where its mesh hangs below with an offset.

The files are written here, record by record, as text and as binary, after Blender Foundation's "FBX binary file format
specification" (2013).
"""

import struct

import bpy
import pytest

from addon.core.exports import fbx, fbx_models
from addon.scene.exports import fbx as reader
from addon.scene.exports import importers
from bench.fbx_records import Record, written

POINTS = [0, 0, 0, 3, 0, 0, 0, 2, 0, 0, 0, 1]
CORNERS = [0, 2, ~1, 0, 1, ~3, 1, 2, ~3, 0, 3, ~2]
COLOURS = {"Ziegel": (0.6, 0.1, 0.05), "Moos": (0.1, 0.4, 0.1), "Schnee": (0.9, 0.9, 0.9)}
OFFSET = ("GeometricTranslation", "Vector3D", "Vector", "", 0.5, -0.25, 0.75)


def properties(*rows):
    return ("Properties70", [], [("P", list(row), None) for row in rows])


def tree(shown, offset):
    """Records (name, values, inner): models, by name and the colours they show, that share one mesh."""
    numbers = {name: 50 + n for n, name in enumerate(COLOURS)}
    materials = [
        ("Material", [numbers[name], ("Material", name), ""], [properties(("DiffuseColor", "Color", "", "A", *rgb))])
        for name, rgb in COLOURS.items()
    ]
    layer = [("MappingInformationType", ["AllSame"], None), ("ReferenceInformationType", ["IndexToDirect"], None)]
    mesh = [
        ("Vertices", [[float(each) for each in POINTS]], None),
        ("PolygonVertexIndex", [CORNERS], None),
        ("LayerElementMaterial", [0], [*layer, ("Materials", [[0]], None)]),
    ]
    models, links = [], []
    for n, (name, colour) in enumerate(shown):
        place = ("Lcl Translation", "Lcl Translation", "", "A", 10.0 * n, 0.0, 0.0)
        models.append(("Model", [100 + n, ("Model", name), "Mesh"], [properties(place, *([OFFSET] if offset else []))]))
        links += [(100 + n, 0), (7, 100 + n), (numbers[colour], 100 + n)]
    return [
        ("FBXHeaderExtension", [], [("FBXVersion", [7400], None)]),
        ("Objects", [], [("Geometry", [7, ("Geometry", "Stein"), "Mesh"], mesh), *models, *materials]),
        ("Connections", [], [("C", ["OO", *link], None) for link in links]),
    ]


def as_text(records, depth=0):
    def told(value):
        if isinstance(value, list):
            return f"*{len(value)} {{\na: {','.join(map(str, value))}\n}}"
        if isinstance(value, tuple):
            return f'"{value[0]}::{value[1]}"'
        return f'"{value}"' if isinstance(value, str) else str(value)

    lines = [] if depth else ["; FBX 7.4.0 project file"]
    for name, values, inner in records:
        row = f"{name}: {', '.join(map(told, values))}"
        lines += [row] if inner is None else [row + " {", *as_text(inner, depth + 1), "}"]
    return lines


def as_binary(records):
    def told(value):
        if isinstance(value, list):
            letter = b"d" if isinstance(value[0], float) else b"i"
            return letter, struct.pack(f"<{len(value)}{letter.decode()}", *value)
        if isinstance(value, tuple):
            return b"S", f"{value[1]}\x00\x01{value[0]}".encode()
        if isinstance(value, str):
            return b"S", value.encode()
        if isinstance(value, float):
            return b"D", struct.pack("<d", value)
        return b"L", struct.pack("<q", value)

    def record(name, values, inner):
        found = None if inner is None else [record(*each) for each in inner]
        return Record(name.encode(), [told(value) for value in values], found)

    return written(fbx.MAGIC + struct.pack("<I", 7400), [record(*each) for each in records])


def put(path, shown, offset, binary):
    records = tree(shown, offset)
    path.write_bytes(as_binary(records) if binary else "\n".join(as_text(records)).encode())
    return path


def colours(objects):
    """Of what stands at 0, 10, 20 ... of the file's own axis, in that order."""
    bodies = [obj for obj in objects if obj.type == "MESH"]
    bpy.context.view_layer.update()
    bodies.sort(key=lambda obj: obj.matrix_world.translation.length)
    return [obj.material_slots[0].material.name.partition(".")[0] for obj in bodies]


SHOWN = {
    "told apart": [("a", "Ziegel"), ("b", "Moos"), ("c", "Ziegel"), ("d", "Schnee")],
    "one name": [("a", "Moos"), ("a", "Ziegel"), ("a", "Schnee"), ("a", "Ziegel")],
    "numbered": [("a.001", "Moos"), ("a", "Ziegel"), ("a.003", "Schnee"), ("a.002", "Ziegel")],
    "long": [("Ziegelstein" * 20, "Schnee"), ("レンガ" * 40, "Moos")],
}


@pytest.mark.parametrize("binary", [True, False], ids=["binary", "text"])
@pytest.mark.parametrize("offset", [True, False], ids=["offset", "plain"])
@pytest.mark.parametrize("shown", SHOWN.values(), ids=SHOWN)
def test_what_shares_a_mesh_shows_its_own_materials(shown, offset, binary, tmp_path):
    path = put(tmp_path / "wall.fbx", shown, offset, binary)
    reader.load(path)
    assert colours(bpy.data.objects) == [colour for _, colour in shown]


def test_names_that_the_scene_has_already(tmp_path):
    shown = SHOWN["told apart"]
    for name, _ in shown:
        bpy.context.scene.collection.objects.link(bpy.data.objects.new(name, None))
    kept = [bpy.data.materials.new(name) for name in COLOURS]
    before = set(bpy.data.objects)
    reader.load(put(tmp_path / "wall.fbx", shown, True, True))
    came = set(bpy.data.objects) - before
    assert colours(came) == [colour for _, colour in shown]
    assert not any(slot.material in kept for obj in came for slot in obj.material_slots)


@pytest.mark.shared_out
def test_what_is_brought_in_keeps_them(tmp_path):
    shown = [(f"n{n}", colour) for n, colour in enumerate(["Moos", "Schnee", "Ziegel"])]
    collection, _ = importers.bring(put(tmp_path / "wall.fbx", shown, True, False), keep_objects=True)
    assert sorted(colours(collection.all_objects)) == ["Moos", "Schnee", "Ziegel"]


def test_a_file_cut_anywhere_tells_what_it_can():
    whole = as_binary(tree(SHOWN["told apart"], True))
    assert [(model.name, model.materials) for model in fbx_models.models(whole)] == [
        (name, (colour,)) for name, colour in SHOWN["told apart"]
    ]
    for cut in range(0, len(whole), 7):
        fbx_models.models(whole[:cut])
