"""A pale colour for each brick of a picture, far from those of the bricks that it touches."""

import numpy as np

from ..build.bricks import Bricks
from ..build.touching import Contacts
from ..wear import cielab

COUNT = 12  # colours around the circle, of one lightness, so that what is drawn over them reads on each alike
LIGHTNESS, CHROMA = 83.0, 30.0
SHADES = {"top": 1.0, "left": 0.93, "right": 0.86}  # of the lightness, by the side of a brick


def palette() -> dict[str, list[str]]:
    """The colours as sRGB in hexadecimal, for each side of a brick."""
    angle = 2.0 * np.pi * np.arange(COUNT) / COUNT
    around = np.stack([CHROMA * np.cos(angle), CHROMA * np.sin(angle)], axis=1)
    return {
        side: [_hexadecimal(cielab.rgb(np.array([share * LIGHTNESS, *each]))) for each in around]
        for side, share in SHADES.items()
    }


def tints(bricks: Bricks, contacts: Contacts) -> np.ndarray:
    """Which colour (N,) each brick gets: brick by brick as they are named, the one that is farthest from those of all
    bricks it touches and, of such, the one that fewest have."""
    beside: list[set[int]] = [set() for _ in range(len(bricks))]
    for a, b in zip(contacts.a.tolist(), contacts.b.tolist(), strict=True):
        beside[a].add(b)
        beside[b].add(a)
    apart = np.abs(np.arange(COUNT)[:, None] - np.arange(COUNT))
    apart = np.minimum(apart, COUNT - apart)
    tint, used = np.full(len(bricks), -1), np.zeros(COUNT, dtype=np.int64)
    for n in sorted(range(len(bricks)), key=lambda n: (bricks.names[n], n)):
        taken = tint[list(beside[n])]
        far = apart[taken[taken >= 0]].min(axis=0, initial=COUNT)
        tint[n] = np.lexsort((np.arange(COUNT), used, -np.minimum(far, 2)))[0]
        used[tint[n]] += 1
    return tint


def _hexadecimal(rgb: np.ndarray) -> str:
    return "#" + "".join(f"{round(255 * value):02x}" for value in np.clip(cielab.encoded(np.clip(rgb, 0, 1)), 0, 1))
