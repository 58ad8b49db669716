"""Files cut off anywhere. Format: Wavefront, Object Files (.obj), version 3.0; written by trimesh."""

import pytest
import trimesh

from addon.core.exports import obj


def boxes() -> bytes:
    scene = trimesh.Scene([trimesh.creation.box((16, 16, 9.6), transform=None) for _ in range(3)])
    return scene.export(file_type="obj").encode() if isinstance(scene.export(file_type="obj"), str) else b""


def told(data: bytes) -> str:
    try:
        obj.check_end(data)
    except ValueError as fault:
        return str(fault)
    return obj.doubt(data)


def test_a_whole_file_is_taken_as_one():
    data = boxes()
    assert told(data) == ""
    assert obj.face_count(data) == 36
    assert obj.astray(data) == 0


def test_wherever_it_is_cut_within_a_line_it_is_told():
    """But within a comment, or where the last line is left out as a whole."""
    data = boxes()
    for end in range(len(data)):
        line = data[:end].rpartition(b"\n")[2].split()
        if line and line[0] in (b"v", b"f", b"vn", b"vt"):
            assert told(data[:end]), data[:end][-40:]


@pytest.mark.parametrize(
    ("end", "words"),
    [
        (b"v 1 2", "breaks off"),
        (b"v 1 2 3.", ""),
        (b"v 1 2 -", "breaks off"),
        (b"v 1 2 3\n", "before the faces"),
        (b"o next", "before the faces"),
        (b"usemtl red\n", "before the faces"),
        (b"f 1 2", "breaks off"),
        (b"f 1//1 2//1 3//", "breaks off"),
        (b"f 1//1 2//1 3", "breaks off"),
        (b"f 1/1/1 2/1/1 3/1", "breaks off"),
        (b"f 1 2 3", "without a line break"),
        (b"f 1 2 3\n", ""),
        (b"f 1 2 3\r\n", ""),
        (b"f 1 2 3\n# 12 triangles\n\n", ""),
        (b"f 1 2 3\n# 12 tri", ""),
    ],
)
def test_what_the_end_tells(end, words):
    there = told(b"v 0 0 0\nv 1 0 0\nv 0 1 0\nvn 0 0 1\nvt 0 0\nf 1 2 3\n" + end)
    assert words in there
    assert bool(there) == bool(words) or end == b"v 1 2 3."


@pytest.mark.parametrize(
    ("face", "astray"),
    [
        ("f 1 2 3", 0), ("f -1 -2 -3", 0), ("f 1/1/1 2/1/1 3/1/1", 0), ("f 1//1 2//1 3//1", 0), ("  f 1 2 3", 0),
        ("f 1 2 4", 1), ("f -1 -2 -4", 1), ("f 0 1 2", 1), ("f 1/1/1 2/2/1 3/1/1", 1), ("f 1//1 2//1 3//2", 1),
        ("f 1 2 x", 1), ("f 1 \\\n2 \\\n3", 0), ("f 1 2 3\nv 5 5 5\nf 1 2 4\nf 1 2 5", 1),
    ],
)  # fmt: skip
def test_faces_that_lead_astray_are_counted(face, astray):
    data = f"v 0 0 0\nv 1 0 0\nv 0 1 0\nvn 0 0 1\nvt 0 0\n{face}\n".encode()
    assert obj.astray(data) == astray


@pytest.mark.parametrize("data", [b"", b"\n", b"#", b"v", b"f", b"\0" * 9, b"f 1/2/3/4 1 1", b"v nan inf 1e"])
def test_anything_gets_an_answer(data):
    told(data)
    obj.face_count(data)
    obj.astray(data)
