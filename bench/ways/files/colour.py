"""Colours as formats want them, and the picture of the printed tiles."""

import struct
import zlib

import numpy as np


def linear(rgb):
    """sRGB to linear, IEC 61966-2-1."""
    rgb = np.asarray(rgb, dtype=float)
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4).tolist()


def picture_bytes(size: int = 64) -> bytes:
    """A PNG with an anchor's cross: dark on yellow."""
    x, y = np.meshgrid(np.linspace(-1, 1, size), np.linspace(-1, 1, size))
    dark = (np.abs(x) < 0.15) | (np.abs(y + 0.3) < 0.12)
    rows = np.where(dark[..., None], (20, 40, 90), (230, 190, 60)).astype(np.uint8)
    raw = b"".join(b"\0" + row.tobytes() for row in rows)

    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", size, size, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(raw)) + chunk(b"IEND", b"")
