"""What the materials of Wavefront .mtl files state.

Format: Wavefront, MTL material format (1995); Pr and Pm are the common addition for physically based renderers. The
illumination model alone states nothing: importers make gloss, mirrors and metal of it.
"""

import re
from collections.abc import Iterator

from .stated import IOR, METALLIC, ROUGHNESS, SPECULAR, TRANSMISSION, Stated

_SAYS = {
    b"ns": ROUGHNESS,
    b"map_ns": ROUGHNESS,
    b"pr": ROUGHNESS,
    b"map_pr": ROUGHNESS,
    b"pm": METALLIC,
    b"map_pm": METALLIC,
    b"ni": IOR,
    b"tf": TRANSMISSION,
    b"d": TRANSMISSION,
    b"tr": TRANSMISSION,
    b"map_d": TRANSMISSION,
    b"map_ks": SPECULAR,
}
_SHARE = re.compile(rb"(0?\.\d+|[01](\.0*)?)")
_LINE = 4096  # bytes of a line that are read


def libraries(data: bytes) -> Iterator[str]:
    """File names of the libraries that an OBJ names, as far as they can be told: a name may hold spaces."""
    for line in dict.fromkeys(_after(data, b"mtllib")):
        names = line.decode("utf-8", "surrogateescape")
        yield from dict.fromkeys([names, *names.split()])


def _after(data: bytes, word: bytes) -> Iterator[bytes]:
    """What stands behind a word that begins a line; a pattern would look at each of millions of lines."""
    at = data.find(word)
    while at >= 0:
        begins = data.rfind(b"\n", 0, at) + 1
        line, *_ = data[at + len(word) : at + _LINE].splitlines() or [b""]
        if not data[begins:at].strip(b" \t") and line[:1] in (b" ", b"\t"):
            yield line.strip()
        at = data.find(word, at + 1)


def stated(data: bytes) -> Stated:
    """What each material of a library states, by its name."""
    found: dict[str, set[str]] = {}
    for name, key, value in _lines(data):
        says = found.setdefault(name, set())
        if key in _SAYS and value:
            says.add(_SAYS[key])
        elif key == b"ks" and _is_seen(value):
            says.add(SPECULAR)
    return {name: frozenset(each) for name, each in found.items()}


def by_transparency(data: bytes) -> dict[str, float]:
    """How opaque, 0 to 1, those materials are of which Tr alone tells, which Blender does not read."""
    told: dict[str, dict[bytes, float]] = {}
    for name, key, value in _lines(data):
        if key in (b"d", b"tr") and _SHARE.fullmatch(value):
            told.setdefault(name, {})[key] = float(value)
    return {name: 1.0 - each[b"tr"] for name, each in told.items() if b"d" not in each}


def _lines(data: bytes) -> Iterator[tuple[str, bytes, bytes]]:
    """Material, key and value of each line of a library; the key in small letters."""
    name = None
    for line in data.splitlines():
        key, _, value = line.strip().partition(b" ")
        if key.lower() == b"newmtl":
            name = value.strip().decode("utf-8", "replace")
            yield name, b"newmtl", b""
        elif name is not None:
            yield name, key.lower(), value.strip()


def _is_seen(value: bytes) -> bool:
    """Black highlights are what writers leave there; no plastic is without any."""
    return any(word.strip(b"0.") for word in value.split())
