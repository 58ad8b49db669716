"""The picture of a preset, a PNG that tells in itself which look it shows, so that a stale one is known.

The look stands in a tEXt chunk after the header (ISO/IEC 15948, 11.3.4.3). A picture without one is somebody's own.
"""

import hashlib
import json
from dataclasses import asdict

from ..pictures import png
from .preset import Preset

KEYWORD = "playworn-look"
STAGE = 5  # of how pictures are made, wear, light and camera: another number makes every one of them stale


def look(preset: Preset) -> str:
    """Tells one look from another; the name, the note and the tags of a preset are no part of it."""
    values = [STAGE, *(asdict(part) for part in (preset.fit, preset.wear, preset.story))]
    return hashlib.sha256(json.dumps(values, sort_keys=True).encode()).hexdigest()[:16]


def marked(picture: bytes, preset: Preset) -> bytes:
    """The picture as that of a preset; what it told before is gone."""
    return png.told(picture, KEYWORD, look(preset))


def adopted(picture: bytes, preset: Preset) -> bytes:
    """A picture that came with a preset as that of this preset, unless it tells what it shows."""
    return picture if told(picture) else marked(picture, preset)


def shows(picture: bytes, preset: Preset) -> bool:
    """Whether a picture is of the preset as it is now, as far as it tells."""
    return told(picture) in (look(preset), "")


def told(picture: bytes) -> str:
    """The look that a picture tells, "" where it tells none."""
    return png.tells(picture, KEYWORD)
