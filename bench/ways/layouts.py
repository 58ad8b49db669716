"""How programs lay a build out: what is an object, a child, a shell, a copy. Each takes placed bricks and a style."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from .graph import Graph, Mesh, Node, moved
from .parts import Shell, Style, X, Y, Z, shells
from .workshop import COLOURS, Placed, about

NAMES = list(COLOURS)
MIRROR = np.diag([-1.0, 1, 1, 1])
ON_ITS_HEAD = np.diag([1.0, -1, -1, 1])
LANGUAGES = {
    "brick": "Кирпич",
    "plate": "プレート",
    "tile": "Fließe glänzend",
    "slope": "斜面",
    "round": "عمود",
    "drum": "a round one whose name is so long that no program of this size would keep all of it",
}  # fmt: skip


def scaled(by: float) -> np.ndarray:
    return np.diag([by, by, by, 1.0])


def shifted(*mm: float) -> np.ndarray:
    return moved(np.eye(3), np.array(mm, dtype=float))


def shared(build: Sequence[Placed], style: Style) -> Graph:
    """One object a brick; bricks of one part and colour share their mesh."""
    graph, known = _graph(), {}
    for n, brick in enumerate(build):
        key = brick.part, brick.colour
        if key not in known:
            known[key] = _add(graph, _joined("-".join(key), shells(brick.part, style), brick.colour))
        graph.nodes.append(Node(f"{brick.part} {n}", moved(brick.turn, brick.at), known[key]))
    return graph


def copied(build, style, noise: float = 0.0, shuffled: bool = False, seed: int = 3) -> Graph:
    """One object and one mesh a brick; vertices off by noise, or in an order of their own."""
    graph, rng = _graph(), np.random.default_rng(seed)
    for n, brick in enumerate(build):
        mesh = _joined(f"{brick.part} {n}", shells(brick.part, style), brick.colour)
        if noise:
            mesh.vertices = mesh.vertices + rng.uniform(-noise, noise, mesh.vertices.shape)
        if shuffled:
            _shuffle(mesh, rng)
        graph.nodes.append(Node(mesh.name, moved(brick.turn, brick.at), _add(graph, mesh)))
    return graph


def baked(build, style) -> Graph:
    """One object a brick, every transform in the vertices."""
    graph = _graph()
    for n, brick in enumerate(build):
        mesh = _joined(f"{brick.part} {n}", shells(brick.part, style), brick.colour)
        mesh.vertices = mesh.vertices @ brick.turn.T + brick.at
        graph.nodes.append(Node(mesh.name, np.eye(4), _add(graph, mesh)))
    return graph


def mirrored(build, style) -> Graph:
    """Every second brick is a mirrored mesh under a mirroring transform; equal halves keep the one mesh."""
    graph, known = _graph(), {}
    for n, brick in enumerate(build):
        odd = n % 2
        key = brick.part, brick.colour, bool(odd and brick.part.split("-")[0] in ("wing", "print"))
        if key not in known:
            mesh = _joined("-".join(key[:2]), shells(brick.part, style), brick.colour)
            known[key] = _add(graph, _flipped(mesh) if key[2] else mesh)
        matrix = moved(brick.turn, brick.at)
        graph.nodes.append(Node(f"{brick.part} {n}", matrix @ MIRROR if odd else matrix, known[key]))
    return graph


def nested(build, style, scale: float = 1.0, mirror: bool = False, depth: int = 4) -> Graph:
    """Bricks a few to a group, groups in groups, each turned and moved; scaled down and up again on the way."""
    graph = shared(build, style)
    for _ in range(depth):
        graph.nodes = [_group(graph.nodes[n : n + 5], n, scale, mirror) for n in range(0, len(graph.nodes), 5)]
        scale = 1 / scale
    return graph


def under(build, style, root: np.ndarray, held: np.ndarray | None = None) -> Graph:
    """All bricks below one node with a matrix (4, 4); what is below is held in axes of its own (4, 4), or as it is."""
    graph = shared(build, style)
    held = np.eye(4) if held is None else held
    back, over = np.linalg.inv(held), np.linalg.det(held) < 0
    for mesh in graph.meshes:
        mesh.vertices = mesh.vertices @ held[:3, :3].T
        mesh.triangles = mesh.triangles[:, ::-1] if over else mesh.triangles
    for node in graph.nodes:
        node.matrix = held @ node.matrix @ back
    graph.nodes = [Node("everything", root, None, graph.nodes)]
    return graph


def named(build, style) -> Graph:
    """Named in other scripts, many alike, some longer than programs keep; all meshes bear one name."""
    graph = shared(build, style)
    for mesh in graph.meshes:
        mesh.name = "Сетка"
    for node in graph.nodes:
        node.name = LANGUAGES.get(node.name.partition("-")[0], "Teil № 1 · «ü»")
    return graph


def inside_out(build, style) -> Graph:
    """One mesh a brick; every second one looks inward."""
    graph = copied(build, style)
    for mesh in graph.meshes[::2]:
        mesh.triangles = mesh.triangles[:, ::-1]
    return graph


def stud_children(build, style) -> Graph:
    """Studs, tubes and prints are objects of their own, children of their brick's object."""
    return _apart(build, style, lambda body, others: body.children.extend(others) or [body])


def stud_siblings(build, style) -> Graph:
    """Body, studs and tubes are objects under one empty a brick."""

    def grouped(body, others):
        return [Node(f"group {body.name}", body.matrix, None, [Node(body.name, mesh=body.mesh), *others])]

    return _apart(build, style, grouped)


def stud_loose(build, style) -> Graph:
    """Body, studs and tubes are objects beside each other with nothing that ties them."""

    def freed(body, others):
        for other in others:
            other.matrix = body.matrix @ other.matrix
        return [body, *others]

    return _apart(build, style, freed)


def levels(build, style, beside: bool = True) -> Graph:
    """Each brick in three levels of detail at its place: as it is, with round things of six sides, and solid without
    studs; beside each other with the coarsest first, or all bricks of a level under one node."""
    coarse = replace(style, facets=6)
    graphs = [shared(build, each) for each in (style, coarse, replace(coarse, studded=False, hollow=False))]
    graph = _graph()
    for each in graphs:
        for root in each.nodes:
            root.mesh += len(graph.meshes)
        graph.meshes += each.meshes
    if beside:
        graph.nodes = [
            Node(f"group {n}", np.eye(4), None, list(three))
            for n, three in enumerate(zip(*(each.nodes for each in reversed(graphs)), strict=True))
        ]
    else:
        graph.nodes = [Node(f"set {n}", np.eye(4), None, each.nodes) for n, each in enumerate(graphs)]
    return graph


def by_colour(build, style) -> Graph:
    """One object a colour."""
    graph, heaps = _graph(), {}
    for mesh in baked(build, style).meshes:
        heaps.setdefault(int(mesh.colour[0]), []).append(mesh)
    for colour, heap in sorted(heaps.items()):
        name = NAMES[colour]
        graph.nodes.append(Node(name, np.eye(4), _add(graph, together(name, heap))))
    return graph


def joined(build, style, merged: bool = False, dropped: int = 0) -> Graph:
    """The whole build as one mesh; vertices merged across bricks, one or both of two faces on each other dropped."""
    graph = _graph()
    mesh = together("build", baked(build, style).meshes)
    if merged or dropped:
        mesh = merged_across(mesh)
    if dropped:
        mesh = without_coincident(mesh, dropped)
    graph.nodes.append(Node("build", np.eye(4), _add(graph, mesh)))
    return graph


def together(name: str, meshes: Iterable[Mesh]) -> Mesh:
    meshes = list(meshes)
    starts = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    uv = None
    if any(mesh.uv is not None for mesh in meshes):
        uv = np.concatenate([np.zeros((len(m.vertices), 2)) if m.uv is None else m.uv for m in meshes])
    return Mesh(
        name,
        np.concatenate([mesh.vertices for mesh in meshes]),
        np.concatenate([mesh.triangles + start for mesh, start in zip(meshes, starts, strict=False)]),
        np.concatenate([mesh.colour for mesh in meshes]),
        uv,
    )


def merged_across(mesh: Mesh, near: float = 1e-4) -> Mesh:
    """Vertices in one place made one, whichever brick they are of."""
    cells = np.floor(mesh.vertices / near + 0.31).astype(np.int64)  # off the lattice, whose places are round
    _, first, number = np.unique(cells, axis=0, return_index=True, return_inverse=True)
    uv = None if mesh.uv is None else mesh.uv[first]
    return Mesh(mesh.name, mesh.vertices[first], number.reshape(-1)[mesh.triangles], mesh.colour, uv)


def without_coincident(mesh: Mesh, dropped: int) -> Mesh:
    """Of triangles over the same three vertices the later one dropped (1) or both (2)."""
    _, first, number, count = np.unique(
        np.sort(mesh.triangles, axis=1), axis=0, return_index=True, return_inverse=True, return_counts=True
    )
    kept = np.sort(first) if dropped == 1 else np.flatnonzero(count[number.reshape(-1)] == 1)
    return Mesh(mesh.name, mesh.vertices, mesh.triangles[kept], mesh.colour[kept], mesh.uv)


def _graph() -> Graph:
    return Graph([], [], list(COLOURS.items()))


def _add(graph, mesh) -> int:
    graph.meshes.append(mesh)
    return len(graph.meshes) - 1


def _joined(name, parts: Sequence[Shell], colour) -> Mesh:
    return together(name, [_single(name, shell, colour) for shell in parts])


def _single(name, shell, colour) -> Mesh:
    uv = shell.uv if colour == "printed" else None
    return Mesh(name, shell.vertices, shell.triangles, np.full(len(shell.triangles), NAMES.index(colour)), uv)


def _shuffle(mesh, rng):
    order, faces = rng.permutation(len(mesh.vertices)), rng.permutation(len(mesh.triangles))
    place = np.argsort(order)
    mesh.vertices, mesh.triangles = mesh.vertices[order], np.roll(place[mesh.triangles][faces], 1, axis=1)
    mesh.colour = mesh.colour[faces]
    if mesh.uv is not None:
        mesh.uv = mesh.uv[order]


def _flipped(mesh):
    return Mesh(mesh.name, mesh.vertices * (-1, 1, 1), mesh.triangles[:, ::-1], mesh.colour, mesh.uv)


def _group(children, number, scale, mirror):
    """A group that moves, turns, scales and mirrors, and children that undo it."""
    turn = about((X, Y, Z)[number % 3], 90 * (number % 4))
    matrix = moved(turn * scale, np.array([10.0 * number, -5, 3]))
    if mirror:
        matrix = matrix @ MIRROR
    undone = np.linalg.inv(matrix)
    for child in children:
        child.matrix = undone @ child.matrix
    return Node(f"group {number}", matrix, None, children)


def _apart(build, style, arranged) -> Graph:
    """Every shell a mesh of its own, as small as it is; equal ones shared."""
    graph, known = _graph(), {}
    for n, brick in enumerate(build):
        nodes = []
        for k, shell in enumerate(shells(brick.part, style)):
            middle = 0 * X if shell.role == "body" else np.round(shell.vertices.mean(axis=0), 6)
            key = (brick.part, brick.colour, k)
            if shell.role in ("stud", "tube"):
                key = shell.role, brick.colour, (shell.vertices - middle).round(4).tobytes()
            if key not in known:
                mesh = _single(f"{shell.role} {brick.part}", shell, brick.colour)
                mesh.vertices = mesh.vertices - middle
                known[key] = _add(graph, mesh)
            nodes.append(Node(f"{shell.role} {n} {k}", moved(np.eye(3), middle), known[key]))
        body, *others = nodes
        body.matrix = moved(brick.turn, brick.at)
        graph.nodes += arranged(body, others)
    return graph
