"""Names of ours on the data-blocks of a file, whoever wrote them, and what of ours a file keeps for nobody."""

from collections.abc import Iterable, Iterator

import bpy

from .. import compat, raw
from ..blender import values_of
from ..transaction import Back, keep

_OURS = "playworn"


def blocks() -> Iterator[bpy.types.ID]:
    """All data-blocks of the file, those within others too."""
    for prop in bpy.data.bl_rna.properties:
        if prop.type == "COLLECTION":
            yield from getattr(bpy.data, prop.identifier)
    yield from (scene.collection for scene in bpy.data.scenes)
    for owners in (bpy.data.materials, bpy.data.worlds, bpy.data.lights, bpy.data.scenes):
        yield from filter(None, (getattr(owner, "node_tree", None) for owner in owners))


def marked() -> tuple[list[bpy.types.ID], list[bpy.types.ID]]:
    """The data-blocks with names of ours on them: those of this file, and those of others."""
    found = [block for block in dict.fromkeys(blocks()) if _is_marked(block)]
    return [each for each in found if not each.library], [each for each in found if each.library]


def drop(owners: Iterable[bpy.types.ID]) -> None:
    """Takes all names of ours off data-blocks, and our layers off meshes."""
    for owner in owners:
        for store in compat.stores(owner):
            if names := _names(store.keys()):
                keep(lambda store=store, names=names: _before(store, names))
                for name in names:
                    del store[name]
        if isinstance(owner, bpy.types.Mesh):
            _drop_layers(owner)


def let_go(of_ours: Iterable[bpy.types.ID]) -> None:
    """Nobody keeps what is ours but for nothing: its fake users go, the sweeps do the rest."""
    for block in of_ours:
        if block.use_fake_user and block.is_editable:
            keep(lambda block=block: lambda: setattr(block, "use_fake_user", True))
            block.use_fake_user = False


def _drop_layers(mesh: bpy.types.Mesh) -> None:
    for name in _layers(mesh):
        layer = mesh.attributes[name]
        keep(lambda layer=layer: _layer_before(mesh, layer))
        mesh.attributes.remove(layer)


def _is_marked(block: bpy.types.ID) -> bool:
    return any(_names(store.keys()) for store in compat.stores(block)) or bool(_layers(block))


def _names(names: Iterable[str]) -> list[str]:
    return [name for name in names if name.startswith(_OURS)]


def _layers(block: bpy.types.ID) -> list[str]:
    return _names(block.attributes.keys()) if isinstance(block, bpy.types.Mesh) else []


def _before(store, names: list[str]) -> Back:
    were = {name: raw.plain(store[name]) for name in names}

    def back() -> None:
        for name, value in were.items():
            store[name] = value

    return back


def _layer_before(mesh: bpy.types.Mesh, layer: bpy.types.Attribute) -> Back:
    name, kind, domain = layer.name, layer.data_type, layer.domain
    values = [getattr(each, "value", None) for each in values_of(layer)]

    def back() -> None:
        made = mesh.attributes.new(name, kind, domain)
        for each, value in zip(values_of(made), values, strict=True):
            each.value = value

    return back
