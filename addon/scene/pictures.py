"""Files of pictures, looked at before Blender makes room for what they say they hold."""

import struct
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import bpy
import numpy as np

from ..blender import pixels_of
from ..core.pictures import exr_layers, header
from ..core.wear.texture import is_picture

_LARGEST = 2 << 30  # bytes that are looked at


class Alone(NamedTuple):
    """One layer of a picture that holds several, or one under a name."""

    content: bytes
    told: str  # which of which it is, "" where there is no other


def values(image: bpy.types.Image) -> np.ndarray:
    """What a picture holds (rows, columns, channels), rows upwards: as coded where it has 8 bits."""
    width, height = image.size  # asking for it decodes the file
    found = np.empty(width * height * image.channels, np.float32)
    pixels_of(image).foreach_get(found)
    return found.reshape(height, width, image.channels)


def shown(path: Path) -> np.ndarray:
    """The values (rows, columns, channels) of a picture of ours with 8 bits, as displayed, rows upwards."""
    image = bpy.data.images.load(str(path.absolute()), check_existing=False)
    try:
        return values(image)
    finally:
        bpy.data.images.remove(image)


def fault(path: Path) -> str | None:
    """What is seen to be wrong with a picture, "" for nothing, None where it is none; OSError where it cannot be
    read."""
    with path.open("rb") as file:
        content = file.read(12)
        if not is_picture(content):
            return None
        content += file.read(_LARGEST)
    found = header.fault(content)
    return found or (_fault_of_layers(content) if content.startswith(header.EXR) else "")


def alone(path: Path, fits: Callable[[str], bool]) -> Alone | None:
    """The layer of a picture without `fault` that Blender is to be given, by name; None for the whole of it."""
    with path.open("rb") as file:
        if not file.read(4).startswith(header.EXR):
            return None
        file.seek(0)
        content = file.read(_LARGEST)
    if exr_layers.is_plain(content):
        return None
    found = exr_layers.layers(content)
    layer = exr_layers.fitting(found, fits)
    told = f"{_listed([layer])} is used of {_listed(found)}" if len(found) > 1 else ""
    return Alone(exr_layers.plain(content, layer), told)


def _fault_of_layers(content: bytes) -> str:
    try:
        if exr_layers.is_plain(content):
            return ""
        found = exr_layers.layers(content)
        if not found:
            return "holds deep pixels alone, which are no picture"
        for layer in found:
            exr_layers.plain(content, layer)
    except exr_layers.Inseparable:
        return f"packs its layers {_listed(found)} in a way (DWA) that none can be taken out"
    except (struct.error, ValueError, IndexError, KeyError, OverflowError):
        return "is cut"
    return ""


def _listed(found: "tuple[exr_layers.Layer, ...] | list[exr_layers.Layer]") -> str:
    return ", ".join(f'"{each.name}"' if each.name else "the plain one" for each in found)
