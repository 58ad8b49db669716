"""Multi-layer OpenEXR files read by the OpenEXR library, and mattes taken out of them by the Cryptomatte specification
(version 1.2.0, Psyop)."""

import json
from pathlib import Path

import numpy as np
import OpenEXR


class Layered:
    """A file's channels by their names, and its header."""

    def __init__(self, path: Path):
        with OpenEXR.File(str(path), separate_channels=True) as file:
            self.parts = len(file.parts)
            self.header = dict(file.header())
            self.channels = {name: each.pixels for part in file.parts for name, each in part.channels.items()}

    def value(self, name: str, layer: str = "ViewLayer") -> np.ndarray:
        """A pass of one channel."""
        (found,) = [each for full, each in self.channels.items() if full.rpartition(".")[0] == f"{layer}.{name}"]
        return found.astype(np.float64)

    def colour(self, *names: str, layer: str = "ViewLayer") -> np.ndarray:
        """A pass of red, green and blue (height, width, 3), by the first of its names that is there."""
        name = next(each for each in names if f"{layer}.{each}.R" in self.channels)
        return np.stack([self.channels[f"{layer}.{name}.{part}"].astype(np.float64) for part in "RGB"], axis=-1)

    @property
    def albedo(self) -> np.ndarray:
        return self.colour("DiffCol", "Diffuse Color")

    @property
    def light(self) -> np.ndarray:
        """What falls on diffuse surfaces."""
        return self.colour("DiffDir", "Diffuse Direct") + self.colour("DiffInd", "Diffuse Indirect")

    @property
    def alpha(self) -> np.ndarray:
        return self.channels["ViewLayer.Combined.A"].astype(np.float64)

    def manifest(self, kind: str) -> dict[str, str]:
        """The names of a Cryptomatte and the identifiers that stand for them."""
        names = [name for name in self.header if name.startswith("cryptomatte/") and name.endswith("/name")]
        (key,) = [name.rpartition("/")[0] for name in names if self.header[name] == f"ViewLayer.{kind}"]
        assert self.header[f"{key}/hash"] == "MurmurHash3_32"
        assert self.header[f"{key}/conversion"] == "uint32_to_float32"
        return json.loads(self.header[f"{key}/manifest"])

    def matte(self, kind: str, name: str) -> np.ndarray:
        """How much of each pixel is covered by what has this name."""
        wanted, covered = identifier(name), 0.0
        for level in range(3):
            r, g, b, a = (self.channels[f"ViewLayer.{kind}{level:02d}.{part}"] for part in "rgba")
            for ids, share in ((r, g), (b, a)):
                covered = covered + np.where(ids.view(np.uint32) == wanted, share, 0.0)
        return np.asarray(covered)


def identifier(name: str) -> int:
    """The bits of the float that stands for a name: no exponent of all zeros or all ones."""
    value = murmur(name.encode())
    return value ^ (1 << 23) if (value >> 23) & 255 in (0, 255) else value


def murmur(data: bytes, seed: int = 0) -> int:
    """MurmurHash3_x86_32 (Austin Appleby, public domain)."""
    value, whole = seed, len(data) // 4 * 4
    for start in range(0, whole, 4):
        value = _turned(value ^ _mixed(int.from_bytes(data[start : start + 4], "little")), 13)
        value = (value * 5 + 0xE6546B64) & 0xFFFFFFFF
    value ^= _mixed(int.from_bytes(data[whole:], "little")) ^ len(data)
    for shift, factor in ((16, 0x85EBCA6B), (13, 0xC2B2AE35), (16, 1)):
        value = (value ^ value >> shift) * factor & 0xFFFFFFFF
    return value


def _mixed(value: int) -> int:
    return _turned(value * 0xCC9E2D51 & 0xFFFFFFFF, 15) * 0x1B873593 & 0xFFFFFFFF


def _turned(value: int, by: int) -> int:
    return (value << by | value >> 32 - by) & 0xFFFFFFFF
