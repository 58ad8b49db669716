"""Passes on the view layers of a scene: put on, and taken off again as they were."""

import json
from collections.abc import Iterable

import bpy

from ... import raw
from ...core.errors import ShotProblem
from ...core.wear.names import PASSES
from ...transaction import Back, keep

KEPT = "playworn_passes"  # raw property on a view layer: which passes of Blender's, and which AOVs, it has by us
_SWITCHES = tuple(
    f"use_pass_{name}"
    for name in (
        "combined",
        "z",
        "normal",
        "diffuse_direct",
        "diffuse_indirect",
        "diffuse_color",
        "glossy_direct",
        "glossy_indirect",
        "glossy_color",
        "cryptomatte_object",
        "cryptomatte_material",
    )
)


def put_on(scene: bpy.types.Scene) -> list[str]:
    """Gives every view layer that renders all passes; the layers' names. ShotProblem, and nothing done, where an AOV of
    an artist's has a name of ours."""
    layers = [layer for layer in scene.view_layers if layer.use]
    if not layers:
        raise ShotProblem(f'no view layer of the scene "{scene.name}" is used for rendering: switch one on')
    for layer in layers:
        _check(layer)
    for layer in layers:
        _put_on(layer)
    return [layer.name for layer in layers]


def take_off(scene: bpy.types.Scene) -> int:
    """Takes off what `put_on` gave the view layers of a scene; how many had any."""
    layers = [layer for layer in scene.view_layers if KEPT in layer]
    for layer in layers:
        ours = _ours(layer)
        keep(lambda layer=layer: _before(layer))
        for switch in _SWITCHES:
            if switch in ours:
                setattr(layer, switch, False)
        _remove(layer, [name for name in PASSES if name in ours])
        raw.drop(layer, KEPT)
    return len(layers)


def on(scene: bpy.types.Scene) -> list[str]:
    """The view layers of a scene that have passes of ours."""
    return [layer.name for layer in scene.view_layers if KEPT in layer]


def _check(layer: bpy.types.ViewLayer) -> None:
    for name in PASSES:
        if name in layer.aovs and name not in _ours(layer):
            raise ShotProblem(
                f'the view layer "{layer.name}" has an AOV "{name}" of your own, which is what the wear calls its '
                "pass: give yours another name"
            )


def _put_on(layer: bpy.types.ViewLayer) -> None:
    keep(lambda: _before(layer))
    switches = [name for name in _SWITCHES if not getattr(layer, name)]
    for name in switches:
        setattr(layer, name, True)
    _add(layer, [name for name in PASSES if name not in layer.aovs])
    raw.put(layer, KEPT, json.dumps(sorted({*_ours(layer), *switches, *PASSES})))


def _ours(layer: bpy.types.ViewLayer) -> set[str]:
    """What a view layer has by us; nothing where another hand wrote it."""
    try:
        told = raw.said(raw.text(layer, KEPT) or "[]")
    except ValueError:
        return set()
    return {name for name in told if isinstance(name, str)} if isinstance(told, list) else set()


def _add(layer: bpy.types.ViewLayer, wanted: Iterable[str]) -> None:
    """Adds AOVs of a number each; the artist's active one stays so."""
    active = layer.active_aov_index
    for name in wanted:
        made = layer.aovs.add()
        made.name, made.type = name, "VALUE"
    layer.active_aov_index = active


def _remove(layer: bpy.types.ViewLayer, names: Iterable[str]) -> None:
    active = layer.active_aov.name if layer.active_aov else ""
    for name in names:
        if name in layer.aovs:
            layer.aovs.remove(layer.aovs[name])
    layer.active_aov_index = max(layer.aovs.find(active), 0)


def _before(layer: bpy.types.ViewLayer) -> Back:
    switches = {name: getattr(layer, name) for name in _SWITCHES}
    names, active = layer.aovs.keys(), layer.active_aov_index

    def back() -> None:
        for name, value in switches.items():
            setattr(layer, name, value)
        _remove(layer, [name for name in PASSES if name not in names])
        _add(layer, [name for name in names if name not in layer.aovs])
        layer.active_aov_index = active

    return back
