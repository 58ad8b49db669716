"""What Blender's reader passes over of a USD stage without a word: places that prims without a type stand between, and
files that are missing.

A prim without a type has no place of its own and hands on that of its parent. Blender's reader takes what is below one
as if it stood at the root. Tools write such prims wherever they name a path without making each prim on it.
Format: AOUSD Core Specification 1.0 (typeless prims, composition arcs); UsdGeomXformable of OpenUSD for what has a
place.
"""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import bpy

_PARTS = {".usd", ".usda", ".usdc", ".usdz"}


@contextmanager
def typed(path: Path) -> Iterator[Path]:
    """The file, or one over it that says of such prims that they have a place."""
    pxr = _pxr()
    try:
        stage = pxr.Usd.Stage.Open(str(path))
        gaps = _gaps(pxr, stage)
    except Exception:  # Pixar's library raises errors of its own; what is wrong Blender's reader says
        stage, gaps = None, []
    if not gaps:
        yield path
        return
    with tempfile.TemporaryDirectory() as folder:
        over = Path(folder) / f"{path.stem}.usda"
        pxr.Sdf.Layer.CreateNew(str(over)).Save()
        _write(pxr, stage, gaps, over, path)
        del stage
        yield over


def missing(path: Path) -> str:
    """A sentence where files that the stage is put together from are not there."""
    pxr = _pxr()
    try:
        layer = pxr.Sdf.Layer.FindOrOpen(str(path))
        if layer is None or not layer.GetCompositionAssetDependencies():
            return ""
        _, _, lost = pxr.UsdUtils.ComputeAllDependencies(str(path))
    except Exception:  # Pixar's library raises errors of its own
        return ""
    lost = sorted(name for name in lost if Path(name).suffix.lower() in _PARTS)
    if not lost:
        return ""
    many = (
        f"{len(lost)} files that it refers to are missing" if len(lost) > 1 else "A file that it refers to is missing"
    )
    return f'{many}, as "{lost[0]}", and all that is in there: put it where the export looks for it.'


def _pxr() -> Any:
    bpy.utils.expose_bundled_modules()
    import pxr.Sdf  # pyright: ignore[reportMissingImports]  Blender's own, there only now
    import pxr.Usd  # pyright: ignore[reportMissingImports]
    import pxr.UsdGeom  # pyright: ignore[reportMissingImports]
    import pxr.UsdUtils  # pyright: ignore[reportMissingImports]

    return pxr


def _gaps(pxr, stage) -> list:
    """Prims without a type that stand between two that have a place, outer ones first."""
    found: dict[Any, Any] = {}
    kind = pxr.UsdGeom.Xformable
    for prim in pxr.Usd.PrimRange(stage.GetPseudoRoot(), pxr.Usd.TraverseInstanceProxies()):
        above, between = prim.GetParent(), []
        if above and not above.IsPseudoRoot() and not above.GetTypeName() and prim.IsA(kind):
            while above and not above.IsPseudoRoot() and not above.GetTypeName():
                between.append(above)
                above = above.GetParent()
            if above.IsA(kind):
                found |= {each.GetPath(): each for each in between}
    return [found[path] for path in sorted(found)]


def _write(pxr, stage, gaps, over: Path, path: Path) -> None:
    layer = pxr.Sdf.Layer.FindOrOpen(str(over))
    layer.subLayerPaths.append(str(path.resolve()))
    top = stage.GetRootLayer()
    layer.defaultPrim = top.defaultPrim
    for name in ("upAxis", "metersPerUnit"):
        if top.pseudoRoot.HasInfo(name):
            layer.pseudoRoot.SetInfo(name, top.pseudoRoot.GetInfo(name))
    for prim in gaps:
        for holder in prim.GetPath().GetPrefixes():
            if stage.GetPrimAtPath(holder).IsInstance():  # within an instance nothing could be said
                pxr.Sdf.CreatePrimInLayer(layer, holder).SetInfo("instanceable", False)
        pxr.Sdf.CreatePrimInLayer(layer, prim.GetPath()).typeName = "Xform"
    layer.Save()
