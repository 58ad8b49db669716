"""Exports of two versions of a build, and what the bricks of a file are to the bit."""

from dataclasses import replace
from pathlib import Path

import bpy
import numpy as np

from addon.scene.fit import deltas
from addon.scene.wear import stamps
from bench.ways import layouts
from bench.ways.catalogue import Way
from bench.ways.parts import Style
from bench.ways.workshop import Placed, workshop
from tests.core import versions as truths

STYLE = Style(facets=24)
COUNT = 120
BUILD = workshop(COUNT)
CHANGED, TRUTH = truths.changed(BUILD)


def export(folder: Path, name: str, build: list[Placed], **how) -> Path:
    """Writes a build; unless told otherwise as glTF in metres, y up, an object a brick."""
    settings = {"suffix": ".glb", "writer": "gltf.write", "unit_mm": 1000.0, "y_up": True, "style": STYLE} | how
    return Way(name, **settings).write(build, folder)


def noisy(build, style):
    return layouts.copied(build, style, noise=0.01, shuffled=True)


def renamed(build, style):
    graph = layouts.shared(build, style)
    for n, node in enumerate(graph.nodes):
        node.name = f"element {len(graph.nodes) - n}"
    return graph


def sat(thing: bpy.types.Object) -> bytes:
    """All that the fit and the wear put on a brick, bit for bit."""
    channels = ("delta_location", "delta_rotation_euler", "delta_rotation_quaternion", "delta_scale", deltas.RECORD)
    values = [np.array(getattr(thing, name), np.float32).tobytes() for name in channels if hasattr(thing, name)]
    names = (stamps.SHARE, stamps.OFFSET, stamps.TURN, stamps.SPOT)
    raw = [np.array(thing.get(name, 0.0), float).tobytes() for name in names]
    return b"".join([*values, *raw])


def stood(thing: bpy.types.Object) -> bytes:
    """The same with where the export put it, its mesh and its materials."""
    channels = ("location", "rotation_euler", "rotation_quaternion", "scale")
    values = [np.array(getattr(thing, name), np.float32).tobytes() for name in channels]
    shown = [thing.data.name, *(slot.material.name if slot.material else "" for slot in thing.material_slots)]
    return b"".join([sat(thing), *values, "|".join(shown).encode()])


def all_of(things, how=stood) -> dict[str, bytes]:
    return {thing.name: how(thing) for thing in things if thing.type == "MESH"}


def recoloured(build: list[Placed], share: float = 0.1, seed: int = 4) -> list[Placed]:
    chosen = set(np.random.default_rng(seed).permutation(len(build))[: int(share * len(build))].tolist())
    return [replace(b, colour="amber" if n in chosen else b.colour) for n, b in enumerate(build)]
