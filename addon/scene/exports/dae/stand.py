"""Puts what the nodes of a document show into the scene as objects."""

from pathlib import Path

import bpy
import numpy as np
from mathutils import Matrix

from ....blender import context
from . import effects
from .document import Document
from .shape import Shape, uv_names
from .tree import Binding, Spot

TURNS = {  # to Blender's axes: right, up and towards the viewer are +X, +Z and -Y
    "X_UP": [[0, -1, 0], [0, 0, -1], [1, 0, 0]],
    "Y_UP": [[1, 0, 0], [0, 0, -1], [0, 1, 0]],
    "Z_UP": [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
}
SHEAR = 1e-5  # of the matrix's largest number: more than this Blender's location, rotation and scale do not hold


def up(document: Document, spots: list[Spot], path: Path) -> None:
    """One object for each spot that shows a mesh or holds one that does, under a root that makes metres and Z up of
    the file's unit and axis. Meshes keep the file's own numbers; where geometry and materials are the same, one."""
    root = bpy.data.objects.new(path.stem, None)
    turn = np.eye(4)
    turn[:3, :3] = np.array(TURNS[document.up]) * document.unit
    root.matrix_basis = Matrix(turn.tolist())
    meshes = _Meshes(document, path.parent)
    needed = _needed(spots, meshes)
    objects = [
        bpy.data.objects.new(spot.name, meshes.of(spot)) if wanted else None
        for spot, wanted in zip(spots, needed, strict=True)
    ]
    for spot, obj in zip(spots, objects, strict=True):
        if obj is not None:
            obj.parent = root if spot.parent is None else objects[spot.parent]
            _place(obj, spot.matrix)
    scene = context().scene.collection.objects
    for obj in filter(None, [root, *objects]):  # linked last: with links between, making each takes twice as long
        scene.link(obj)


def _needed(spots, meshes):
    needed = [meshes.of(spot) is not None for spot in spots]
    for at in range(len(spots) - 1, -1, -1):
        if needed[at] and spots[at].parent is not None:
            needed[spots[at].parent] = True
    return needed


def _place(obj, values):
    matrix = Matrix(values)
    obj.matrix_basis = matrix
    location, rotation, scale = matrix.decompose()
    held = np.array(Matrix.LocRotScale(location, rotation, scale))
    if np.abs(held - values).max() > SHEAR * np.abs(values).max():
        obj.matrix_basis, obj.matrix_parent_inverse = Matrix(), matrix


class _Meshes:
    """The meshes and materials made so far, each once."""

    def __init__(self, document, folder):
        self.document, self.folder = document, folder
        self.shapes, self.meshes, self.materials = {}, {}, {}

    def of(self, spot: Spot) -> bpy.types.Mesh | None:
        if spot.geometry is None:
            return None
        key = spot.geometry, spot.bindings
        if key not in self.meshes:
            self.meshes[key] = self._made(*key)
        return self.meshes[key]

    def _made(self, key, bindings):
        geometry = self.document.geometry(key)
        if key not in self.shapes:
            shape = Shape.of(self.document, geometry)
            self.shapes[key] = shape, shape.mesh(geometry.name or key) if len(shape.counts) else None
            fresh = self.shapes[key][1]
        else:
            shape, first = self.shapes[key]
            fresh = first.copy() if first is not None else None
        if fresh is not None:
            for slot, symbol in enumerate(shape.symbols):
                fresh.materials[slot] = self._material(symbol, bindings, shape)
        return fresh

    def _material(self, symbol: str, bindings: tuple[Binding, ...], shape: Shape):
        bound = next((each for each in bindings if each.symbol == symbol), None)
        source = self.document.materials.get(bound.material if bound else symbol)  # some writers bind by the id itself
        if source is None:
            return None
        key = source.id, self._layer(source, bound, shape)
        if key not in self.materials:
            self.materials[key] = effects.material(self.document, source, self.folder, key[1])
        return self.materials[key]

    def _layer(self, source, bound, shape):
        """The layer of the texture coordinates that the picture follows, where the first would be wrong."""
        wanted = dict(bound.sets).get(getattr(source.effect.diffuse, "texcoord", None)) if bound else None
        layers = dict(zip(shape.uvs, uv_names(shape), strict=True))
        return layers[wanted] if wanted in layers and layers[wanted] != "UVMap" else None
