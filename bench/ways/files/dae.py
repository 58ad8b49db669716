"""COLLADA 1.4.1, through pycollada, and by trimesh."""

from pathlib import Path

import collada
import numpy as np
from collada import asset, geometry, material, scene, source

from ..graph import Graph
from ..polygons import polygons


def write(graph: Graph, path: Path, *, unit_mm: float = 1.0, y_up: bool = False, library: bool = False,
          corners: int | None = 3) -> None:  # fmt: skip
    """`library` keeps nodes in library_nodes and places them by instance_node; faces have up to so many corners."""
    document = collada.Collada()
    document.assetInfo.unitmeter, document.assetInfo.unitname = unit_mm / 1000, "unit"
    document.assetInfo.upaxis = asset.UP_AXIS.Y_UP if y_up else asset.UP_AXIS.Z_UP
    materials = [_material(document, *colour) for colour in graph.colours]
    meshes = [_mesh(document, n, mesh, corners) for n, mesh in enumerate(graph.meshes)]

    def shown(number):
        bound = [scene.MaterialNode(f"m{c}", materials[c], []) for c in np.unique(graph.meshes[number].colour)]
        return scene.GeometryNode(meshes[number], bound)

    shelf = {}
    if library:
        for number in range(len(meshes)):
            shelf[number] = scene.Node(f"part{number}", children=[shown(number)])
            document.nodes.append(shelf[number])

    def placed(node, name):
        inside = [placed(child, f"{name}-{k}") for k, child in enumerate(node.children)]
        if node.mesh is not None:
            inside.insert(0, scene.NodeNode(shelf[node.mesh]) if library else shown(node.mesh))
        matrix = scene.MatrixTransform(node.matrix.astype(np.float32).ravel())
        return scene.Node(name, children=inside, transforms=[matrix])

    stage = scene.Scene("scene", [placed(node, f"n{k}") for k, node in enumerate(graph.nodes)])
    document.scenes.append(stage)
    document.scene = stage
    document.write(str(path))


def _material(document, name, rgba):
    clear = {} if rgba[3] == 1 else {"transparent": (1, 1, 1, 1), "transparency": rgba[3]}
    effect = material.Effect(f"{name}-fx", [], "phong", diffuse=rgba, shininess=60.0, **clear)
    made = material.Material(name, name, effect)
    document.effects.append(effect)
    document.materials.append(made)
    return made


def _mesh(document, n, mesh, corners):
    points = source.FloatSource(f"p{n}", mesh.vertices.astype(np.float32).ravel(), ("X", "Y", "Z"))
    sources, uses = [points], source.InputList()
    uses.addInput(0, "VERTEX", f"#p{n}")
    if mesh.uv is not None:
        sources.append(source.FloatSource(f"t{n}", mesh.uv.astype(np.float32).ravel(), ("S", "T")))
        uses.addInput(0, "TEXCOORD", f"#t{n}", set="0")
    made = geometry.Geometry(document, f"g{n}", mesh.name, sources)
    loops = polygons(mesh, corners) if corners != 3 else ()
    for colour in np.unique(mesh.colour):
        if loops:
            own = [loop for loop, shade in loops if shade == colour]
            numbers = np.concatenate(own).astype(np.int32)
            made.primitives.append(made.createPolylist(numbers, np.array(list(map(len, own))), uses, f"m{colour}"))
            continue
        faces = mesh.triangles[mesh.colour == colour].astype(np.int32).ravel()
        made.primitives.append(made.createTriangleSet(faces, uses, f"m{colour}"))
    document.geometries.append(made)
    return made


def write_trimesh(graph: Graph, path: Path, **_) -> None:
    """Through trimesh, which names no unit and knows no nodes."""
    from trimesh.exchange.dae import export_collada

    from .gltf import as_trimesh

    path.write_bytes(export_collada([as_trimesh(graph, mesh, list) for _, mesh in graph.flat()]))
