"""Files of pictures, looked at before Blender makes room for what they say they hold."""

from pathlib import Path

from ..core.pictures import header
from ..core.wear.texture import is_picture

_LARGEST = 2 << 30  # bytes that are looked at


def fault(path: Path) -> str | None:
    """What is seen to be wrong with a picture, "" for nothing, None where it is none; OSError where it cannot be
    read."""
    with path.open("rb") as file:
        content = file.read(12)
        return header.fault(content + file.read(_LARGEST)) if is_picture(content) else None
