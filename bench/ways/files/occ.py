"""The writers of an open CAD kernel, Open CASCADE: glTF and STL of a tessellated assembly."""

from pathlib import Path

from ..graph import Graph


def write(graph: Graph, path: Path) -> None:
    """Triangulated faces: in an STL all in one heap, else an assembly, a label a brick, its colour on it."""
    faces = [_face(mesh) for mesh in graph.meshes]
    (_write_heap if path.suffix == ".stl" else _write_assembly)(graph, faces, path)


def _face(mesh):
    from OCP.BRep import BRep_Builder
    from OCP.gp import gp_Pnt
    from OCP.Poly import Poly_Triangle, Poly_Triangulation
    from OCP.TopoDS import TopoDS_Face

    table = Poly_Triangulation(len(mesh.vertices), len(mesh.triangles), False)
    for n, point in enumerate(mesh.vertices):
        table.SetNode(n + 1, gp_Pnt(*map(float, point)))
    for n, triangle in enumerate(mesh.triangles):
        table.SetTriangle(n + 1, Poly_Triangle(*(int(v) + 1 for v in triangle)))
    made = TopoDS_Face()
    BRep_Builder().MakeFace(made, table)
    return made


def _located(matrix):
    from OCP.gp import gp_Trsf
    from OCP.TopLoc import TopLoc_Location

    move = gp_Trsf()
    move.SetValues(*map(float, matrix[:3].ravel()))
    return TopLoc_Location(move)


def _write_heap(graph, faces, path):
    from OCP.BRep import BRep_Builder
    from OCP.StlAPI import StlAPI_Writer
    from OCP.TopoDS import TopoDS_Compound

    builder, heap = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(heap)
    for node in graph.nodes:
        builder.Add(heap, faces[node.mesh].Located(_located(node.matrix)))
    if not StlAPI_Writer().Write(heap, str(path)):
        raise OSError(f"{path} was not written")


def _write_assembly(graph, faces, path):
    from OCP.Message import Message_ProgressRange
    from OCP.OCP.collections import IndexedDataMap_TCollection_AsciiString_TCollection_AsciiString
    from OCP.Quantity import Quantity_Color, Quantity_ColorRGBA, Quantity_TOC_sRGB
    from OCP.RWGltf import RWGltf_CafWriter
    from OCP.TCollection import TCollection_AsciiString, TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.XCAFDoc import XCAFDoc_ColorSurf, XCAFDoc_DocumentTool

    document = TDocStd_Document(TCollection_ExtendedString("XmlOcaf"))
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    colours = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    assembly = shapes.NewShape()
    labels = []
    for mesh, shape in zip(graph.meshes, faces, strict=True):
        label = shapes.AddShape(shape, False)
        r, g, b, a = graph.colours[int(mesh.colour[0])][1]
        colours.SetColor(label, Quantity_ColorRGBA(Quantity_Color(r, g, b, Quantity_TOC_sRGB), a), XCAFDoc_ColorSurf)
        TDataStd_Name.Set_s(label, TCollection_ExtendedString(mesh.name))
        labels.append(label)
    for node in graph.nodes:
        shapes.AddComponent(assembly, labels[node.mesh], _located(node.matrix))
    shapes.UpdateAssemblies()
    info, progress = IndexedDataMap_TCollection_AsciiString_TCollection_AsciiString(), Message_ProgressRange()
    writer = RWGltf_CafWriter(TCollection_AsciiString(str(path)), path.suffix == ".glb")
    if not writer.Perform(document, info, progress):
        raise OSError(f"{path} was not written")
