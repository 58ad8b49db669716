"""Colours of PLY files by names that Blender's importer does not know: trimesh writes the build, the names are changed
in the header."""

import numpy as np
import pytest
import trimesh

from addon.scene.exports import importers

NAMES = ("red", "green", "blue")
OTHERS = [("diffuse_red", "diffuse_green", "diffuse_blue"), ("r", "g", "b"), ("Red", "Green", "Blue")]
SHADES = [(200, 30, 20), (20, 60, 180), (230, 200, 40), (30, 120, 60)]


def stairs(encoding):
    """Four bricks 2 wide and 2 to 5 long, a step higher each, a colour each."""
    parts = []
    for n, shade in enumerate(SHADES):
        part = trimesh.creation.box((16, 16 + 8 * n, 9.6)).apply_translation((16 * n, 4 * n, 9.6 * n + 4.8))
        part.visual.vertex_colors = (*shade, 255)
        parts.append(part)
    return trimesh.exchange.ply.export_ply(trimesh.util.concatenate(parts), encoding=encoding)


def shown(room):
    """What each brick shows by its length in studs: the least and the most of red, green and blue."""
    found = {}
    for brick in (obj for obj in room.objects if obj.type == "MESH"):
        (colours,) = brick.data.color_attributes
        rgb = np.array([each.color_srgb[:3] for each in colours.data]) * 255
        assert brick.data.materials, "and a material shows them"
        assert not {name for names in OTHERS for name in names} & set(brick.data.attributes.keys())
        size = np.ptp(np.array([vertex.co for vertex in brick.data.vertices]), axis=0)
        found[round(sorted(size)[2] / 8)] = np.rint([rgb.min(axis=0), rgb.max(axis=0)]).tolist()
    return found


@pytest.mark.parametrize("encoding", ["binary", "ascii"])
@pytest.mark.parametrize("names", [NAMES, *OTHERS])
def test_every_brick_has_its_colour(names, encoding, tmp_path):
    data = stairs(encoding)
    for was, now in zip(NAMES, names, strict=True):
        assert f"uchar {was}\n".encode() in data
        data = data.replace(f"uchar {was}\n".encode(), f"uchar {now}\n".encode())
    (tmp_path / "stairs.ply").write_bytes(data)
    room, _ = importers.bring(tmp_path / "stairs.ply")
    assert shown(room) == {n + 2: [list(shade)] * 2 for n, shade in enumerate(SHADES)}


def test_numbers_of_single_precision_are_shares(tmp_path):
    """As floats, colours go from 0 to 1."""
    points = [(x, y, z) for z in (0, 9.6) for y in (0, 16) for x in (0, 32)]
    box = trimesh.Trimesh(points, trimesh.convex.convex_hull(points).faces)
    head = "ply\nformat ascii 1.0\nelement vertex 8\n" + "".join(f"property float {n}\n" for n in "xyzrgb")
    rows = [f"{x} {y} {z} 0.2 0.4 0.6" for x, y, z in trimesh.convex.convex_hull(points).vertices]
    faces = [f"3 {a} {b} {c}" for a, b, c in box.faces]
    head += f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    (tmp_path / "one.ply").write_text(head + "\n".join(rows + faces) + "\n")
    room, _ = importers.bring(tmp_path / "one.ply")
    assert shown(room) == {4: [[51, 102, 153]] * 2}
