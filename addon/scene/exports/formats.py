"""What is known of each kind of file before it is opened."""

import os.path
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from ...core.errors import FileProblem
from ...core.exports.stated import Stated
from ...core.units import MM_PER_METRE
from . import collada, fbx, gltf, obj, ply, stl, usd, usd_gaps, usd_whole


@dataclass(frozen=True)
class Format:
    """How a kind of file is read; its own unit in mm and upright axis as they stand in the scene after reading.

    `load_unnamed` does the same sooner and leaves names for later (see naming). `stated` tells what the file states of
    its materials; None where that cannot be read of the format. `has_glass`: it has a word for that beside opacity.
    `plain`: the same format of a file that was found to be plain.
    """

    name: str
    load: Callable[[Path], None]
    load_unnamed: Callable[[Path], None] | None = None
    unit_mm: float = MM_PER_METRE
    up: int = 2
    native: bool = False  # read by an operator that is no Python
    deadly: bool = False  # its reader is not shown to live through every spoiled file
    is_whole: Callable[[Path], bool] | None = None  # tells files apart that it is shown to live through
    stand: Callable[[str], None] | None = None  # the same in a process of its own, for it may itself not live through
    misfits: Callable[[Path], bool] | None = None  # tells those that it may live through by luck alone
    stated: Callable[[Path], Stated] | None = None
    has_glass: bool = False
    doubt: Callable[[Path], str] | None = None  # a sentence where it may be cut, or lack files, without saying so
    plain: "Format | None" = None


def _nothing(_: Path) -> Stated:
    """Of a format that knows no materials."""
    return {}


_USD = Format(
    "USD",
    usd.load,
    native=True,
    deadly=True,
    stand=usd_whole.stand,
    misfits=usd_whole.misfits,
    stated=usd.stated,
    doubt=usd_gaps.missing,
)
_USD = replace(_USD, plain=replace(_USD, load=usd.load_plain, doubt=None))
_BARE_MM = 1.0  # numbers without a unit are millimetres
FORMATS = {
    ".glb": Format("glTF", gltf.load, gltf.load_unnamed, stated=gltf.stated, has_glass=True),
    ".gltf": Format("glTF", gltf.load, gltf.load_unnamed, stated=gltf.stated, has_glass=True),
    ".fbx": Format("FBX", fbx.load, native=True, deadly=True, is_whole=fbx.is_whole, stated=fbx.stated),
    ".obj": Format("OBJ", obj.load, unit_mm=_BARE_MM, up=1, native=True, stated=obj.stated, doubt=obj.doubt),
    ".dae": Format("COLLADA", collada.load, stated=collada.stated),
    ".usd": _USD,
    ".usda": _USD,
    ".usdc": _USD,
    ".usdz": _USD,
    ".stl": Format("STL", stl.load, unit_mm=_BARE_MM, stated=_nothing),
    ".ply": Format("PLY", ply.load, unit_mm=_BARE_MM, native=True, deadly=True, is_whole=ply.is_whole, stated=_nothing),
}


def of(path: Path) -> Format:
    """The format of a file by its suffix; FileProblem where there is no such file or nothing to bring in."""
    known = ", ".join(FORMATS)
    if os.path.isdir(path):
        raise FileProblem(f'"{path}" is a folder: choose the export itself ({known})')
    if not os.path.isfile(path):  # of a name too long it says so, too
        raise FileProblem(f'"{path}" does not exist: check the name and the folder')
    if path.suffix.lower() not in FORMATS:
        raise FileProblem(f'"{path}" is not of a kind that can be brought in: export the build as one of {known}')
    if not path.stat().st_size:
        raise FileProblem(f'"{path}" is empty: export it again')
    return FORMATS[path.suffix.lower()]
