"""FBX, through Blender's own exporter: the graph goes over as a file of arrays, this module runs in Blender's Python.

BLENDER_PYTHON -m bench.ways.files.fbx GRAPH.pickle OUT.fbx SCALE SHRUNK
"""

import os
import pickle
import subprocess
import sys
from pathlib import Path

from ..graph import Graph


def write(graph: Graph, path: Path, *, scale: float = 1.0, shrunk: float = 1.0, blender: str = "") -> None:
    """`scale` 1 writes centimetres as the exporter does by itself; the graph is in metres, z up. `shrunk` is how large
    the file says it is."""
    kept = path.with_suffix(".pickle")
    kept.write_bytes(pickle.dumps(graph))
    python = blender or os.environ.get("WAYS_FBX_PYTHON", "")
    if not python:
        raise LookupError("no Blender to write FBX with: name its Python in WAYS_FBX_PYTHON")
    command = [python, "-m", "bench.ways.files.fbx", str(kept), str(path), str(scale), str(shrunk)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=600)
    kept.unlink()
    if done.returncode or not path.exists():
        raise OSError(f"{path} was not written: {done.stderr[-400:]}")


def _export(graph: Graph, path: str, scale: float, shrunk: float) -> None:
    import bpy
    from mathutils import Matrix

    bpy.ops.wm.read_factory_settings(use_empty=True)
    materials = []
    for name, rgba in graph.colours:
        material = bpy.data.materials.new(name)
        material.use_nodes = True
        surface = next(node for node in material.node_tree.nodes if node.type == "BSDF_PRINCIPLED")
        from .colour import linear

        surface.inputs["Base Color"].default_value = (*linear(rgba[:3]), 1)
        surface.inputs["Alpha"].default_value = rgba[3]
        surface.inputs["Roughness"].default_value = 0.25
        materials.append(material)
    meshes = []
    for mesh in graph.meshes:
        made = bpy.data.meshes.new(mesh.name)
        made.from_pydata(mesh.vertices, [], mesh.triangles.tolist())
        used = sorted(set(mesh.colour.tolist()))
        for colour in used:
            made.materials.append(materials[colour])
        made.polygons.foreach_set("material_index", [used.index(c) for c in mesh.colour])
        if mesh.uv is not None:
            layer = made.uv_layers.new(name="map")
            layer.data.foreach_set("uv", mesh.uv[mesh.triangles.reshape(-1)].ravel())
        meshes.append(made)

    def placed(node, parent):
        obj = bpy.data.objects.new(node.name, None if node.mesh is None else meshes[node.mesh])
        bpy.context.scene.collection.objects.link(obj)
        obj.parent = parent
        obj.matrix_local = Matrix(node.matrix.tolist())
        for child in node.children:
            placed(child, obj)

    for node in graph.nodes:
        placed(node, None)
    bpy.context.view_layer.update()
    units = "FBX_SCALE_NONE" if scale == 1 else "FBX_SCALE_ALL"
    bpy.ops.export_scene.fbx(filepath=path, global_scale=shrunk, apply_scale_options=units, bake_anim=False)


if __name__ == "__main__":
    _export(pickle.loads(Path(sys.argv[1]).read_bytes()), sys.argv[2], *map(float, sys.argv[3:]))
