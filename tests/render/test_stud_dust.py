"""Dust around a stud, as Cycles shows it: a drift at its foot, less on the flat, hardly any on a top hands touch."""

import bpy
import numpy as np
import pytest

from addon.core.sizes import TRADE
from addon.core.wear.names import SPOT, TURN, UNREACHED
from addon.core.wear.quality import STANDARD
from addon.demo.parts import PARTS
from tests.blender.wear.renders import BLUE, ONLY_DUSTY, look, render, shining

WIDE_MM, PIXELS = 8.0, 128


@pytest.fixture
def around(tmp_path):
    """The mean cover of a plate's top between two distances (mm) from a stud's axis."""
    brick = shining(BLUE, ONLY_DUSTY, quality=STANDARD)
    drawn, mesh = PARTS["plate_2x2"].mesh(), bpy.data.meshes.new("plate")
    mesh.from_pydata(drawn.positions.tolist(), [], drawn.triangles.tolist())
    mesh.materials.append(brick.data.materials[0])
    brick.data = mesh
    brick[SPOT] = (0.5 * TRADE.pitch,) * 2 + (0.0,)  # its studs stand half a pitch off its middle
    at = (np.arange(PIXELS) + 0.5) / PIXELS * WIDE_MM - 0.5 * WIDE_MM
    away = np.hypot(*np.meshgrid(at, at))

    def measured(studded, unreached=0.0, turn=(0.0, 0.0, 0.0)):
        brick[TURN] = (*list(brick[TURN])[:2], -1.0 if studded else 1.0)
        brick[UNREACHED[0]] = brick[UNREACHED[1]] = (unreached,) * 3
        brick.rotation_euler = turn
        brick.update_tag()
        look(WIDE_MM)
        bpy.context.scene.camera.location.x = bpy.context.scene.camera.location.y = 0.5 * TRADE.pitch
        seen = render(tmp_path, PIXELS, 16)[..., 0] - BLUE[0]
        return lambda low, high: seen[(away > low) & (away < high)].mean()

    return measured


FOOT, FLAT, TOP = (2.5, 2.9), (4.0, 5.2), (0.0, 2.2)


@pytest.mark.parametrize("turn", [(0.0, 0.0, 0.0), (0.0, 0.0, 0.5 * np.pi)], ids=["as drawn", "turned"])
def test_it_drifts_at_the_foot_of_a_stud_and_hands_keep_its_top_bare(around, turn):
    cover = around(studded=True, turn=turn)
    assert cover(*FOOT) > 1.8 * cover(*FLAT)
    assert cover(*TOP) < 0.5 * cover(*FLAT)


def test_where_no_hand_gets_it_lies_on_the_top_as_on_the_flat(around):
    cover = around(studded=True, unreached=1.0)
    assert 0.8 < cover(*TOP) / cover(*FLAT) < 1.4
    assert cover(*FOOT) > 1.8 * cover(*FLAT)


def test_where_no_stud_is_counted_it_lies_evenly(around):
    cover = around(studded=False)
    assert cover(*FOOT) == pytest.approx(cover(*FLAT), rel=0.2)
