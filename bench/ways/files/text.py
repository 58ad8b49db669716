"""OBJ, STL and PLY, by hand: everything lies in one space, so nodes are gone."""

from pathlib import Path

import numpy as np

from ..graph import Graph
from ..layouts import together
from ..polygons import polygons
from .colour import picture_bytes


def obj(graph: Graph, path: Path, *, keyword: str = "o", per: str = "object", materials: bool = True,
        gloss: bool = True, corners: int | None = 3) -> None:  # fmt: skip
    """`keyword` o or g begins what `per` says: an object, or everything at once; faces have up to so many corners."""
    meshes = [mesh for _, mesh in graph.flat()]
    if per == "all":
        meshes = [together("build", meshes)]
    lines, at, at_uv, last = [f"mtllib {path.stem}.mtl"] if materials else [], 1, 1, None
    for mesh in meshes:
        lines.append(f"{keyword} {mesh.name.replace(' ', '_')}")
        lines += ["v {:.6f} {:.6f} {:.6f}".format(*row) if np.abs(mesh.vertices).max() > 20 else
                  "v {:.9f} {:.9f} {:.9f}".format(*row) for row in mesh.vertices]  # fmt: skip
        if mesh.uv is not None:
            lines += ["vt {:.5f} {:.5f}".format(*row) for row in mesh.uv]
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
    path.write_text("\n".join(lines) + "\n")
    if materials:
        path.with_suffix(".mtl").write_text("\n".join(_mtl(graph, path, gloss)) + "\n")
        path.with_name(f"{path.stem}.png").write_bytes(picture_bytes())


def _mtl(graph, path, gloss):
    for name, (r, g, b, a) in graph.colours:
        yield f"newmtl {name}\nKd {r:.4f} {g:.4f} {b:.4f}\nd {a:.3f}"
        if gloss:
            yield "Ks 0.5 0.5 0.5\nNs 400\nillum 2"
        if name == "printed":
            yield f"map_Kd {path.stem}.png"


def stl(graph: Graph, path: Path, *, ascii_: bool = False) -> None:
    mesh = together("build", [mesh for _, mesh in graph.flat()])
    corners = mesh.vertices[mesh.triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-30)
    if ascii_:
        rows = ["solid build"]
        for n, (a, b, c) in zip(normal, corners, strict=True):
            rows.append("facet normal {:.6e} {:.6e} {:.6e}\nouter loop".format(*n))
            rows += ["vertex {:.7e} {:.7e} {:.7e}".format(*p) for p in (a, b, c)]
            rows.append("endloop\nendfacet")
        path.write_text("\n".join([*rows, "endsolid build"]) + "\n")
        return
    record = np.zeros(len(corners), dtype=[("n", "<f4", 3), ("p", "<f4", (3, 3)), ("a", "<u2")])
    record["n"], record["p"] = normal, corners
    path.write_bytes(b"written by hand".ljust(80) + np.uint32(len(corners)).tobytes() + record.tobytes())


def ply(graph: Graph, path: Path, *, ascii_: bool = False, shades: bool = True) -> None:
    """With a colour at each vertex, or with none."""
    mesh = together("build", [mesh for _, mesh in graph.flat()])
    shade = np.zeros((len(mesh.vertices), 4), dtype=np.uint8)
    palette = np.rint(255 * np.array([rgba for _, rgba in graph.colours])).astype(np.uint8)
    shade[mesh.triangles] = palette[mesh.colour][:, None]
    head = [
        "ply", f"format {'ascii' if ascii_ else 'binary_little_endian'} 1.0", f"element vertex {len(mesh.vertices)}",
        *(f"property float {axis}" for axis in "xyz"),
        *(f"property uchar {name}" for name in ("red", "green", "blue", "alpha") if shades),
        f"element face {len(mesh.triangles)}", "property list uchar int vertex_indices", "end_header", "",
    ]  # fmt: skip
    if ascii_:
        rows = [
            "{:.7g} {:.7g} {:.7g}".format(*p) + " {} {} {} {}".format(*c) * shades
            for p, c in zip(mesh.vertices, shade, strict=True)
        ]
        rows += ["3 {} {} {}".format(*t) for t in mesh.triangles]
        path.write_text("\n".join(head) + "\n".join(rows) + "\n")
        return
    points = np.zeros(len(mesh.vertices), dtype=[("p", "<f4", 3), ("c", "u1", 4 if shades else 0)])
    points["p"], points["c"] = mesh.vertices, shade[:, : 4 if shades else 0]
    faces = np.zeros(len(mesh.triangles), dtype=[("n", "u1"), ("v", "<i4", 3)])
    faces["n"], faces["v"] = 3, mesh.triangles
    path.write_bytes("\n".join(head).encode() + points.tobytes() + faces.tobytes())
