"""Good files to spoil: one small build, written by trimesh and usd-core, and by Blender where no one else writes.

    python bench/seeds.py FOLDER

Run it once in a Python with trimesh and usd-core and once in one with bpy; each writes what it can.
"""

import re
import sys
from contextlib import suppress
from pathlib import Path

import numpy as np
import trimesh

STUD_SIDES = 8
PLACES = [(0, 0, 0), (16, 0, 0), (0, 16, 0), (16, 16, 0), (8, 8, 9.6)]
COLOURS = [(0.7, 0.1, 0.1, 1.0), (0.1, 0.2, 0.7, 1.0)]


def brick():
    """A 2x2 brick in mm about its own corner, a welded body with four loose studs."""
    body = trimesh.creation.box((16, 16, 9.6)).apply_translation((8, 8, 4.8))
    stud = trimesh.creation.cylinder(2.4, 1.7, sections=STUD_SIDES).apply_translation((0, 0, 10.45))
    studs = [stud.copy().apply_translation((x, y, 0)) for x in (4, 12) for y in (4, 12)]
    return trimesh.util.concatenate([body, *studs])


def scene(scale, textured=False):
    made = trimesh.Scene()
    for number, place in enumerate(PLACES):
        mesh = brick()
        if textured:
            from PIL import Image

            print_ = Image.new("RGB", (8, 8), (200, 180, 20))
            uv = mesh.vertices[:, :2] / 16
            material = trimesh.visual.material.PBRMaterial(baseColorTexture=print_, metallicFactor=0.0)
            mesh.visual = trimesh.visual.TextureVisuals(uv=uv, material=material)
        else:
            mesh.visual.face_colors = (np.array(COLOURS[number % 2]) * 255).astype(np.uint8)
        mesh.apply_scale(scale)
        made.add_geometry(
            mesh,
            geom_name=f"mesh{number}",
            node_name=f"brick{number}",
            transform=trimesh.transformations.translation_matrix(np.array(place) * scale),
        )
    return made


def with_trimesh(folder):
    for name, textured in (("plain", False), ("print", True)):
        (folder / f"{name}.glb").write_bytes(scene(0.001, textured).export(file_type="glb"))
    for part, data in scene(0.001, textured=True).export(file_type="gltf").items():
        (folder / ("print.gltf" if part.endswith(".gltf") else part)).write_bytes(data)
    whole = scene(1.0).to_geometry()
    whole.export(folder / "binary.stl")
    (folder / "text.stl").write_text(trimesh.exchange.stl.export_stl_ascii(whole))
    whole.export(folder / "binary.ply")
    whole.export(folder / "text.ply", encoding="ascii")
    (folder / "whole.obj").write_text(whole.export(file_type="obj"))
    (folder / "whole.dae").write_bytes(trimesh.exchange.dae.export_collada(list(scene(1.0).dump())))
    (folder / "nodes.dae").write_text(_with_instanced_nodes((folder / "whole.dae").read_text()))
    lines, first = ["mtllib parts.mtl"], 1
    for number, place in enumerate(PLACES):
        mesh = brick().apply_translation(place)
        lines += [f"o brick{number}", f"usemtl m{number % 2}"]
        lines += ["v {:.4f} {:.4f} {:.4f}".format(*point) for point in mesh.vertices]
        lines += ["vn {:.4f} {:.4f} {:.4f}".format(*point) for point in mesh.face_normals]
        lines += [f"f {' '.join(f'{first + i}//{k + 1}' for i in face)}" for k, face in enumerate(mesh.faces)]
        first += len(mesh.vertices)
    (folder / "parts.obj").write_text("\n".join(lines) + "\n")
    (folder / "parts.mtl").write_text(
        "newmtl m0\nKd 0.7 0.1 0.1\nNs 200\nnewmtl m1\nKd 0.1 0.2 0.7\nmap_Kd print.png\n"
    )


def _with_instanced_nodes(text):
    """The same COLLADA with its first node in a library, and a scene of three instances of it."""
    nodes = re.search(r"(<visual_scene[^>]*>)(.*?)(</visual_scene>)", text, re.DOTALL)
    node = re.search(r"<node.*?</node>", nodes.group(2), re.DOTALL).group()
    named = re.sub(r"<node[^>]*>", '<node id="shared">', node, count=1)
    copies = "".join(
        f'<node id="copy{n}"><translate>{16 * n} 0 0</translate><instance_node url="#shared"/></node>' for n in range(3)
    )
    text = text[: nodes.start(2)] + copies + text[nodes.end(2) :]
    return text.replace("<library_visual_scenes>", f"<library_nodes>{named}</library_nodes><library_visual_scenes>")


def with_usd(folder):
    from pxr import Gf, Sdf, Usd, UsdGeom, UsdShade, UsdUtils, Vt

    stage = Usd.Stage.CreateNew(str(folder / "objects.usda"))
    UsdGeom.SetStageMetersPerUnit(stage, 0.001)
    UsdGeom.SetStageUpAxis(stage, UsdGeom.Tokens.z)
    root = UsdGeom.Xform.Define(stage, "/build")
    stage.SetDefaultPrim(root.GetPrim())
    material = UsdShade.Material.Define(stage, "/build/red")
    shader = UsdShade.Shader.Define(stage, "/build/red/surface")
    shader.CreateIdAttr("UsdPreviewSurface")
    shader.CreateInput("diffuseColor", Sdf.ValueTypeNames.Color3f).Set(Gf.Vec3f(0.7, 0.1, 0.1))
    material.CreateSurfaceOutput().ConnectToSource(shader.ConnectableAPI(), "surface")
    for number, place in enumerate(PLACES):
        mesh, shape = UsdGeom.Mesh.Define(stage, f"/build/brick{number}"), brick()
        mesh.CreatePointsAttr(Vt.Vec3fArray.FromNumpy(shape.vertices.astype(np.float32)))
        mesh.CreateFaceVertexCountsAttr([3] * len(shape.faces))
        mesh.CreateFaceVertexIndicesAttr(shape.faces.ravel().tolist())
        mesh.CreateNormalsAttr(Vt.Vec3fArray.FromNumpy(shape.face_normals.astype(np.float32)))
        mesh.SetNormalsInterpolation("uniform")
        primvar = UsdGeom.PrimvarsAPI(mesh).CreatePrimvar("st", Sdf.ValueTypeNames.TexCoord2fArray, "vertex")
        primvar.Set(Vt.Vec2fArray.FromNumpy((shape.vertices[:, :2] / 16).astype(np.float32)))
        mesh.AddTranslateOp().Set(Gf.Vec3d(*map(float, place)))
        UsdShade.MaterialBindingAPI.Apply(mesh.GetPrim()).Bind(material)
    stage.GetRootLayer().Save()
    stage.GetRootLayer().Export(str(folder / "objects.usdc"))
    instanced = Usd.Stage.CreateNew(str(folder / "instanced.usda"))
    UsdGeom.SetStageMetersPerUnit(instanced, 0.001)
    UsdGeom.SetStageUpAxis(instanced, UsdGeom.Tokens.z)
    prototype = UsdGeom.Mesh.Define(instanced, "/build/points/brick")
    prototype.CreatePointsAttr(Vt.Vec3fArray.FromNumpy(brick().vertices.astype(np.float32)))
    prototype.CreateFaceVertexCountsAttr([3] * len(brick().faces))
    prototype.CreateFaceVertexIndicesAttr(brick().faces.ravel().tolist())
    points = UsdGeom.PointInstancer.Define(instanced, "/build/points")
    points.CreatePrototypesRel().SetTargets(["/build/points/brick"])
    points.CreateProtoIndicesAttr([0] * len(PLACES))
    points.CreatePositionsAttr([Gf.Vec3f(*map(float, place)) for place in PLACES])
    for number, place in enumerate(PLACES):
        copy = UsdGeom.Xform.Define(instanced, f"/build/copy{number}")
        copy.GetPrim().GetReferences().AddInternalReference("/build/points/brick")
        copy.GetPrim().SetInstanceable(True)
        copy.AddTranslateOp().Set(Gf.Vec3d(0.0, 0.0, 30.0 + place[2]))
    instanced.GetRootLayer().Save()
    instanced.GetRootLayer().Export(str(folder / "instanced.usdc"))
    for name in ("objects", "instanced"):
        UsdUtils.CreateNewUsdzPackage(str(folder / f"{name}.usdc"), str(folder / f"{name}.usdz"))


def with_blender(folder):
    import bpy

    bpy.ops.wm.read_factory_settings(use_empty=True)
    shape = brick()
    mesh = bpy.data.meshes.new("2x2")
    mesh.from_pydata(shape.vertices / 1000, [], shape.faces.tolist())
    mesh.uv_layers.new(name="st")
    mesh.color_attributes.new("tint", "BYTE_COLOR", "CORNER")
    mesh.materials.append(bpy.data.materials.new("red"))
    for number, place in enumerate(PLACES):
        obj = bpy.data.objects.new(f"brick{number}", mesh if number % 2 else mesh.copy())
        obj.location = np.array(place) / 1000
        bpy.context.scene.collection.objects.link(obj)
    bpy.context.view_layer.update()
    bpy.ops.export_scene.fbx(filepath=str(folder / "blender.fbx"))
    bpy.ops.wm.usd_export(filepath=str(folder / "blender.usdc"))
    _print_on(bpy, mesh.materials[0], folder / "print.png")
    stand = bpy.data.objects.new("stand", None)
    stand["made"] = "by hand"
    bpy.context.scene.collection.objects.link(stand)
    for obj in bpy.data.objects:
        obj.parent = stand if obj != stand else None
    bpy.ops.export_scene.fbx(
        filepath=str(folder / "print.fbx"), use_custom_props=True, path_mode="COPY", embed_textures=True
    )


def _print_on(bpy, material, path):
    picture = bpy.data.images.new("print", 8, 8)
    picture.filepath_raw, picture.file_format = str(path), "PNG"
    picture.save()
    material.use_nodes = True
    node = material.node_tree.nodes.new("ShaderNodeTexImage")
    node.image = picture
    material.node_tree.links.new(
        node.outputs["Color"], material.node_tree.nodes["Principled BSDF"].inputs["Base Color"]
    )


def main(folder):
    folder.mkdir(parents=True, exist_ok=True)
    with_trimesh(folder)
    for write in (with_usd, with_blender):
        with suppress(ImportError):
            write(folder)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
