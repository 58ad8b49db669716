"""The exported file, read by trimesh as an independent reader, against the build in mm.

Axes and units: glTF 2.0 specification (Khronos Group), section 3.4: metres, +Y up, right-handed.
"""

import io
import json
import struct

import numpy as np
import pytest
import trimesh

from addon.core.errors import FileProblem
from addon.demo import export
from addon.demo.colours import COLOURS
from addon.demo.lighthouse import bricks
from addon.demo.parts import PARTS

CLOSE_MM = 1e-4
TO_Z_UP = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]])


def document(data: bytes) -> dict:
    """The JSON of a GLB, its container checked against section 4.4 of the specification."""
    magic, version, length = struct.unpack_from("<4sII", data)
    assert (magic, version, length) == (b"glTF", 2, len(data))
    size, kind = struct.unpack_from("<I4s", data, 12)
    assert kind == b"JSON"
    assert size % 4 == 0
    body, kind = struct.unpack_from("<I4s", data, 20 + size)
    assert kind == b"BIN\0"
    assert 28 + size + body == len(data)
    return json.loads(data[20 : 20 + size])


@pytest.fixture(scope="module", params=[True, False], ids=["shared", "unshared"])
def glb(request: pytest.FixtureRequest) -> tuple[bytes, bool]:
    few = bricks()[:: 1 if request.param else 20]  # unshared meshes are read one by one
    return export.encode(few, shared=request.param), request.param


def read(data: bytes) -> trimesh.Scene:
    scene = trimesh.load(io.BytesIO(data), file_type="glb")
    assert isinstance(scene, trimesh.Scene)
    return scene


def test_each_brick_is_where_and_as_large_as_it_was_built(glb):
    data, shared = glb
    build = bricks()[:: 1 if shared else 20]
    scene = read(data)
    assert len(scene.graph.nodes_geometry) == len(build)
    for number, brick in enumerate(build):
        part = PARTS[brick.part]
        matrix, geometry = scene.graph[f"{brick.part}.{number:04d}"]
        corners = scene.geometry[geometry].bounds
        ends = np.array([TO_Z_UP @ (matrix[:3, :3] @ c + matrix[:3, 3]) * 1000 for c in corners])
        low, high = ends.min(axis=0), ends.max(axis=0)
        size = np.array(part.size if brick.quarter_turns % 2 == 0 else part.size[::-1])
        assert high[:2] - low[:2] == pytest.approx(size, abs=CLOSE_MM)
        assert (high + low)[:2] / 2 == pytest.approx(brick.position[:2], abs=CLOSE_MM)
        assert low[2] == pytest.approx(brick.position[2], abs=CLOSE_MM)
        assert high[2] - low[2] == pytest.approx(part.height + (1.7 if part.studs else 0), abs=CLOSE_MM)


def test_turned_bricks_face_the_right_way(glb):
    """The studs of a slope tell its direction: they lie off its middle."""
    data, shared = glb
    scene = read(data)
    seen = set()
    for number, brick in enumerate(bricks()[:: 1 if shared else 20]):
        if brick.part != "slope_2x2":
            continue
        seen.add(brick.quarter_turns)
        matrix, geometry = scene.graph[f"{brick.part}.{number:04d}"]
        points = scene.geometry[geometry].vertices * 1000
        top = points[points[:, 1] > 9.7].mean(axis=0)
        there = TO_Z_UP @ (matrix[:3, :3] @ top)
        back = {0: (0, 4), 1: (-4, 0), 2: (0, -4), 3: (4, 0)}[brick.quarter_turns]
        assert there[:2] == pytest.approx(back, abs=1e-3)
    assert not shared or seen == {0, 1, 2, 3}


def test_meshes_are_closed_and_keep_their_volume(glb):
    data, shared = glb
    build = bricks()[:: 1 if shared else 20]
    scene = read(data)
    checked = set()
    for number, brick in enumerate(build):
        if brick.part in checked:
            continue
        checked.add(brick.part)
        _, geometry = scene.graph[f"{brick.part}.{number:04d}"]
        solid = scene.geometry[geometry].copy()
        solid.merge_vertices(merge_norm=True, merge_tex=True)
        mesh = PARTS[brick.part].mesh()
        a, b, c = np.moveaxis(mesh.positions[mesh.triangles], 1, 0)
        assert solid.is_watertight
        assert solid.volume * 1e9 == pytest.approx((a * np.cross(b, c)).sum() / 6, rel=1e-4)


def test_meshes_are_shared_by_part_and_colour_or_not_at_all(glb):
    data, shared = glb
    build = bricks()[:: 1 if shared else 20]
    nodes = document(data)["nodes"]
    assert len(nodes) == len(build)
    kinds = {(b.part, b.colour) for b in build}
    assert len({node["mesh"] for node in nodes}) == (len(kinds) if shared else len(build))


def test_edges_are_sharp_and_normals_are_unit(glb):
    scene = read(glb[0])
    brick = next(g for name, g in scene.geometry.items() if name.startswith("brick_1x1"))
    corners, count = np.unique(np.round(brick.vertices * 1000, 4), axis=0, return_counts=True)
    outer = np.abs(corners[:, [0, 2]]).min(axis=1) > 3.99
    assert outer.any()
    assert (count[outer] == 3).all()  # three faces meet at a corner, each with its own normal
    assert np.linalg.norm(brick.vertex_normals, axis=1) == pytest.approx(1.0, abs=1e-5)


def test_each_colour_is_a_material_and_the_lamp_lets_light_through(glb):
    data, shared = glb
    materials = {m["name"]: m for m in document(data)["materials"]}
    assert set(materials) == {b.colour for b in bricks()[:: 1 if shared else 20]}
    for name, material in materials.items():
        assert material["pbrMetallicRoughness"]["baseColorFactor"][:3] == pytest.approx(COLOURS[name].rgb)
        assert material["pbrMetallicRoughness"]["metallicFactor"] == 0
        assert ("KHR_materials_transmission" in material["extensions"]) == COLOURS[name].clear
    assert not shared or "lamp amber" in materials


def test_buffer_views_lie_one_after_another_inside_the_buffer(glb):
    told = document(glb[0])
    end = 0
    for view in told["bufferViews"]:
        assert view["byteOffset"] == end
        assert end % 4 == 0
        end += view["byteLength"]
    assert end == told["buffers"][0]["byteLength"]


def test_the_file_is_written_whole_or_not_at_all(tmp_path):
    export.write_glb(tmp_path / "lighthouse.glb")
    assert (tmp_path / "lighthouse.glb").read_bytes() == export.encode(bricks())
    with pytest.raises(FileProblem, match="cannot be written"):
        export.write_glb(tmp_path / "missing" / "lighthouse.glb")
    assert [p.name for p in tmp_path.iterdir()] == ["lighthouse.glb"]
