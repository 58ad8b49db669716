"""Headers of PLY files that no reader may be handed. Format: Turk, The PLY Polygon File Format (1994)."""

import struct

import numpy as np
import pytest
import trimesh

from addon.core.exports import ply

HEAD = b"""ply
format binary_little_endian 1.0
comment made by hand
element vertex 3
property float x
property float y
property float z
element face 1
property list uchar int vertex_indices
end_header
"""


def test_a_plain_header_passes():
    ply.check(HEAD)
    assert ply.face_count(HEAD) == 1


@pytest.mark.parametrize(
    ("was", "now", "told"),
    [
        (b"made by hand\n", b"made by hand", "tells of no vertices"),  # a lost line break: Blender 4.5 may die of it
        (b"element vertex", b"element vertices", "tells of no vertices"),
        (b"element vertex 3\n", b"", "tells of no vertices"),
        (b"comment made", b"made", 'has a line "made by hand"'),
    ],
)
def test_a_header_that_tells_nothing_is_refused(was, now, told):
    assert was in HEAD
    with pytest.raises(ValueError, match=told):
        ply.check(HEAD.replace(was, now))


def _file(kind: str, faces: list[list[int]], points: int = 8) -> bytes:
    """By hand, as the format has it: faces of any number of corners."""
    head = f"ply\nformat {kind} 1.0\nelement vertex {points}\n" + "".join(f"property float {axis}\n" for axis in "xyz")
    head += f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    if kind == "ascii":
        rows = ["0 0 0"] * points + [" ".join(map(str, [len(face), *face])) for face in faces]
        return (head + "\n".join(rows) + "\n").encode()
    order = "<" if "little" in kind else ">"
    body = struct.pack(f"{order}{3 * points}f", *[0.0] * 3 * points)
    return head.encode() + body + b"".join(struct.pack(f"{order}B{len(face)}i", len(face), *face) for face in faces)


@pytest.mark.parametrize("kind", ["ascii", "binary"])
def test_colours_of_faces_as_another_library_writes_them(kind):
    shape = trimesh.creation.box()
    shape.visual.face_colors = np.random.default_rng(7).integers(0, 256, (len(shape.faces), 4), dtype=np.uint8)
    data = trimesh.exchange.ply.export_ply(shape, encoding=kind)
    assert np.abs(255 * ply.shades(data) - shape.visual.face_colors).max() < 1e-9
    shape.visual = trimesh.visual.ColorVisuals(shape, vertex_colors=[9, 9, 9, 255])
    assert ply.shades(trimesh.exchange.ply.export_ply(shape, encoding=kind)) is None


def test_colours_of_faces_of_any_number_of_corners():
    said = b"".join(b"property uchar %s\n" % name for name in (b"red", b"green", b"blue"))
    head, _, body = _file("binary_big_endian", FACES).partition(b"end_header\n")
    rows, at = b"", 8 * 12
    for n, face in enumerate(FACES):
        after = at + 1 + 4 * len(face)
        rows += body[at:after] + bytes([51 * n, 0, 255])
        at = after
    data = head + said + b"end_header\n" + body[: 8 * 12] + rows
    assert ply.shades(data).tolist() == [[51 * n / 255, 0, 1, 1] for n in range(len(FACES))]
    assert [face.tolist() for face in ply.faces(data)] == FACES


@pytest.mark.parametrize(
    "names", [("diffuse_red", "diffuse_green", "diffuse_blue"), ("r", "g", "b"), ("Red", "Green", "Blue")]
)
def test_colours_by_the_names_of_other_writers(names):
    shape = trimesh.creation.box()
    shape.visual.face_colors = np.random.default_rng(8).integers(0, 256, (len(shape.faces), 4), dtype=np.uint8)
    data = plain = trimesh.exchange.ply.export_ply(shape)
    of_points = trimesh.visual.ColorVisuals(shape, vertex_colors=[9, 19, 29, 255])
    shape.visual = of_points
    points = trimesh.exchange.ply.export_ply(shape)
    for was, now in zip(("red", "green", "blue"), names, strict=True):
        data, points = (each.replace(f"uchar {was}\n".encode(), f"uchar {now}\n".encode()) for each in (data, points))
    assert (ply.shades(data)[:, :3] == ply.shades(plain)[:, :3]).all()
    assert ply.are_shaded(data)
    assert not ply.shades_of_points(data)
    assert ply.shades_of_points(points)[:3] == [(name, 255.0) for name in names]
    assert not ply.are_shaded(points)


def test_two_colours_are_none():
    assert not ply.shades_of_points(HEAD.replace(b"float z\n", b"float z\nproperty float r\nproperty float g\n"))
    lists = b"".join(b"property list uchar float %s\n" % name for name in (b"r", b"g", b"b"))
    assert not ply.shades_of_points(HEAD.replace(b"float z\n", b"float z\n" + lists))


FACES = [[0, 1, 2], [0, 1, 2, 3], [4, 5, 6, 7, 0], [1, 2, 3]]


@pytest.mark.parametrize("kind", ["ascii", "binary_little_endian", "binary_big_endian"])
def test_what_is_announced_has_to_be_there(kind):
    whole = _file(kind, FACES)
    ply.check_length(whole)
    body = whole.index(b"end_header\n") + len(b"end_header\n")
    for end in range(body, len(whole) - 1):
        if kind != "ascii" or whole[end - 1 : end] == b"\n":
            with pytest.raises(ValueError, match="it ends after"):
                ply.check_length(whole[:end])


def test_how_many_are_there_is_told():
    whole = _file("binary_little_endian", FACES)
    with pytest.raises(ValueError, match="after 3 of the 4 elements face"):
        ply.check_length(whole[:-1])
    with pytest.raises(ValueError, match="after 5 of the 9999999999 elements vertex"):
        ply.check_length(whole.replace(b"vertex 8", b"vertex 9999999999")[:-100])


def test_what_trimesh_writes_is_whole():
    for encoding in ("ascii", "binary"):
        data = trimesh.creation.icosphere(subdivisions=1).export(file_type="ply", encoding=encoding)
        ply.check_length(data if isinstance(data, bytes) else data.encode())
