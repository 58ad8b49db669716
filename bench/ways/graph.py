"""What a program holds before it writes: meshes, nodes that place them, colours. Millimetres, z up."""

from dataclasses import dataclass, field, replace

import numpy as np

TO_Y_UP = np.array([[1, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 0], [0, 0, 0, 1]], dtype=float)


@dataclass
class Mesh:
    name: str
    vertices: np.ndarray  # (V, 3)
    triangles: np.ndarray  # (T, 3)
    colour: np.ndarray  # (T,) index of the graph's colours
    uv: np.ndarray | None = None  # (V, 2)

    def by_colour(self):
        """(colour, vertices, triangles, uv) for each colour, vertices without those not needed."""
        for colour in np.unique(self.colour):
            used, triangles = np.unique(self.triangles[self.colour == colour], return_inverse=True)
            uv = None if self.uv is None else self.uv[used]
            yield int(colour), self.vertices[used], triangles.reshape(-1, 3), uv


@dataclass
class Node:
    name: str
    matrix: np.ndarray = field(default_factory=lambda: np.eye(4))
    mesh: int | None = None
    children: list["Node"] = field(default_factory=list)

    def walk(self, matrix=None):
        """Every node below and this one, with its matrix in the file."""
        matrix = self.matrix if matrix is None else matrix @ self.matrix
        yield self, matrix
        for child in self.children:
            yield from child.walk(matrix)


@dataclass
class Graph:
    meshes: list[Mesh]
    nodes: list[Node]
    colours: list[tuple[str, tuple[float, float, float, float]]]  # name, sRGB and opacity

    def placed(self):
        """(name, mesh, matrix in the file) of everything there is to see."""
        for root in self.nodes:
            for node, matrix in root.walk():
                if node.mesh is not None:
                    yield node.name, self.meshes[node.mesh], matrix

    def flat(self):
        """(name, mesh in the file's space) of everything there is to see; mirrored faces look outward again."""
        for name, mesh, matrix in self.placed():
            vertices = mesh.vertices @ matrix[:3, :3].T + matrix[:3, 3]
            turned = mesh.triangles[:, ::-1] if np.linalg.det(matrix[:3, :3]) < 0 else mesh.triangles
            yield name, replace(mesh, name=name, vertices=vertices, triangles=turned)

    def written_in(self, unit_mm: float, y_up: bool, turn: str = "coordinates") -> "Graph":
        """The same in a file's unit and axes; the turn goes into all coordinates, the top nodes or a node above."""
        basis = TO_Y_UP if y_up else np.eye(4)
        inner = basis if turn == "coordinates" else np.eye(4)

        def changed(node):
            matrix = inner @ node.matrix @ inner.T
            matrix[:3, 3] /= unit_mm
            return Node(node.name, matrix, node.mesh, [changed(child) for child in node.children])

        meshes = [replace(m, vertices=m.vertices @ inner[:3, :3].T / unit_mm) for m in self.meshes]
        nodes = [changed(node) for node in self.nodes]
        if turn == "top" and y_up:
            for node in nodes:
                node.matrix = basis @ node.matrix
        if turn == "root":
            nodes = [Node("root", basis, None, nodes)]
        return Graph(meshes, nodes, self.colours)


def moved(turn: np.ndarray, at: np.ndarray) -> np.ndarray:
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = turn, at
    return matrix
