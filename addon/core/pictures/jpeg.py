"""JPEG files as Blender writes them (ITU-T T.81, annex B)."""

_SCAN = 0xDA  # marks the start of the pixels
_TOLD = (0xFE, 0xE1)  # comments, and what cameras tell


def bare(picture: bytes) -> bytes:
    """The picture without what Blender writes beside the pixels: when, how long and out of which folder it was
    rendered."""
    kept, at = [picture[:2]], 2
    while picture[at + 1] != _SCAN:
        end = at + 2 + int.from_bytes(picture[at + 2 : at + 4], "big")
        if picture[at + 1] not in _TOLD:
            kept.append(picture[at:end])
        at = end
    return b"".join([*kept, picture[at:]])
