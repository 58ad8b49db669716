"""Lots and fading as Cycles shows them: CIEDE2000 within the preset's limit."""

import bpy
import numpy as np
import pytest

from addon.core.wear import marking, tint
from tests.blender.wear.renders import BLUE, ONLY_FADED, ONLY_TINTED, RED, WHITE, apart, in_full_light, render, shining


@pytest.mark.parametrize("colour", [WHITE, RED, BLUE], ids=["white", "red", "blue"])
def test_bricks_of_all_lots_stay_within_the_limit_and_one_reaches_it(colour, tmp_path):
    brick = shining(colour, ONLY_TINTED)
    seen = []
    for lot in tint.LOTS:
        brick["playworn_lot"] = lot.tolist()
        seen.append(apart(colour, render(tmp_path, 4, 1)[2, 2, :3]))
    assert seen[0] == pytest.approx(0.0, abs=1e-3)  # the first lot is the colour as given
    assert max(seen) == pytest.approx(5.0, abs=0.01)
    bpy.context.scene["playworn_wear"] = 0.5
    assert 1.5 < apart(colour, render(tmp_path, 4, 1)[2, 2, :3]) < 3.5
    del brick["playworn_lot"]
    assert apart(colour, render(tmp_path, 4, 1)[2, 2, :3]) == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("colour", [WHITE, RED, BLUE], ids=["white", "red", "blue"])
def test_bricks_fade_by_up_to_the_limit_and_never_by_less_than_a_third_of_it(colour, tmp_path):
    brick = shining(colour, ONLY_FADED)
    in_full_light(brick)
    seen = []
    for share in marking.shares(np.arange(12, dtype=np.uint64)):
        brick["playworn_share"] = share.tolist()
        seen.append(apart(colour, render(tmp_path, 4, 1)[2, 2, :3]))
    assert 3.3 < min(seen) < max(seen) <= 10.01
    assert max(seen) > 8.0


def test_age_drifts_over_a_brick_with_no_edge_in_it(tmp_path):
    shining(WHITE, ONLY_FADED)
    bpy.context.scene.camera.data.ortho_scale = 24.0
    seen = render(tmp_path, 32, 1)[16, :, :3]
    away = np.array([apart(WHITE, each) for each in seen])
    assert np.ptp(away) > 0.3
    assert np.abs(np.diff(away)).max() < 0.2 * np.ptp(away)
    assert away.max() <= 10.01


def test_what_faces_down_has_aged_less(tmp_path):
    brick = shining(WHITE, ONLY_FADED)
    in_full_light(brick)
    above = apart(WHITE, render(tmp_path, 4, 1)[2, 2, :3])
    brick.rotation_euler = (np.pi, 0.0, 0.0)
    assert apart(WHITE, render(tmp_path, 4, 1)[2, 2, :3]) == pytest.approx(above, abs=0.01)  # another face is up now
    camera = bpy.context.scene.camera
    camera.location, camera.rotation_euler = -camera.location, (np.pi, 0.0, 0.0)
    assert 0.5 * above < apart(WHITE, render(tmp_path, 4, 1)[2, 2, :3]) < 0.9 * above
