"""Node trees as code: sockets by identifier, links that refuse what Blender would swallow, groups known by a stamp."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from graphlib import TopologicalSorter
from typing import Any, Literal, cast

import bpy

from .. import blender
from ..blender import links_of

GROUP = "playworn_group"
VERSION = "playworn_version"

FLOAT = "NodeSocketFloat"
VECTOR = "NodeSocketVector"
COLOUR = "NodeSocketColor"

_COLUMN = 190
_ROW = 200

Result = bpy.types.NodeSocket
Value = Result | float | tuple
Side = Literal["INPUT", "OUTPUT"]


@dataclass(frozen=True)
class Panel:
    """A part of a group's interface that can be folded."""

    name: str
    description: str


@dataclass(frozen=True)
class Socket:
    """One socket of a group's interface; the description carries the unit."""

    name: str
    description: str
    kind: str = FLOAT
    default: float = 0.0
    low: float = 0.0
    high: float = 1.0
    panel: Panel | None = None  # in which it stands


def group(
    kind: str,
    version: int,
    inputs: Sequence[Socket],
    outputs: Sequence[Socket],
    build: Callable[["Builder"], None],
    made_of: Sequence[bpy.types.ID] = (),
) -> bpy.types.NodeTree:
    """The group of this kind, version, sockets and content: the one in the file, or a new one.

    `made_of` names every image and group used inside. A group with another version's stamp is left to whoever uses it
    and goes when nobody does, so a file made by an older version is brought up to date by attaching again.
    """
    ways: tuple[tuple[Side, Sequence[Socket]], ...] = (("INPUT", inputs), ("OUTPUT", outputs))
    sides: list[tuple[Side, list[str]]] = [(in_out, [each.name for each in way]) for in_out, way in ways]
    for tree in bpy.data.node_groups:
        ours = stamp(tree) == kind and tree.get(VERSION) == version and not tree.library
        if ours and _parts(tree) == set(made_of) and all(_names(tree, in_out) == names for in_out, names in sides):
            return tree
    tree = bpy.data.node_groups.new(f"Playworn {kind}", "ShaderNodeTree")
    for in_out, way in ways:
        for socket in way:
            _declare(tree, in_out, socket)
    builder = Builder(tree)
    build(builder)
    builder.arrange()
    tree[GROUP], tree[VERSION] = kind, version
    return tree


def stamp(tree: bpy.types.NodeTree | None) -> str | None:
    """Which of our groups a tree is; None for anybody else's."""
    return tree.get(GROUP) if tree else None


def group_socket(node: bpy.types.ShaderNodeGroup, in_out: Side, name: str) -> blender.Socket:
    """A group node's socket by the name its interface gives it (names of interfaces are data and never translated)."""
    assert node.node_tree is not None
    return socket(node.inputs if in_out == "INPUT" else node.outputs, _identifier(node.node_tree, in_out, name))


def has_socket(tree: bpy.types.NodeTree | None, in_out: Side, name: str) -> bool:
    """Whether a group's interface has a socket of this name."""
    return tree is not None and name in _names(tree, in_out)


def socket(sockets: bpy.types.NodeInputs | bpy.types.NodeOutputs, identifier: str) -> blender.Socket:
    """The usable socket with this identifier."""
    for candidate in sockets:
        if candidate.identifier == identifier:
            if not candidate.enabled or candidate.is_unavailable:
                raise KeyError(f"socket {identifier!r} of {candidate.node.name!r} is not in use")
            return cast(blender.Socket, candidate)
    raise KeyError(f"no socket {identifier!r} among {[s.identifier for s in sockets]}")


def constant(entry: bpy.types.NodeSocket) -> Any:
    """What a socket is set to, colours and vectors as tuples; None for one that takes nothing but a link."""
    value: Any = getattr(entry, "default_value", None)
    return tuple(value) if hasattr(value, "__len__") and not isinstance(value, str) else value


def link(tree: bpy.types.NodeTree, source: bpy.types.NodeSocket, target: bpy.types.NodeSocket) -> bpy.types.NodeLink:
    """Joins an output to an input; raises where Blender would draw the link in red or drop it."""
    if not source.is_output or target.is_output:
        raise ValueError(f"a link runs from an output to an input, not {source.name!r} to {target.name!r}")
    made = tree.links.new(source, target)
    if made is None or not made.is_valid:
        raise ValueError(f"{source.node.name}.{source.identifier} does not fit {target.node.name}.{target.identifier}")
    return made


class Builder:
    """Writes one group: every method adds a node and gives back the socket that carries its result."""

    def __init__(self, tree: bpy.types.NodeTree):
        self.tree = tree
        self._frame: bpy.types.Node | None = None
        self._entry = self.add("NodeGroupInput")
        self._exit = self.add("NodeGroupOutput")

    def add(self, kind: str, name: str = "", inputs: dict[str, Value] | None = None, **settings) -> bpy.types.Node:
        """A node with its settings made first (they decide which sockets are in use), then its inputs by identifier."""
        node = self.tree.nodes.new(kind)
        node.parent = self._frame
        if name:
            node.name = node.label = name
        for key, value in settings.items():
            if getattr(node, key) != value:  # each that is set has Blender go through the tree
                setattr(node, key, value)
        for identifier, value in (inputs or {}).items():
            self._feed(socket(node.inputs, identifier), value)
        return node

    def input(self, name: str) -> Result:
        """What comes into the group."""
        return socket(self._entry.outputs, _identifier(self.tree, "INPUT", name))

    def output(self, name: str, value: Value) -> None:
        """Hands a result out of the group."""
        self._feed(socket(self._exit.inputs, _identifier(self.tree, "OUTPUT", name)), value)

    def math(self, operation: str, first: Value, second: Value = 0.0, name: str = "", clip: bool = False) -> Result:
        """One number from two; `clip` keeps it in 0..1."""
        inputs = {"Value": first} if operation in _OF_ONE else {"Value": first, "Value_001": second}
        node = self.add("ShaderNodeMath", name, inputs, operation=operation, use_clamp=clip)
        return socket(node.outputs, "Value")

    def multiply_add(self, first: Value, second: Value, third: Value, name: str = "", clip: bool = False) -> Result:
        """first * second + third, in one node: each is time in every ray that meets a brick."""
        inputs = {"Value": first, "Value_001": second, "Value_002": third}
        node = self.add("ShaderNodeMath", name, inputs, operation="MULTIPLY_ADD", use_clamp=clip)
        return socket(node.outputs, "Value")

    def vector(self, operation: str, first: Value, second: Value, name: str = "") -> Result:
        """One vector from a vector and a second (for SCALE: a number)."""
        other = "Scale" if operation == "SCALE" else "Vector_001"
        node = self.add("ShaderNodeVectorMath", name, {"Vector": first, other: second}, operation=operation)
        return socket(node.outputs, "Vector")

    def share_more(self, of: Value, shares: Value, name: str = "") -> Result:
        """A vector with these shares of itself added, each part its own; with no share the same to the last digit."""
        inputs = {"Vector": of, "Vector_001": shares, "Vector_002": of}
        return socket(self.add("ShaderNodeVectorMath", name, inputs, operation="MULTIPLY_ADD").outputs, "Vector")

    def length(self, of: Value, name: str = "") -> Result:
        """The length of a vector."""
        node = self.add("ShaderNodeVectorMath", name, {"Vector": of}, operation="LENGTH")
        return socket(node.outputs, "Value")

    def dot(self, first: Value, second: Value, name: str = "") -> Result:
        """The dot product of two vectors."""
        node = self.add("ShaderNodeVectorMath", name, {"Vector": first, "Vector_001": second}, operation="DOT_PRODUCT")
        return socket(node.outputs, "Value")

    def mix(self, factor: Value, first: Value, second: Value, name: str = "", kind: str = "Float") -> Result:
        """`first` at factor 0 (exactly), `second` at 1; kind Float, Vector or Color."""
        node = self.add("ShaderNodeMix", name, data_type="RGBA" if kind == "Color" else kind.upper())
        for identifier, value in (("Factor_Float", factor), (f"A_{kind}", first), (f"B_{kind}", second)):
            self._feed(socket(node.inputs, identifier), value)
        return socket(node.outputs, f"Result_{kind}")

    def unless_zero(self, amount: Value, clean: Value, worn: Value, name: str = "") -> Result:
        """The worn normal where an amount is above 0, else the clean one to the last digit.

        Where the amount is 0 all over, Cycles works out nothing of what made the worn one.
        """
        return self.mix(self.math("GREATER_THAN", amount, 0.0), clean, worn, name, "Vector")

    def attribute(self, where: str, key: str, read_as: str = "Fac") -> Result:
        """A raw ID property of the OBJECT, or of the scene through the VIEW_LAYER; 0 where missing.

        Read as a number, or as a "Vector" and the "Alpha" after it where it holds three or four.
        """
        node = self.add("ShaderNodeAttribute", key, attribute_type=where, attribute_name=key)
        return socket(node.outputs, read_as)

    def subgroup(self, tree: bpy.types.NodeTree, inputs: dict[str, Value]) -> bpy.types.ShaderNodeGroup:
        """Another of our groups, its inputs by interface name; read its results with `group_socket`."""
        node = cast(bpy.types.ShaderNodeGroup, self.add("ShaderNodeGroup", tree.name, node_tree=tree))
        for name, value in inputs.items():
            self._feed(group_socket(node, "INPUT", name), value)
        return node

    @contextmanager
    def frame(self, label: str) -> Iterator[None]:
        """Nodes added inside stand in a frame that tells why they are there."""
        self._frame = self.tree.nodes.new("NodeFrame")
        self._frame.label = label
        yield
        self._frame = None

    def arrange(self) -> None:
        """Puts every node one column to the right of what feeds it."""
        column, filled = _columns(self.tree), Counter[int]()
        places = list[float]()
        for node in self.tree.nodes:
            if node.bl_idname == "NodeFrame":
                places.extend((node.location.x, node.location.y))
                continue
            here = column[node.name]
            places.extend((here * _COLUMN, -filled[here] * _ROW))
            filled[here] += 1
        self.tree.nodes.foreach_set("location", places)  # set one by one, each has Blender go through the tree

    def _feed(self, target: blender.Socket, value: Value) -> None:
        if isinstance(value, Result):
            link(self.tree, value, target)
        elif constant(target) != value:
            target.default_value = value


def _columns(tree: bpy.types.NodeTree) -> dict[str, int]:
    """How many nodes stand before each, by its name, on the longest way to it."""
    fed_by: dict[str, list[str]] = {node.name: [] for node in tree.nodes}
    for wire in links_of(tree):
        fed_by[wire.to_node.name].append(wire.from_node.name)
    column = dict[str, int]()
    for name in TopologicalSorter(fed_by).static_order():
        column[name] = max((column[source] + 1 for source in fed_by[name]), default=0)
    return column


_OF_ONE = {"SQRT", "ABSOLUTE", "FLOOR", "FRACT", "SINE"}


def _declare(tree: bpy.types.NodeTree, in_out: Side, wanted: Socket) -> None:
    made = tree.interface.new_socket(
        wanted.name,
        description=wanted.description,
        in_out=in_out,
        socket_type=wanted.kind,
        parent=_panel(tree, wanted.panel),
    )
    if isinstance(made, bpy.types.NodeTreeInterfaceSocketFloat):
        made.default_value, made.min_value, made.max_value = wanted.default, wanted.low, wanted.high
    elif wanted.kind == VECTOR:
        made.hide_value = True


def _panel(tree: bpy.types.NodeTree, wanted: Panel | None) -> bpy.types.NodeTreeInterfacePanel | None:
    """The panel in a group's interface, made where it is not there; None for none."""
    if wanted is None:
        return None
    there = [each for each in tree.interface.items_tree if isinstance(each, bpy.types.NodeTreeInterfacePanel)]
    found = next((each for each in there if each.name == wanted.name), None)
    return found or tree.interface.new_panel(wanted.name, description=wanted.description)


def _identifier(tree: bpy.types.NodeTree, in_out: Side, name: str) -> str:
    for item in tree.interface.items_tree:
        if isinstance(item, bpy.types.NodeTreeInterfaceSocket) and item.in_out == in_out and item.name == name:
            return item.identifier
    raise KeyError(f"group {tree.name!r} has no {in_out.lower()} {name!r}")


def _names(tree: bpy.types.NodeTree, in_out: Side) -> list[str]:
    """The names of a group's sockets on one side."""
    items = tree.interface.items_tree
    sockets = (item for item in items if isinstance(item, bpy.types.NodeTreeInterfaceSocket))
    return [each.name for each in sockets if each.in_out == in_out]


def _parts(tree: bpy.types.NodeTree) -> set[bpy.types.ID | None]:
    parts: set[bpy.types.ID | None] = set()
    for node in tree.nodes:
        if isinstance(node, bpy.types.ShaderNodeTexImage):
            parts.add(node.image)
        elif isinstance(node, bpy.types.ShaderNodeGroup):
            parts.add(node.node_tree)
    return parts - {None}
