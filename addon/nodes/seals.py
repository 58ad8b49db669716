"""A seal on each group of ours, by which is seen whether anyone has changed it since it was made.

Told are the nodes' settings and constants and the links: not where nodes stand, and no other data-blocks, of which some
are exchanged. Another version of Blender may tell the same group otherwise, so that there no seal says anything.
"""

import json
from collections.abc import Iterator
from hashlib import blake2b

import bpy

from .. import raw
from ..blender import links_of
from ..core.remembered import keeping
from .builder import VERSION, constant, stamp

SEAL = "playworn_seal"
_BLENDER = "{}.{} ".format(*bpy.app.version)


def put_on_new() -> None:
    """Seals the groups that have none: those that have just been made."""
    for tree in bpy.data.node_groups:
        if stamp(tree) and SEAL not in tree and not tree.library:
            raw.put(tree, SEAL, _told(tree))


def is_broken(tree: bpy.types.NodeTree) -> bool:
    """Whether the group is surely another than it was made."""
    kept = raw.text(tree, SEAL)
    return kept.startswith(_BLENDER) and kept != _told(tree)


def set_broken_apart() -> list[str]:
    """Leaves the groups that were changed by hand to whoever still uses them, as those of other versions: what is put
    in from here on takes new ones. Returns their names."""
    found = [tree for tree in bpy.data.node_groups if stamp(tree) and VERSION in tree and not tree.library]
    broken = [tree for tree in found if is_broken(tree)]
    for tree in broken:
        raw.drop(tree, VERSION)
    return [tree.name for tree in broken]


def _told(tree: bpy.types.NodeTree) -> str:
    nodes = [[node.name, node.bl_idname, *_settings(node), *_constants(node)] for node in tree.nodes]
    links = [
        [wire.from_node.name, wire.from_socket.identifier, wire.to_node.name, wire.to_socket.identifier, wire.is_muted]
        for wire in links_of(tree)
    ]
    told = json.dumps([sorted(nodes), sorted(links)])
    return _BLENDER + blake2b(told.encode(), digest_size=16).hexdigest()


def _settings(node: bpy.types.Node) -> Iterator[str]:
    yield from (f"{name} {getattr(node, name)}" for name in _names(type(node)))


def _constants(node: bpy.types.Node) -> Iterator[str]:
    yield from (f"{entry.identifier} {constant(entry)}" for entry in node.inputs)


@keeping(128)
def _names(node: type[bpy.types.Node]) -> tuple[str, ...]:
    """What can be set on nodes of a kind, whether they are muted too."""
    own = [
        each.identifier
        for each in node.bl_rna.properties
        if each.identifier not in bpy.types.Node.bl_rna.properties
        and each.type in ("BOOLEAN", "INT", "FLOAT", "STRING", "ENUM")
        and not each.is_readonly
    ]
    return "mute", *own
