"""OBJ, STL and PLY, by hand: everything lies in one space, so nodes are gone."""

from pathlib import Path

import numpy as np

from ..graph import Graph
from ..layouts import together
from ..polygons import polygons
from .colour import picture_bytes


def obj(graph: Graph, path: Path, *, keyword: str = "o", per: str = "object", materials: bool = True,
        gloss: bool = True, corners: int | None = 3, library: bool = True, relative: bool = False) -> None:  # fmt: skip
    """`keyword` o or g begins what `per` says: an object, or everything at once; faces have up to so many corners,
    counted from the end of the list if `relative`; materials are in a `library` beside the file or in none."""
    meshes = [mesh for _, mesh in graph.flat()]
    if per == "all":
        meshes = [together("build", meshes)]
    lines, at, at_uv, last = [f"mtllib {path.stem}.mtl"] if materials and library else [], 1, 1, None
    for mesh in meshes:
        lines.append(f"{keyword} {mesh.name.replace(' ', '_')}")
        lines += ["v {:.6f} {:.6f} {:.6f}".format(*row) if np.abs(mesh.vertices).max() > 20 else
                  "v {:.9f} {:.9f} {:.9f}".format(*row) for row in mesh.vertices]  # fmt: skip
        if mesh.uv is not None:
            lines += ["vt {:.5f} {:.5f}".format(*row) for row in mesh.uv]
        if relative:
            at, at_uv = -len(mesh.vertices), -len(mesh.vertices)
        plain = corners == 3
        faces = zip(mesh.triangles, mesh.colour, strict=True) if plain else polygons(mesh, corners)
        for face, colour in faces:
            if materials and colour != last:
                lines.append(f"usemtl {graph.colours[colour][0]}")
                last = colour
            if mesh.uv is None:
                lines.append("f " + " ".join(str(v + at) for v in face))
            else:
                lines.append("f " + " ".join(f"{v + at}/{v + at_uv}" for v in face))
        at += len(mesh.vertices)
        at_uv += 0 if mesh.uv is None else len(mesh.uv)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    if materials and library:
        path.with_suffix(".mtl").write_text("\n".join(_mtl(graph, path, gloss)) + "\n")
        path.with_name(f"{path.stem}.png").write_bytes(picture_bytes())


def _mtl(graph, path, gloss):
    for name, (r, g, b, a) in graph.colours:
        yield f"newmtl {name}\nKd {r:.4f} {g:.4f} {b:.4f}\nd {a:.3f}"
        if gloss:
            yield "Ks 0.5 0.5 0.5\nNs 400\nillum 2"
        if name == "printed":
            yield f"map_Kd {path.stem}.png"


def stl(graph: Graph, path: Path, *, ascii_: bool = False, apart: bool = False) -> None:
    """As one solid, or each object one that has its name."""
    meshes = [mesh for _, mesh in graph.flat()]
    if ascii_:
        path.write_text("".join(map(_solid, meshes if apart else [together("build", meshes)])), encoding="utf-8")
        return
    normal, corners = _facets(together("build", meshes))
    record = np.zeros(len(corners), dtype=[("n", "<f4", 3), ("p", "<f4", (3, 3)), ("a", "<u2")])
    record["n"], record["p"] = normal, corners
    path.write_bytes(b"written by hand".ljust(80) + np.uint32(len(corners)).tobytes() + record.tobytes())


def _facets(mesh):
    corners = mesh.vertices[mesh.triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return normal / np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-30), corners


def _solid(mesh):
    rows = [f"solid {mesh.name}"]
    for n, (a, b, c) in zip(*_facets(mesh), strict=True):
        rows.append("facet normal {:.6e} {:.6e} {:.6e}\nouter loop".format(*n))
        rows += ["vertex {:.7e} {:.7e} {:.7e}".format(*p) for p in (a, b, c)]
        rows.append("endloop\nendfacet")
    return "\n".join([*rows, f"endsolid {mesh.name}"]) + "\n"


def ply(graph: Graph, path: Path, *, ascii_: bool = False, shades: str = "vertex", corners: int = 3,
        wide: bool = False) -> None:  # fmt: skip
    """With a colour at each vertex or face, or with none; of triangles, or of up to four corners; `wide` has doubles
    whose first byte comes first."""
    mesh = together("build", [mesh for _, mesh in graph.flat()])
    faces = polygons(mesh, corners) if corners > 3 else zip(mesh.triangles, mesh.colour, strict=True)
    loops, colours = zip(*faces, strict=True)
    palette = np.rint(255 * np.array([rgba for _, rgba in graph.colours])).astype(np.uint8)
    shade = np.zeros((len(mesh.vertices), 4), dtype=np.uint8)
    shade[mesh.triangles] = palette[mesh.colour][:, None]
    order, real = (">", "double") if wide else ("<", "float")
    kind = "ascii" if ascii_ else "binary_big_endian" if wide else "binary_little_endian"
    said = [f"property uchar {name}" for name in ("red", "green", "blue", "alpha")]
    head = [
        "ply", f"format {kind} 1.0", f"element vertex {len(mesh.vertices)}",
        *(f"property {real} {axis}" for axis in "xyz"), *(said if shades == "vertex" else ()),
        f"element face {len(loops)}", "property list uchar int vertex_indices", *(said if shades == "face" else ()),
        "end_header", "",
    ]  # fmt: skip
    if ascii_:
        rows = [
            "{:.7g} {:.7g} {:.7g}".format(*p) + " {} {} {} {}".format(*c) * (shades == "vertex")
            for p, c in zip(mesh.vertices, shade, strict=True)
        ]
        rows += [f"{len(loop)} {' '.join(map(str, loop))}" for loop in loops]
        path.write_text("\n".join(head) + "\n".join(rows) + "\n")
        return
    point = [("p", f"{order}f8" if wide else "<f4", 3)]
    points = np.zeros(len(mesh.vertices), dtype=[*point, ("c", "u1", 4)] if shades == "vertex" else point)
    points["p"] = mesh.vertices
    if shades == "vertex":
        points["c"] = shade
    faces = b"".join(
        bytes([len(loop)]) + loop.astype(f"{order}i4").tobytes() + palette[colour].tobytes() * (shades == "face")
        for loop, colour in zip(loops, colours, strict=True)
    )
    path.write_bytes("\n".join(head).encode() + points.tobytes() + faces)
