"""glTF 2.0, three times: written by hand, through pygltflib and through trimesh."""

import json
import struct
from dataclasses import replace
from pathlib import Path

import numpy as np

from ..graph import Graph, Mesh, Node, moved
from .colour import linear, picture_bytes

FLOAT, UNSIGNED_INT, SHORT = 5126, 5125, 5122  # of the specification, section 3.6.2.2


def write(graph: Graph, path: Path, *, gloss: bool = True, split: bool = False, instanced: bool = False,
          shades: bool = False, bare: bool = False, short: bool = False) -> None:  # fmt: skip
    """By hand. `gloss` states roughness and metal; `split` gives each triangle vertices and a normal of its own;
    `instanced` uses EXT_mesh_gpu_instancing; `shades` writes colours at vertices and one material, or none if `bare`;
    `short` uses KHR_mesh_quantization."""
    document = _document(_shrunk(graph) if short else graph, gloss, split, instanced, shades, short)
    if bare:
        del document["materials"]
        for primitive in (each for mesh in document["meshes"] for each in mesh["primitives"]):
            del primitive["material"]
    binary = document.pop("binary")
    if path.suffix == ".gltf":
        document["buffers"][0]["uri"] = f"{path.stem}.bin"
        path.with_suffix(".bin").write_bytes(binary)
        path.write_text(json.dumps(document))
        return
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    chunks = struct.pack("<II", len(text), 0x4E4F534A) + text + struct.pack("<II", len(binary), 0x004E4942) + binary
    path.write_bytes(struct.pack("<III", 0x46546C67, 2, 12 + len(chunks)) + chunks)


def write_pygltflib(graph: Graph, path: Path) -> None:
    """Through pygltflib's own classes."""
    import pygltflib as lib

    document = _document(graph, True, False, False, False)
    binary = document.pop("binary")
    asset = lib.GLTF2.from_json(json.dumps(document))
    asset.set_binary_blob(binary)
    asset.save(str(path))


def write_trimesh(graph: Graph, path: Path, **_) -> None:
    """Through trimesh's scene, whatever format the suffix means; in OBJ it counts places on pictures as vertices, and
    who reads that leaves the faces out, so there are none."""
    import trimesh

    scene = trimesh.Scene()
    made = {}
    for place, (name, mesh, matrix) in enumerate(graph.placed()):
        node = f"{name} {place}"
        if id(mesh) not in made:
            made[id(mesh)] = f"mesh {len(made)}"
            shown = as_trimesh(graph, mesh if path.suffix != ".obj" else replace(mesh, uv=None))
            scene.add_geometry(shown, node_name=node, geom_name=made[id(mesh)], transform=matrix)
        else:
            scene.graph.update(frame_to=node, matrix=matrix, geometry=made[id(mesh)])
    scene.export(str(path))


def as_trimesh(graph: Graph, mesh: Mesh, space=linear):
    """A mesh of trimesh's; `space` makes the colours what the format wants."""
    import trimesh

    colour = graph.colours[int(mesh.colour[0])]
    material = trimesh.visual.material.PBRMaterial(
        name=colour[0], baseColorFactor=[*space(colour[1][:3]), colour[1][3]], roughnessFactor=0.3, metallicFactor=0.0
    )
    made = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    made.visual = trimesh.visual.TextureVisuals(uv=mesh.uv, material=material)
    return made


def _shrunk(graph):
    """Every mesh from -1 to 1 in its largest extent, and a node below each node that brings it back."""
    low, high = (np.array([end(mesh.vertices, axis=0) for mesh in graph.meshes]) for end in (np.min, np.max))
    middle, half = (low + high) / 2, (high - low).max(axis=1) / 2
    meshes = [
        replace(mesh, vertices=(mesh.vertices - at) / by)
        for mesh, at, by in zip(graph.meshes, middle, half, strict=True)
    ]

    def changed(node):
        children = [changed(child) for child in node.children]
        if node.mesh is not None:
            children.append(Node("", moved(np.eye(3) * half[node.mesh], middle[node.mesh]), node.mesh))
        return Node(node.name, node.matrix, None, children)

    return Graph(meshes, [changed(node) for node in graph.nodes], graph.colours)


class _Buffer:
    """The document's one buffer in the making: its bytes, and the views and accessors that tell what lies where."""

    def __init__(self):
        self.binary, self.views, self.accessors = bytearray(), [], []

    def put(self, content: bytes, **more) -> int:
        """Adds bytes; the number of their view."""
        self.views.append({"buffer": 0, "byteOffset": len(self.binary), "byteLength": len(content), **more})
        self.binary.extend(content + b"\0" * (-len(content) % 4))
        return len(self.views) - 1

    def accessor(self, values, kind, component=FLOAT, limits=False) -> int:
        values = np.ascontiguousarray(values, dtype=np.float32 if component == FLOAT else np.uint32)
        view = self.put(values.tobytes())
        row = {"bufferView": view, "componentType": component, "count": len(values), "type": kind}
        if limits:
            row |= {"min": values.min(axis=0).tolist(), "max": values.max(axis=0).tolist()}
        return self._told(row)

    def quantized(self, points) -> int:
        """Rows of eight bytes: three numbers and a gap."""
        rows = np.zeros((len(points), 4), dtype="<i2")
        rows[:, :3] = np.rint(32767 * points)
        view = self.put(rows.tobytes(), byteStride=8)
        ends = {"min": rows[:, :3].min(axis=0).tolist(), "max": rows[:, :3].max(axis=0).tolist()}
        row = {"bufferView": view, "componentType": SHORT, "normalized": True, "count": len(rows)}
        return self._told(row | {"type": "VEC3"} | ends)

    def _told(self, row) -> int:
        self.accessors.append(row)
        return len(self.accessors) - 1


def _document(graph, gloss, split, instanced, shades, short=False):
    buffer, nodes = _Buffer(), []
    meshes = [
        {
            "name": one.name,
            "primitives": [_primitive(buffer, graph, *each, split, shades, short) for each in one.by_colour()],
        }
        for one in graph.meshes
    ]
    roots = _instances(graph, nodes, buffer) if instanced else [_node(nodes, one) for one in graph.nodes]
    picture = buffer.put(picture_bytes())
    document = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": roots}],
        "nodes": nodes,
        "meshes": meshes,
        "materials": [{"name": "shade"}] if shades else [_material(*colour, gloss) for colour in graph.colours],
        "accessors": buffer.accessors,
        "images": [{"bufferView": picture, "mimeType": "image/png"}],
        "textures": [{"source": 0}],
        "bufferViews": buffer.views,
        "buffers": [{"byteLength": len(buffer.binary)}],
        "binary": bytes(buffer.binary),
    }
    needed = ["EXT_mesh_gpu_instancing"] * instanced + ["KHR_mesh_quantization"] * short
    return document | ({"extensionsUsed": needed, "extensionsRequired": needed} if needed else {})


def _primitive(buffer, graph, colour, vertices, triangles, uv, split, shades, short):
    attributes = {}
    if split:
        corners = vertices[triangles]
        normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        normal /= np.linalg.norm(normal, axis=1, keepdims=True)
        uv = None if uv is None else uv[triangles.reshape(-1)]
        vertices, triangles = corners.reshape(-1, 3), np.arange(3 * len(corners))
        attributes["NORMAL"] = buffer.accessor(np.repeat(normal, 3, axis=0), "VEC3")
    attributes["POSITION"] = buffer.quantized(vertices) if short else buffer.accessor(vertices, "VEC3", limits=True)
    if uv is not None:
        attributes["TEXCOORD_0"] = buffer.accessor(uv * (1, -1) + (0, 1), "VEC2")
    if shades:
        rgba = graph.colours[colour][1]
        attributes["COLOR_0"] = buffer.accessor(np.tile([*linear(rgba[:3]), rgba[3]], (len(vertices), 1)), "VEC4")
    indices = buffer.accessor(np.ravel(triangles), "SCALAR", UNSIGNED_INT)
    return {"attributes": attributes, "indices": indices, "material": 0 if shades else colour}


def _node(nodes, one):
    row = {"name": one.name, "matrix": one.matrix.T.ravel().tolist()}
    if one.mesh is not None:
        row["mesh"] = one.mesh
    if one.children:
        row["children"] = [_node(nodes, child) for child in one.children]
    nodes.append(row)
    return len(nodes) - 1


def _material(name, rgba, gloss):
    surface = {"baseColorFactor": [*linear(rgba[:3]), rgba[3]]}
    if gloss:
        surface |= {"metallicFactor": 0.0, "roughnessFactor": 0.25}
    if name == "printed":
        surface["baseColorTexture"] = {"index": 0}
    row = {"name": name, "pbrMetallicRoughness": surface}
    return row | {"alphaMode": "BLEND"} if rgba[3] < 1 else row


def _instances(graph, nodes, buffer):
    from scipy.spatial.transform import Rotation

    places: dict[int, list] = {}
    for root in graph.nodes:
        places.setdefault(root.mesh, []).append(root.matrix)
    for mesh, matrices in places.items():
        stack = np.array(matrices)
        attributes = {
            "TRANSLATION": buffer.accessor(stack[:, :3, 3], "VEC3"),
            "ROTATION": buffer.accessor(Rotation.from_matrix(stack[:, :3, :3]).as_quat(), "VEC4"),
            "SCALE": buffer.accessor(np.ones((len(stack), 3)), "VEC3"),
        }
        nodes.append({"mesh": mesh, "extensions": {"EXT_mesh_gpu_instancing": {"attributes": attributes}}})
    return list(range(len(nodes)))
