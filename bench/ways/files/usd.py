"""USD, through Pixar's own library."""

from pathlib import Path

import numpy as np
from pxr import Gf, Sdf, Usd, UsdGeom, UsdShade, Vt

from ..graph import Graph, Mesh
from .colour import linear


def write(graph: Graph, path: Path, *, unit_mm: float = 1.0, y_up: bool = False, instanced: str = "",
          gloss: bool = True, display: bool = False) -> None:  # fmt: skip
    """`instanced` is "", "references" (instanceable), "files" (one a part) or "points"; `display` writes displayColor
    and no material."""
    if path.suffix == ".usdz":
        from pxr import UsdUtils

        inner = path.with_suffix(".usdc")
        write(graph, inner, unit_mm=unit_mm, y_up=y_up, instanced=instanced, gloss=gloss, display=display)
        UsdUtils.CreateNewUsdzPackage(str(inner), str(path))
        inner.unlink()
        return
    stage = Usd.Stage.CreateNew(str(path))
    UsdGeom.SetStageMetersPerUnit(stage, unit_mm / 1000)
    UsdGeom.SetStageUpAxis(stage, UsdGeom.Tokens.y if y_up else UsdGeom.Tokens.z)
    top = UsdGeom.Xform.Define(stage, "/build")
    stage.SetDefaultPrim(top.GetPrim())
    materials = [] if display else [_material(stage, n, *each, gloss) for n, each in enumerate(graph.colours)]
    if instanced == "points":
        _points(stage, graph, materials)
    else:
        made = {}
        for n, node in enumerate(graph.nodes):
            _node(stage, graph, node, f"/build/n{n}", materials, instanced, made)
    stage.GetRootLayer().Save()


def _node(stage, graph, node, place, materials, instanced, made):
    xform = UsdGeom.Xform.Define(stage, place)
    xform.AddTransformOp().Set(Gf.Matrix4d(*node.matrix.T.ravel().tolist()))
    if node.mesh is not None:
        if instanced:
            if node.mesh not in made and instanced == "files":
                made[node.mesh] = _part(graph, node.mesh, stage)
            elif node.mesh not in made:
                stage.CreateClassPrim("/prototypes")
                made[node.mesh] = f"/prototypes/p{node.mesh}"
                UsdGeom.Xform.Define(stage, made[node.mesh])
                _mesh(stage, graph, graph.meshes[node.mesh], f"{made[node.mesh]}/mesh", materials)
            if instanced == "files":
                xform.GetPrim().GetReferences().AddReference(made[node.mesh])
            else:
                xform.GetPrim().GetReferences().AddInternalReference(made[node.mesh])
                xform.GetPrim().SetInstanceable(True)
        else:
            _mesh(stage, graph, graph.meshes[node.mesh], f"{place}/mesh", materials)
    for k, child in enumerate(node.children):
        _node(stage, graph, child, f"{place}/n{k}", materials, instanced, made)


def _part(graph, number, whole):
    """A part in a file of its own, with the material it needs; where that lies, seen from the whole."""
    top = Path(whole.GetRootLayer().realPath)
    path = top.parent / f"{top.stem} parts" / f"part {number}.usdc"
    path.parent.mkdir(exist_ok=True)
    stage, mesh = Usd.Stage.CreateNew(str(path)), graph.meshes[number]
    UsdGeom.SetStageMetersPerUnit(stage, UsdGeom.GetStageMetersPerUnit(whole))
    UsdGeom.SetStageUpAxis(stage, UsdGeom.GetStageUpAxis(whole))
    stage.SetDefaultPrim(UsdGeom.Xform.Define(stage, "/part").GetPrim())
    own = {int(c): _material(stage, int(c), *graph.colours[c], True, "/part") for c in np.unique(mesh.colour)}
    _mesh(stage, graph, mesh, "/part/mesh", own)
    stage.GetRootLayer().Save()
    return f"./{path.relative_to(top.parent)}"


def _points(stage, graph, materials):
    from scipy.spatial.transform import Rotation

    instancer = UsdGeom.PointInstancer.Define(stage, "/build/bricks")
    for n, mesh in enumerate(graph.meshes):
        place = f"/build/bricks/prototypes/p{n}"
        UsdGeom.Xform.Define(stage, place)
        _mesh(stage, graph, mesh, f"{place}/mesh", materials)
        instancer.GetPrototypesRel().AddTarget(place)
    matrices = np.array([node.matrix for node in graph.nodes])
    x, y, z, w = Rotation.from_matrix(matrices[:, :3, :3]).as_quat().T
    instancer.CreateProtoIndicesAttr([node.mesh for node in graph.nodes])
    instancer.CreatePositionsAttr(Vt.Vec3fArray.FromNumpy(matrices[:, :3, 3].astype(np.float32)))
    instancer.CreateOrientationsAttr(Vt.QuathArray([Gf.Quath(*map(float, q)) for q in zip(w, x, y, z, strict=True)]))


def _mesh(stage, graph, mesh: Mesh, place, materials):
    made = UsdGeom.Mesh.Define(stage, place)
    made.CreatePointsAttr(Vt.Vec3fArray.FromNumpy(mesh.vertices.astype(np.float32)))
    made.CreateFaceVertexCountsAttr(Vt.IntArray.FromNumpy(np.full(len(mesh.triangles), 3, dtype=np.int32)))
    made.CreateFaceVertexIndicesAttr(Vt.IntArray.FromNumpy(mesh.triangles.astype(np.int32).ravel()))
    made.CreateSubdivisionSchemeAttr(UsdGeom.Tokens.none)
    if mesh.uv is not None:
        primvars = UsdGeom.PrimvarsAPI(made)
        uv = primvars.CreatePrimvar("st", Sdf.ValueTypeNames.TexCoord2fArray, UsdGeom.Tokens.vertex)
        uv.Set(Vt.Vec2fArray.FromNumpy(mesh.uv.astype(np.float32)))
    used = np.unique(mesh.colour)
    if not materials:
        rgb = np.array([linear(graph.colours[c][1][:3]) for c in mesh.colour], dtype=np.float32)
        if len(used) == 1:
            made.CreateDisplayColorPrimvar(UsdGeom.Tokens.constant).Set(Vt.Vec3fArray.FromNumpy(rgb[:1]))
        else:
            made.CreateDisplayColorPrimvar(UsdGeom.Tokens.uniform).Set(Vt.Vec3fArray.FromNumpy(rgb))
    elif len(used) == 1:
        UsdShade.MaterialBindingAPI.Apply(made.GetPrim()).Bind(materials[used[0]])
    else:
        for colour in used:
            faces = Vt.IntArray.FromNumpy(np.flatnonzero(mesh.colour == colour).astype(np.int32))
            subset = UsdShade.MaterialBindingAPI(made).CreateMaterialBindSubset(f"c{colour}", faces)
            UsdShade.MaterialBindingAPI.Apply(subset.GetPrim()).Bind(materials[colour])


def _material(stage, n, name, rgba, gloss, under=""):
    material = UsdShade.Material.Define(stage, f"{under}/materials/{name}")
    shader = UsdShade.Shader.Define(stage, f"{under}/materials/{name}/surface")
    shader.CreateIdAttr("UsdPreviewSurface")
    shader.CreateInput("diffuseColor", Sdf.ValueTypeNames.Color3f).Set(Gf.Vec3f(*linear(rgba[:3])))
    if rgba[3] < 1:
        shader.CreateInput("opacity", Sdf.ValueTypeNames.Float).Set(rgba[3])
    if gloss:
        shader.CreateInput("roughness", Sdf.ValueTypeNames.Float).Set(0.25)
    material.CreateSurfaceOutput().ConnectToSource(shader.ConnectableAPI(), "surface")
    return material
