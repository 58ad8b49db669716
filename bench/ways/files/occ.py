"""The writers of an open CAD kernel, Open CASCADE: glTF and STL of a tessellated assembly."""

from pathlib import Path

from ..graph import Graph


def write(graph: Graph, path: Path) -> None:
    """An assembly of triangulated faces, a label a brick, its colour on it."""
    from OCP.BRep import BRep_Builder
    from OCP.gp import gp_Pnt, gp_Trsf
    from OCP.Message import Message_ProgressRange
    from OCP.OCP.collections import IndexedDataMap_TCollection_AsciiString_TCollection_AsciiString
    from OCP.Poly import Poly_Triangle, Poly_Triangulation
    from OCP.Quantity import Quantity_Color, Quantity_ColorRGBA, Quantity_TOC_sRGB
    from OCP.RWGltf import RWGltf_CafWriter
    from OCP.TCollection import TCollection_AsciiString, TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS_Compound, TopoDS_Face
    from OCP.XCAFDoc import XCAFDoc_ColorSurf, XCAFDoc_DocumentTool

    builder = BRep_Builder()

    def face(mesh):
        table = Poly_Triangulation(len(mesh.vertices), len(mesh.triangles), False)
        for n, point in enumerate(mesh.vertices):
            table.SetNode(n + 1, gp_Pnt(*map(float, point)))
        for n, triangle in enumerate(mesh.triangles):
            table.SetTriangle(n + 1, Poly_Triangle(*(int(v) + 1 for v in triangle)))
        made = TopoDS_Face()
        builder.MakeFace(made, table)
        return made

    def located(matrix):
        move = gp_Trsf()
        move.SetValues(*map(float, matrix[:3].ravel()))
        return TopLoc_Location(move)

    faces = [face(mesh) for mesh in graph.meshes]
    if path.suffix == ".stl":
        from OCP.StlAPI import StlAPI_Writer

        heap = TopoDS_Compound()
        builder.MakeCompound(heap)
        for node in graph.nodes:
            builder.Add(heap, faces[node.mesh].Located(located(node.matrix)))
        if not StlAPI_Writer().Write(heap, str(path)):
            raise OSError(f"{path} was not written")
        return
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
        shapes.AddComponent(assembly, labels[node.mesh], located(node.matrix))
    shapes.UpdateAssemblies()
    info, progress = IndexedDataMap_TCollection_AsciiString_TCollection_AsciiString(), Message_ProgressRange()
    name = TCollection_AsciiString(str(path))
    writer = RWGltf_CafWriter(name, path.suffix == ".glb")
    if not writer.Perform(document, info, progress):
        raise OSError(f"{path} was not written")
