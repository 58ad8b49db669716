"""The nodes of a document that lead to geometry, each with its own transform, instances followed."""

from dataclasses import dataclass, replace

import numpy as np

from ....core import units
from .document import DEEPEST, Document

MOST = 250_000  # nodes; a dozen instances of instances could ask for billions
TRANSFORMS = ("matrix", "translate", "rotate", "scale", "lookat", "skew")
CONTENT = ("node", "instance_node", "instance_geometry", "instance_controller")


@dataclass(frozen=True)
class Binding:
    """Which material stands for a symbol of the geometry, and which set its texture coordinates' names mean."""

    symbol: str
    material: str
    sets: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Spot:
    """A place in the scene: its parent's index or None, its matrix (4, 4) below that, and what stands there."""

    name: str
    parent: int | None
    matrix: np.ndarray
    geometry: str | None = None
    bindings: tuple[Binding, ...] = ()


def spots(document: Document) -> list[Spot]:
    """Parents before children, in the file's order; ValueError for references that are broken, cyclic or too many."""
    return _Walk(document).done()


class _Walk:
    def __init__(self, document):
        self.document, self.tag = document, document.tag
        self.content = {self.tag(name): name for name in CONTENT}
        self.transforms = {self.tag(name): name for name in TRANSFORMS}
        self.nodes = _by_id(document.root, self.tag("node"))
        self.controllers = _by_id(document.root, self.tag("controller"))
        self.spots: list[Spot] = []
        self.steps = 0

    def done(self):
        scene = self._scene()
        if scene is None:  # a mere library
            return [Spot(each.name or each.id, None, np.eye(4), each.id) for each in self.document.geometries]
        waiting: list[tuple] = [(node, None, frozenset()) for node in reversed(scene.findall(self.tag("node")))]
        while waiting:
            waiting.extend(reversed(self._visit(*waiting.pop())))
        return self.spots

    def _scene(self):
        scenes = list(self.document.root.iter(self.tag("visual_scene")))
        chosen = self.document.root.find(f"{self.tag('scene')}/{self.tag('instance_visual_scene')}")
        wanted = (chosen.get("url") or "")[1:] if chosen is not None else None
        return next((scene for scene in scenes if scene.get("id") == wanted), scenes[0] if scenes else None)

    def _visit(self, node, parent, through):
        """Stand the node in the scene; the nodes below it, with its index and the instances that led here."""
        name, matrix = node.get("name") or node.get("id"), self._matrix(node)
        content = self._content(node)
        while [kind for kind, _ in content] == ["instance_node"]:  # one thing, not a holder of one thing
            node, through = self._target(content[0][1], through)
            name, matrix = name or node.get("name") or node.get("id"), matrix @ self._matrix(node)
            content = self._content(node)
        if not content:
            return []
        shown = [each for kind, each in content if kind in ("instance_geometry", "instance_controller")]
        own = len(self.spots)
        spot = Spot(name or "", parent, matrix)
        if len(shown) == 1:
            self.spots.append(self._showing(spot, shown[0]))
        else:
            self.spots.append(spot)
            self.spots += [self._showing(Spot("", own, np.eye(4)), each) for each in shown]
        below = [(each, own, through) for kind, each in content if kind == "node"]
        for kind, each in content:
            if kind == "instance_node":
                target, passed = self._target(each, through)
                below.append((target, own, passed))
        return below

    def _content(self, node):
        self.steps += 1
        if self.steps > MOST:
            raise ValueError(f"it places more than {MOST} nodes")
        return [(self.content[child.tag], child) for child in node if child.tag in self.content]

    def _target(self, instance, through):
        key = _local(instance)
        if key not in self.nodes:
            raise ValueError(f"its node {key} is missing")
        if key in through:
            raise ValueError(f"its node {key} contains itself")
        if len(through) >= DEEPEST:
            raise ValueError(f"its instances are nested deeper than {DEEPEST}")
        return self.nodes[key], through | {key}

    def _showing(self, spot, instance):
        key = _local(instance)
        seen = set()
        while key in self.controllers and key not in seen:  # a skin or morph is shown as the geometry it starts from
            seen.add(key)
            key = next((_local(each, "source") for each in self.controllers[key] if each.get("source")), key)
        geometry = self.document.geometry(key)
        return replace(
            spot, name=spot.name or geometry.name or key, geometry=key, bindings=tuple(self._bindings(instance))
        )

    def _bindings(self, instance):
        for each in instance.iter(self.tag("instance_material")):
            sets = tuple(
                (bound.get("semantic", ""), bound.get("input_set", "0"))
                for bound in each.findall(self.tag("bind_vertex_input"))
            )
            yield Binding(each.get("symbol", ""), _local(each, "target"), sets)

    def _matrix(self, node):
        matrix = np.eye(4)
        for child in node:
            if child.tag in self.transforms:
                matrix = matrix @ _transform(self.transforms[child.tag], child.text)
        return matrix


def _by_id(root, tag):
    return {element.get("id"): element for element in root.iter(tag) if element.get("id")}


def _local(element, attribute="url"):
    url = element.get(attribute) or ""
    if not url.startswith("#"):
        raise ValueError(f"it refers to another file, {url[:80]!r}: export all into one")
    return url[1:]


def _transform(kind, text):
    """The matrix (4, 4) of one transform element; ValueError where its numbers are too few, too many or none."""
    wanted = {"matrix": 16, "rotate": 4, "lookat": 9, "skew": 7}.get(kind, 3)
    try:
        numbers = np.array((text or "").split(), dtype=float)
    except ValueError:
        numbers = np.zeros(0)
    if len(numbers) != wanted or not np.isfinite(numbers).all():
        raise ValueError(f"a <{kind}> in it is not made of the numbers it needs")
    if kind == "matrix":
        return numbers.reshape(4, 4)
    matrix = np.eye(4)
    if kind == "translate":
        matrix[:3, 3] = numbers
    elif kind == "scale":
        matrix[[0, 1, 2], [0, 1, 2]] = numbers
    elif kind == "rotate":
        matrix[:3, :3] = _rotation(_unit(numbers[:3]), units.radians(numbers[3]))
    elif kind == "lookat":
        matrix[:3, :3], matrix[:3, 3] = _looking(*numbers.reshape(3, 3)), numbers[:3]
    else:
        matrix[:3, :3] = _skew(units.radians(numbers[0]), _unit(numbers[1:4]), _unit(numbers[4:]))
    return matrix


def _unit(vector):
    length = np.linalg.norm(vector)
    return vector / length if length else vector


def _rotation(axis, angle):
    x, y, z = axis
    across = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(angle) * across + (1 - np.cos(angle)) * across @ across


def _looking(eye, target, up):
    back = _unit(eye - target)
    side = _unit(np.cross(up, back))
    return np.stack([side, np.cross(back, side), back], axis=1)


def _skew(angle, from_, along):
    """Shifts all points along one axis so that the other axis leans towards it by the angle, as RenderMan has it."""
    cosine = from_ @ along
    apart = from_ - cosine * along
    height = np.linalg.norm(apart)
    if not height:
        return np.eye(3)
    shift = height / np.tan(np.arctan2(height, cosine) - angle) - cosine
    return np.eye(3) + np.outer(along, apart) * shift / height**2
