"""Headers of PLY files that no reader may be handed. Format: Turk, The PLY Polygon File Format (1994)."""

import pytest

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
