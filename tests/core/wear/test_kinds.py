"""Kinds of material, told from the values of their shader."""

import pytest

from addon.core.wear import kinds
from addon.core.wear.kinds import METALLIC, OPAQUE, RUBBER, TRANSPARENT, Shading


@pytest.mark.parametrize(
    ("shading", "kind"),
    [
        (Shading(0.0, 1.0, 0.0, 0.5), OPAQUE),  # what a new material of Blender has
        (Shading(0.0, 1.0, 0.0, 0.05), OPAQUE),
        (Shading(0.0, 1.0, 0.0, 0.9), RUBBER),
        (Shading(1.0, 1.0, 0.0, 0.0), TRANSPARENT),
        (Shading(1.0, 1.0, 1.0, 0.9), TRANSPARENT),
        (Shading(0.0, 0.4, 0.0, 0.2), TRANSPARENT),  # how glTF and OBJ without transmission write glass
        (Shading(0.0, 1.0, 1.0, 0.3), METALLIC),
        (Shading(0.0, 1.0, 1.0, 0.9), METALLIC),
        (Shading(None, 1.0, 0.0, 0.2), TRANSPARENT),
        (Shading(0.0, None, 0.0, 0.2), OPAQUE),  # a printed tile
        (Shading(0.0, 1.0, None, None), OPAQUE),
    ],
)
def test_kinds(shading, kind):
    assert kinds.kind(shading) == kind
