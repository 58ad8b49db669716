"""OpenEXR pictures of any layout, not packed, by the file layout that OpenEXR publishes."""

import struct
from collections.abc import Mapping, Sequence

import numpy as np

Channels = Mapping[str, np.ndarray]  # (rows, columns) each, the upper row first, as half floats or floats


def written(*parts: Channels, names: Sequence[str] = (), tiled: bool = False, packing: int = 0) -> bytes:
    """A picture of these parts. `packing` is only said of it, and true where it is 0."""
    several = len(parts) > 1
    heads = [_head(part, n, names, tiled, several, packing) for n, part in enumerate(parts)]
    flags = 2 | (0x200 if tiled and not several else 0) | (0x1000 if several else 0)
    start = b"\x76\x2f\x31\x01" + struct.pack("<I", flags) + b"".join(heads) + (b"\0" if several else b"")
    blocks = [_blocks(part, n, tiled, several) for n, part in enumerate(parts)]
    at = len(start) + 8 * sum(map(len, blocks))
    table = b""
    for block in (block for of_part in blocks for block in of_part):
        table += struct.pack("<Q", at)
        at += len(block)
    return start + table + b"".join(block for of_part in blocks for block in of_part)


def _head(part: Channels, number: int, names: Sequence[str], tiled: bool, several: bool, packing: int) -> bytes:
    rows, columns = next(iter(part.values())).shape
    window = struct.pack("<4i", 0, 0, columns - 1, rows - 1)
    kinds = {np.dtype("f2"): 1, np.dtype("f4"): 2}
    channels = b"".join(
        name.encode() + b"\0" + struct.pack("<iB3xii", kinds[part[name].dtype], 0, 1, 1) for name in sorted(part)
    )
    said = {
        "channels": ("chlist", channels + b"\0"),
        "compression": ("compression", bytes([packing])),
        "dataWindow": ("box2i", window),
        "displayWindow": ("box2i", window),
        "lineOrder": ("lineOrder", b"\0"),
        "pixelAspectRatio": ("float", struct.pack("<f", 1.0)),
        "screenWindowCenter": ("v2f", struct.pack("<ff", 0.0, 0.0)),
        "screenWindowWidth": ("float", struct.pack("<f", 1.0)),
    }
    if tiled:
        said["tiles"] = ("tiledesc", struct.pack("<IIB", columns, rows, 0))
    if several:
        said["name"] = ("string", names[number].encode())
        said["type"] = ("string", b"tiledimage" if tiled else b"scanlineimage")
        said["chunkCount"] = ("int", struct.pack("<i", 1 if tiled else rows))
    return (
        b"".join(
            name.encode() + b"\0" + kind.encode() + b"\0" + struct.pack("<I", len(value)) + value
            for name, (kind, value) in said.items()
        )
        + b"\0"
    )


def _blocks(part: Channels, number: int, tiled: bool, several: bool) -> list[bytes]:
    """One a line, or one tile as large as the picture."""
    before = struct.pack("<i", number) if several else b""
    rows = range(next(iter(part.values())).shape[0])
    lines = [b"".join(part[name][row].tobytes() for name in sorted(part)) for row in rows]
    if tiled:
        whole = b"".join(lines)
        return [before + struct.pack("<5i", 0, 0, 0, 0, len(whole)) + whole]
    return [before + struct.pack("<ii", row, len(line)) + line for row, line in zip(rows, lines, strict=True)]
