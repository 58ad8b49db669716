"""What hands rub on a stud, as Cycles shows it: its rim, and not its foot, an inward corner that no hand gets into."""

from dataclasses import replace

import bpy
import numpy as np
import pytest

from addon.core.sizes import TRADE
from addon.core.wear.quality import GEOMETRY, SHADING, STANDARD
from addon.demo.parts import PARTS
from addon.scene.wear import rounded, twins
from tests.blender.wear.renders import BLUE, ONLY_RUBBED, look, render, shining

RADIUS_MM = 0.25  # as in most presets
WIDE_MM, PIXELS = 8.0, 160


RUBBED = replace(ONLY_RUBBED, rounding_mm=RADIUS_MM)


def studded(rounding):
    """A plate of four studs, rubbed all over, that shines with its worn colour."""
    quality = STANDARD.on_meshes(all_rounded=True) if rounding == GEOMETRY else STANDARD
    brick = shining(BLUE, RUBBED, quality=quality)
    drawn, mesh = PARTS["plate_2x2"].mesh(), bpy.data.meshes.new("plate")
    mesh.from_pydata(drawn.positions.tolist(), [], drawn.triangles.tolist())
    mesh.materials.append(brick.data.materials[0])
    if rounding == GEOMETRY:
        (mesh,) = rounded.rounded([rounded.Raw(mesh, drawn.positions, np.ones(3), np.zeros(3))], RADIUS_MM)
        brick[twins.ROUNDED] = 1.0
    brick.data = mesh


@pytest.mark.parametrize("rounding", [SHADING, GEOMETRY])
def test_the_foot_of_a_stud_is_as_the_flat_top_around_it_and_its_rim_is_rubbed(rounding, tmp_path):
    studded(rounding)
    look(WIDE_MM)
    bpy.context.scene.camera.location.x = bpy.context.scene.camera.location.y = 0.5 * TRADE.pitch
    seen = render(tmp_path, PIXELS, 64)[..., 0]
    at = (np.arange(PIXELS) + 0.5) / PIXELS * WIDE_MM - 0.5 * WIDE_MM
    away, radius = np.hypot(*np.meshgrid(at, at)), 0.5 * TRADE.stud_diameter

    def ring(low, high):
        return seen[(away > low) & (away < high)].mean()

    flat, foot, rim = ring(radius + 0.6, radius + 1.0), ring(radius + 0.05, radius + RADIUS_MM), ring(2.1, radius)
    assert 1.0 - 1e-4 < foot / flat < 1.05
    assert rim > 1.5 * flat
