"""Writes the build as a CAD program exports it: GLB (glTF 2.0) in metres, +Y up, sharp triangles, a node a brick."""

from __future__ import annotations

import json
import struct
from math import cos, pi, sin
from pathlib import Path

import numpy as np

from .. import atomic
from ..core.units import MM_PER_METRE
from .colours import COLOURS, INDEX_OF_REFRACTION, ROUGHNESS
from .lighthouse import Placed, bricks
from .parts import PARTS

# Codes of the glTF 2.0 specification, section 3.6 (accessors, buffer views) and 4.4 (GLB container).
FLOAT, UNSIGNED_INT = 5126, 5125
ARRAY_BUFFER, ELEMENT_ARRAY_BUFFER = 34962, 34963
MAGIC, VERSION, JSON_CHUNK, BIN_CHUNK = 0x46546C67, 2, 0x4E4F534A, 0x004E4942


def write_glb(path: Path, shared: bool = True) -> None:
    """Writes the lighthouse; `shared` meshes serve all bricks of one part and colour, else each brick has its own.

    Raises FileProblem where the file cannot be written.
    """
    with atomic.written(path) as unfinished:
        unfinished.write_bytes(encode(bricks(), shared))


def encode(placed: tuple[Placed, ...], shared: bool = True) -> bytes:
    """The bytes of a GLB file with these bricks."""
    glb = _Glb()
    for number, brick in enumerate(placed):
        glb.add_brick(brick, number, shared)
    return glb.to_bytes()


class _Glb:
    """The growing parts of one file."""

    def __init__(self) -> None:
        self.binary = bytearray()
        self.views: list[dict] = []
        self.accessors: list[dict] = []
        self.meshes: list[dict] = []
        self.nodes: list[dict] = []
        self.materials: dict[str, int] = {}
        self.shapes: dict[tuple, dict] = {}
        self.mesh_numbers: dict[tuple, int] = {}

    def add_brick(self, brick: Placed, number: int, shared: bool) -> None:
        x, y, z = brick.position
        turn = brick.quarter_turns * pi / 2
        node = {
            "name": f"{brick.part}.{number:04d}",
            "mesh": self._mesh(brick, None if shared else number),
            "translation": [x / MM_PER_METRE, z / MM_PER_METRE, -y / MM_PER_METRE],
        }
        if turn:
            node["rotation"] = [0.0, sin(turn / 2), 0.0, cos(turn / 2)]
        self.nodes.append(node)

    def to_bytes(self) -> bytes:
        document = {
            "asset": {"version": "2.0", "generator": "Playworn demo"},
            "scene": 0,
            "scenes": [{"name": "breakwater lighthouse", "nodes": list(range(len(self.nodes)))}],
            "extensionsUsed": ["KHR_materials_ior", "KHR_materials_transmission"],
            "nodes": self.nodes,
            "meshes": self.meshes,
            "materials": [_material(name) for name in self.materials],
            "accessors": self.accessors,
            "bufferViews": self.views,
            "buffers": [{"byteLength": len(self.binary)}],
        }
        text = json.dumps(document, separators=(",", ":")).encode()
        text += b" " * (-len(text) % 4)
        chunks = struct.pack("<II", len(text), JSON_CHUNK) + text
        chunks += struct.pack("<II", len(self.binary), BIN_CHUNK) + self.binary
        return struct.pack("<III", MAGIC, VERSION, 12 + len(chunks)) + chunks

    def _mesh(self, brick: Placed, owner: int | None) -> int:
        key = (brick.part, brick.colour, owner)
        if key not in self.mesh_numbers:
            self.mesh_numbers[key] = len(self.meshes)
            material = self.materials.setdefault(brick.colour, len(self.materials))
            shape = {**self._shape(brick.part, owner), "material": material}
            name = f"{brick.part} {brick.colour}" if owner is None else f"{brick.part}.{owner:04d}"
            self.meshes.append({"name": name, "primitives": [shape]})
        return self.mesh_numbers[key]

    def _shape(self, part: str, owner: int | None) -> dict:
        key = (part, owner)
        if key not in self.shapes:
            mesh = PARTS[part].mesh()
            positions = _y_up(mesh.positions) / MM_PER_METRE
            self.shapes[key] = {
                "attributes": {
                    "POSITION": self._accessor(positions.astype("<f4"), "VEC3", ARRAY_BUFFER, bounds=True),
                    "NORMAL": self._accessor(_y_up(mesh.normals).astype("<f4"), "VEC3", ARRAY_BUFFER),
                },
                "indices": self._accessor(mesh.triangles.astype("<u4").ravel(), "SCALAR", ELEMENT_ARRAY_BUFFER),
            }
        return self.shapes[key]

    def _accessor(self, values: np.ndarray, shape: str, target: int, bounds: bool = False) -> int:
        self.views.append({"buffer": 0, "byteOffset": len(self.binary), "byteLength": values.nbytes, "target": target})
        self.binary += values.tobytes()  # always a multiple of four bytes, as the format asks
        accessor = {
            "bufferView": len(self.views) - 1,
            "componentType": FLOAT if values.dtype.kind == "f" else UNSIGNED_INT,
            "count": len(values),
            "type": shape,
        }
        if bounds:
            accessor |= {"min": values.min(axis=0).tolist(), "max": values.max(axis=0).tolist()}
        self.accessors.append(accessor)
        return len(self.accessors) - 1


def _y_up(points: np.ndarray) -> np.ndarray:
    return np.stack([points[:, 0], points[:, 2], -points[:, 1]], axis=1)


def _material(name: str) -> dict:
    colour = COLOURS[name]
    extensions: dict = {"KHR_materials_ior": {"ior": INDEX_OF_REFRACTION}}
    if colour.clear:
        extensions["KHR_materials_transmission"] = {"transmissionFactor": 1.0}
    return {
        "name": name,
        "pbrMetallicRoughness": {
            "baseColorFactor": [*colour.rgb, 1.0],
            "metallicFactor": 0.0,
            "roughnessFactor": ROUGHNESS,
        },
        "extensions": extensions,
    }
