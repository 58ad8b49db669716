"""Whether a USD file is nothing but meshes that stand somewhere, whole to its last list.

Blender's reader dies of lists that do not fit and of much that no build has: skeletons, curves, values over time. What
is asked here is asked of Pixar's library, which Blender carries, and which may itself die of a spoiled file: ask in a
process that need not live. It needs no Blender, which takes longer to start than most files to be asked about.
Format: AOUSD Core Specification 1.0 (prims, properties, composition); UsdGeomMesh, UsdGeomPrimvar and UsdGeomSubset of
OpenUSD's schemas for how long which list is.
"""

import os
from collections.abc import Iterator
from functools import partial
from graphlib import CycleError, TopologicalSorter
from pathlib import Path
from typing import Any

import numpy as np

from . import usd_materials
from .bounds import are_near, hold
from .said import Said

_NODES = {"Material", "Shader"}
_PLAIN = {"", "Xform", "Scope", "Mesh", "GeomSubset", *_NODES}
_LISTS = "faceVertexCounts", "faceVertexIndices", "points"
_READ_PAST = {"extent", "doubleSided", "orientation", "subdivisionScheme", "visibility", "purpose", "xformOpOrder"}
_READ_PAST |= {"colorSpace:name", "elementType", "familyName", "info:id"}
_KEPT = "userProperties:", "inputs:", "outputs:"
_LEADS_TO = {"material:binding", "material:binding:preview"}
_APIS = {"MaterialBindingAPI", "ColorSpaceAPI", "NodeDefAPI"}
_SHADERS = {"UsdPreviewSurface", "UsdUVTexture", "UsdTransform2d", "UsdPrimvarReader_float2"}
_PRIMVARS = {f"{name}[]" for name in ("float", "float2", "float3", "texCoord2f", "color3f", "color4f", "normal3f")}
_LONGEST = 60  # characters of a name


def stand(name: str) -> None:
    """In a Python of its own: ends it, with 0 where the file is whole, having written what came to light of it."""
    path = Path(name)
    hold(path.stat().st_size)
    said = looked_at(path)
    if said is not None:
        print(said.written(), flush=True)
    os._exit(1 if said is None else 0)


def looked_at(path: Path) -> Said | None:
    """What came to light of a file in which nothing is open; None of all others, which are not said to be bad, but to
    be looked at by someone else."""
    from pxr import Usd  # pyright: ignore[reportMissingImports]  Blender's own, where its modules are exposed

    try:
        stage = Usd.Stage.Open(str(path))
        if any(layer.ListAllTimeSamples() for layer in stage.GetUsedLayers()):
            return None
        prims = list(_prims(Usd, stage))
        kinds = [prim.GetTypeName() for prim in prims]
        if not all(map(partial(_is_plain, set()), prims, kinds)):
            return None
        nodes = [prim for prim, kind in zip(prims, kinds, strict=True) if kind in _NODES]
        gaps = any(_may_be_gap(prim) for prim, kind in zip(prims, kinds, strict=True) if not kind)
        alone = not stage.GetRootLayer().GetCompositionAssetDependencies()
        return Said(usd_materials.stated(nodes), is_plain=alone and not gaps) if _end(nodes) else None
    except Exception:  # Pixar's library raises errors of its own
        return None


def misfits(path: Path) -> bool:
    """Whether the faces of a mesh have more corners than its list of corners, or fewer: Blender's reader goes past the
    end of one list or the other, and dies of what lies there now and then."""
    from pxr import Usd  # pyright: ignore[reportMissingImports]  Blender's own, where its modules are exposed

    stage, first = Usd.Stage.Open(str(path)), Usd.TimeCode.EarliestTime()
    meshes = (prim for prim in _prims(Usd, stage) if prim.GetTypeName() == "Mesh")
    return any(_misfit(*(prim.GetAttribute(name).Get(first) for name in _LISTS[:2])) for prim in meshes)


def _misfit(counts: Any, corners: Any) -> bool:
    asked = 0 if counts is None else int(np.asarray(counts, np.int64).sum())
    return asked != (0 if corners is None else len(corners))


def _prims(usd: Any, stage: Any) -> Iterator[Any]:
    """Every prim that is read, those of a prototype once."""
    for root in (stage.GetPseudoRoot(), *stage.GetPrototypes()):
        yield from usd.PrimRange(root)


def _may_be_gap(prim: Any) -> bool:
    """Whether a prim without a type may stand below one that has a place."""
    at_top = prim.IsPseudoRoot() or prim.GetParent().IsPseudoRoot()
    return not at_top or prim.IsPrototype()


def _is_plain(fitting: set[tuple[bytes, ...]], prim: Any, kind: str) -> bool:
    """Whether a prim of a kind is nothing but what is known to be read; lists of meshes that fit each other are
    `fitting`, so that those of copies are looked at once."""
    names = frozenset(prim.GetAuthoredPropertyNames())
    if kind not in _PLAIN or prim.HasAuthoredMetadata("clips") or len(prim.GetName()) > _LONGEST:
        return False
    if not _APIS.issuperset(prim.GetAppliedSchemas()):
        return False
    own = names - _LEADS_TO
    if kind == "Mesh":
        return _is_mesh(prim, own, fitting)
    if kind == "GeomSubset":
        return _is_subset(prim, own)
    return (kind != "Shader" or _got(prim, "info:id") in _SHADERS) and all(_is_told(prim, name) for name in own)


def _got(prim: Any, name: str) -> Any:
    return prim.GetAttribute(name).Get()


def _is_told(prim: Any, name: str) -> bool:
    """Whether it is known not to matter, and can be read."""
    if name in _READ_PAST:
        return _got(prim, name) is not None
    if name.startswith("xformOp:"):
        return _are_near(_got(prim, name))
    if not name.startswith(_KEPT) or len(name) > _LONGEST:
        return False
    attribute = prim.GetAttribute(name)
    return name.startswith("outputs:") or attribute.HasAuthoredConnections() or attribute.Get() is not None


def _is_mesh(prim: Any, own: frozenset[str], fitting: set[tuple[bytes, ...]]) -> bool:
    if not own.issuperset(_LISTS):
        return False
    lists = counts, corners, points = [np.asarray(_got(prim, name)) for name in _LISTS]
    written = tuple(each.tobytes() for each in lists)
    if written not in fitting:
        if not _lists_fit(counts, corners, points):
            return False
        fitting.add(written)
    lengths = {"constant": 1, "uniform": len(counts), "vertex": len(points), "varying": len(points)}
    lengths["faceVarying"] = len(corners)
    return all(_fits(prim, name, own, lengths) for name in own.difference(_LISTS))


def _lists_fit(counts: np.ndarray, corners: np.ndarray, points: np.ndarray) -> bool:
    return (
        points.ndim == 2
        and _are_near(points)
        and len(counts) > 0
        and int(counts.min()) >= 3
        and int(counts.sum(dtype=np.int64)) == len(corners)
        and _lead(corners, len(points))
    )


def _fits(prim: Any, name: str, own: frozenset[str], lengths: dict[str, int]) -> bool:
    """Whether a list of a mesh is as long as it has to be, and its numbers lead to what it has."""
    if name.endswith(":indices"):
        return name.removesuffix(":indices") in own  # read with what it leads to
    if name != "normals" and not name.startswith("primvars:"):
        return _is_told(prim, name)
    attribute = prim.GetAttribute(name)
    told = attribute.GetMetadata("interpolation") or ("vertex" if name == "normals" else "constant")
    if str(attribute.GetTypeName()) not in _PRIMVARS or len(name) > _LONGEST or attribute.HasMetadata("elementSize"):
        return False
    values = np.asarray(attribute.Get())
    if f"{name}:indices" not in own:
        return len(values) == lengths[told]
    numbers = np.asarray(_got(prim, f"{name}:indices"))
    return len(numbers) == lengths[told] and _lead(numbers, len(values))


def _is_subset(prim: Any, own: frozenset[str]) -> bool:
    faces = _got(prim.GetParent(), "faceVertexCounts")
    return _lead(np.asarray(_got(prim, "indices")), len(faces)) and all(
        _is_told(prim, name) for name in own - {"indices"}
    )


def _end(nodes: list[Any]) -> bool:
    """Whether what is fed by what ends somewhere: a reader that goes along a ring never does."""
    feeds = {prim.GetPath(): _sources(prim) for prim in nodes}
    try:
        TopologicalSorter(feeds).prepare()
    except CycleError:
        return False
    return True


def _sources(prim: Any) -> set[Any]:
    """The paths of the nodes that feed a node."""
    return {path.GetPrimPath() for each in prim.GetAuthoredAttributes() for path in each.GetConnections()}


def _lead(numbers: np.ndarray, count: int) -> bool:
    return not len(numbers) or bool(numbers.min() >= 0 and numbers.max() < count)


def _are_near(value: Any) -> bool:
    numbers = np.asarray(value)
    return numbers.size > 0 and are_near(numbers)
