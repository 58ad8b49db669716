"""Limits of the fit in the panel: the preset's, changed, put back, kept."""

import json

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.fit import attempts
from addon.core.presets import preset as presets
from addon.scene.presets import library
from addon.ui import panels
from addon.ui.presets import choices
from tests.blender.ui.drawing import drawn
from tests.blender.ui.walls import deltas, moved


def test_limits_tell_what_the_preset_says(build, settings):
    settings.preset = "toy-box"
    assert drawn(panels.LimitsPanel) == [*presets.Fit.__dataclass_fields__, "playworn.reset_limits"]
    fit = library.find_preset("toy-box").fit
    for name, field in presets.Fit.__dataclass_fields__.items():
        shown, rule = settings.limits.bl_rna.properties[name], field.metadata["rule"]
        assert getattr(settings.limits, name) == pytest.approx(getattr(fit, name))
        assert shown.description == rule.meaning
        assert (shown.hard_min, shown.hard_max) == pytest.approx((rule.low, rule.high))
    assert settings.limits.bl_rna.properties["shift_mm"].name == "Shift (mm)"
    assert settings.limits.bl_rna.properties["neatness"].name == "Neatness"


def test_a_changed_limit_acts_at_once_on_an_applied_build_only(build, settings):
    settings.preset = "toy-box"
    settings.limits.shift_mm = 0.065
    assert not deltas().any()
    assert usecases.recall(build) is None
    assert choices_shown(settings)["toy-box"] == "Toy Box (changed)"
    bpy.ops.playworn.apply()
    first = deltas()
    assert usecases.recall(build).preset.fit.shift_mm == 0.065
    settings.limits.shift_mm = 0.01
    assert moved(first)
    settings.limits.shift_mm = 5.0
    assert usecases.recall(build).preset.fit.shift_mm == 0.3
    settings.limits.shift_mm = 0.065
    assert moved(first) == set()
    settings.seed = 3
    assert usecases.recall(build).preset.fit.shift_mm == 0.065


def choices_shown(settings) -> dict[str, str]:
    return {name: label for name, label, _ in choices.items(settings.preset_name, bool(settings.changes))}


def test_reset_brings_the_presets_limits_back(build, settings):
    bpy.ops.playworn.apply()
    first = deltas()
    with pytest.raises(RuntimeError, match="The limits are the preset's own"):
        bpy.ops.playworn.reset_limits()
    settings.limits.twist_deg, settings.limits.play_mm = 0.25, 0.01
    assert moved(first)
    assert bpy.ops.playworn.reset_limits() == {"FINISHED"}
    assert moved(first) == set()
    assert settings.changes == ""
    assert choices_shown(settings)["well-loved"] == "Well Loved"


def test_the_presets_own_value_is_no_change(settings):
    value = settings.limits.shift_mm
    settings.limits.shift_mm = value + 0.01
    assert settings.changes
    settings.limits.shift_mm = value
    assert settings.changes == ""


def test_another_preset_comes_with_its_own_limits(build, settings):
    settings.limits.shift_mm = 0.01
    settings.preset = "fresh"
    assert settings.changes == ""
    assert settings.limits.shift_mm == pytest.approx(library.find_preset("fresh").fit.shift_mm)


def test_a_saved_preset_holds_the_changed_limits(build, settings, own):
    settings.preset, settings.limits.neatness = "fresh", 0.125
    bpy.ops.playworn.apply()
    before = deltas()
    bpy.ops.playworn.save_preset(name="harbour-day")
    assert json.loads((own / "harbour-day.json").read_text())["fit"]["neatness"] == 0.125
    assert (settings.preset, settings.changes) == ("harbour-day", "")
    np.testing.assert_array_equal(deltas(), before)


def test_choosing_a_build_brings_its_changed_limits_back(build, settings):
    settings.limits.lift_mm = 0.0125
    bpy.ops.playworn.apply()
    settings.build = None
    settings.preset = "fresh"
    settings.build = build
    assert (settings.preset, settings.changes) == ("well-loved", '{"lift_mm": 0.0125}')
    assert settings.limits.lift_mm == pytest.approx(0.0125)


def test_limits_of_a_preset_that_is_gone_come_from_the_build(build, settings, own):
    bpy.ops.playworn.save_preset(name="harbour-day")
    bpy.ops.playworn.apply()
    (own / "harbour-day.json").unlink()
    choices.forget()
    expected = usecases.recall(build).preset.fit.shift_mm
    assert settings.limits.shift_mm == pytest.approx(expected)
    settings.limits.shift_mm = 0.01
    assert usecases.recall(build).preset.fit.shift_mm == 0.01
    settings.build = None
    assert settings.limits.shift_mm == 0.0
    settings.limits.shift_mm = 0.02
    assert settings.limits.shift_mm == 0.0


def test_limits_that_leave_no_way_out_are_warned_of(build, settings, monkeypatch):
    monkeypatch.setattr(attempts, "SWEEPS", 1)  # an answer that is far from done
    monkeypatch.setattr(attempts, "ATTEMPTS", attempts.ATTEMPTS[-1:])  # and not mended but by wanting less
    settings.preset, settings.looseness = "toy-box", 2.0
    bpy.ops.playworn.apply()
    assert "The limits cannot hold together" in " ".join(drawn(panels.FitPanel))
    monkeypatch.undo()
    settings.looseness = 1.0
    assert "cannot hold together" not in " ".join(drawn(panels.FitPanel))
