"""The wear node of one tree: put in before its shaders, taken out again without a trace.

colour source    ─▶ ┌───────────────┐ ─▶ Base Color ┐
roughness source ─▶ │ Playworn wear │ ─▶ Roughness  ├ shader
normal source    ─▶ │               │ ─▶ Normal     │
refraction       ─▶ └───────────────┘ ─▶ IOR        ┘
"""

from collections.abc import Callable, Generator, Iterator
from typing import cast

import bpy

from ..core.wear import fade, tint
from ..core.wear.kinds import MOULDED, RUBBED, TRANSPARENT
from ..core.wear.layers import Wear, lying, sockets
from ..core.wear.names import COPIED_COLOUR
from ..transaction import keep
from . import before, builder, hand, shaders, wires
from .groups import wear as worn
from .shaders import COLOUR, IOR, NORMAL, ROUGHNESS
from .trees import trees

# Where a node keeps the constant it was given, to tell later whether the artist changed it.
_COPIED = {COLOUR: COPIED_COLOUR, ROUGHNESS: "playworn_copied", IOR: "playworn_copied_ior"}
_PLACE = "playworn_place_"  # where in the order of the links the one of each input stood
_HIDDEN = "playworn_hidden_"  # and which sockets of the shader were hidden: Blender shows what is linked
_LABEL = "Playworn wear"
_LEFT, _BELOW = 240.0, 240.0


Group = tuple[bpy.types.NodeTree, frozenset[str]]


def putting_in(
    tree: bpy.types.NodeTree,
    wear: Wear,
    metres_per_mm: float,
    grouping: Callable[[Wear, bool], Generator[None, None, Group]],
    dull: bool = False,
    given: hand.Hand | None = None,
) -> Generator[None, None, None]:
    """Puts ours before every shader of a tree that has none of them, in parts; `grouping` gives what wears a surface
    like this, for a colour from nodes or a constant one, and the sockets that it goes without.

    `dull`: all of the build is, so that roughness tells no kind. `given`: what the artist gave ours that were there.
    """
    _keep(tree)
    places = wires.places(tree)
    for shader in shaders.shaders(tree):
        colour = shaders.colour(tree, shader)
        kind = shaders.kind(tree, shader, dull)
        worked_out = _worked_out(wear, colour, kind, metres_per_mm)
        for number, passage in enumerate(shaders.passages(tree, shader)):
            here = lying(wear, on_glass=kind == TRANSPARENT, on_coat=COLOUR not in passage)
            worn_by, left_out = yield from grouping(here, colour is None)
            through = {ours: theirs for ours, theirs in passage.items() if ours not in left_out}
            if not through:  # where nothing bends normals they are left alone, and animated constants always
                continue
            values = sockets(here) | worked_out
            node = _node(tree, worn_by, {name: values[name] for name in values if name not in left_out})
            x, y = shader.location_absolute
            node.location = x - _LEFT, y - _BELOW * (1 + number)
            for ours, theirs in through.items():
                _pass(tree, node, ours, builder.socket(shader.inputs, theirs), places)
            hand.put_back(tree, node, (given or {}).get((shader.name, number), {}))


def take_out(tree: bpy.types.NodeTree) -> hand.Hand:
    """Whatever feeds our nodes of a tree goes back to wherever they led. Returns what the artist gave them."""
    places, hidden, nodes = {}, [], ours(tree)
    given = hand.read(tree, nodes)
    if nodes:
        _keep(tree)
    for node in nodes:
        for name, target in _bridges(tree, node):
            if _PLACE + name in node:
                places[target] = node[_PLACE + name]
            if _HIDDEN + name in node:
                hidden.append(target)
    for node in nodes:
        tree.nodes.remove(node)
    wires.put_back(tree, places)
    for target in hidden:
        target.hide = True
    return given


def ours(tree: bpy.types.NodeTree) -> list[bpy.types.ShaderNodeGroup]:
    """Our nodes in a tree, without its groups."""
    return [
        node
        for node in tree.nodes
        if isinstance(node, bpy.types.ShaderNodeGroup) and builder.stamp(node.node_tree) == worn.KIND
    ]


def _keep(tree: bpy.types.NodeTree) -> None:
    keep(lambda: before.of_tree(tree, ours))


def _worked_out(wear: Wear, colour: tuple[float, ...] | None, kind: str, metres_per_mm: float) -> dict[str, float]:
    return {
        "Moulded roughness": MOULDED[kind].roughness,
        "Moulded IOR": MOULDED[kind].index_of_refraction,
        "Rub whitening": RUBBED[kind].whitening,
        "Rub finish": RUBBED[kind].roughness,
        "Scale": metres_per_mm,
        **(_of_colour(wear, colour) if colour else {}),
    }


def _of_colour(wear: Wear, colour: tuple[float, ...]) -> dict[str, float]:
    ageing = fade.ageing(colour, wear.fade.delta_e)
    return {
        "Lot spread": tint.spread(colour, wear.tint.delta_e),
        "Yellowing": ageing.yellowing,
        "Bleaching": ageing.bleaching,
        "Fading twice": fade.twice(colour, wear.fade.delta_e) - 2.0,
    }


def _node(tree: bpy.types.NodeTree, group: bpy.types.NodeTree, values: dict[str, float]) -> bpy.types.ShaderNodeGroup:
    node = cast(bpy.types.ShaderNodeGroup, tree.nodes.new("ShaderNodeGroup"))
    node.node_tree = cast(bpy.types.ShaderNodeTree, group)
    node.label = _LABEL
    for name, value in values.items():
        builder.group_socket(node, "INPUT", name).default_value = value
    return node


def _pass(tree: bpy.types.NodeTree, node: bpy.types.ShaderNodeGroup, name: str, target, places: dict) -> None:
    """Leads what feeds a shader's socket through ours of that name."""
    entry = builder.group_socket(node, "INPUT", name)
    if name in _COPIED:
        entry.default_value = node[_COPIED[name]] = target.default_value
    if target.hide:
        node[_HIDDEN + name] = True
    for wire in wires.into(tree, target):
        node[_PLACE + name] = places[target]
        wires.lead(tree, wire.from_socket, entry, wire.is_muted)
    builder.link(tree, builder.group_socket(node, "OUTPUT", name), target)


def _bridges(tree: bpy.types.NodeTree, node: bpy.types.ShaderNodeGroup) -> Iterator[tuple[str, bpy.types.NodeSocket]]:
    """Leads what feeds a node of ours on to where it leads; gives its sockets that do, each with the first goal."""
    for name in (COLOUR, ROUGHNESS, NORMAL, IOR):
        if builder.has_socket(node.node_tree, "INPUT", name):  # not every quality passes all, nor did older versions
            leaving = wires.out_of(tree, builder.group_socket(node, "OUTPUT", name))
            goals = [(wire.to_socket, wire.is_muted) for wire in leaving]
            _bridge(tree, node, name, goals)
            yield from ((name, goal) for goal, _ in goals[:1])


def _bridge(tree: bpy.types.NodeTree, node: bpy.types.ShaderNodeGroup, name: str, goals: list[tuple]) -> None:
    entry = builder.group_socket(node, "INPUT", name)
    sources = [(wire.from_socket, wire.is_muted) for wire in wires.into(tree, entry)]
    copied = node.get(_COPIED.get(name, ""))
    changed = copied is not None and _plain(entry.default_value) != _plain(copied)
    for goal, muted in goals:
        is_between = not sources and goal.node not in shaders.shaders(
            tree
        )  # a node put where the constant came from us
        if copied is not None and (changed or is_between) and goal.type == entry.type:
            goal.default_value = entry.default_value
        for source, source_muted in sources:
            wires.lead(tree, source, goal, muted or source_muted)
        if copied is None and not sources and goal.node.bl_idname == "NodeGroupOutput":
            _unlink_beyond(tree, goal.identifier)


def _unlink_beyond(group: bpy.types.NodeTree, output: str) -> None:
    """Nothing leads to an output of an artist's group any more: it would hand out zero, where no link means the normal
    of the surface itself."""
    for tree in {tree for material in bpy.data.materials if material.is_editable for tree in trees(material)}:
        ends = [
            builder.socket(node.outputs, output) for node in tree.nodes if getattr(node, "node_tree", None) == group
        ]
        for wire in [wire for end in ends for wire in wires.out_of(tree, end)]:
            _keep(tree)
            tree.links.remove(wire)


def _plain(value) -> tuple[float, ...]:
    """A socket's constant, or a property that keeps one."""
    return tuple(value) if hasattr(value, "__len__") else (value,)
