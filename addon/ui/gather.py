"""What the panel's settings mean to a use case."""

import json
from dataclasses import asdict, replace
from pathlib import Path

import bpy
import numpy as np

from .. import usecases
from ..core.errors import PlaywornError, PresetProblem
from ..core.presets.preset import Fit, Preset
from ..core.remembered import keeping
from .context import Settings
from .presets import choices


def preset(settings: Settings) -> Preset:
    """The chosen preset with the limits that were changed; PresetProblem where there is none of that name."""
    chosen = _chosen(settings)
    return replace(chosen, fit=replace(chosen.fit, **changes(settings)))


def described(preset: Preset, note: str, tags: tuple[str, ...]) -> Preset:
    """The preset with another note and other tags."""
    return replace(preset, note=note, tags=tags)


def known(settings: Settings) -> Preset | None:
    """The same, None where there is no such preset."""
    try:
        return preset(settings)
    except PlaywornError:
        return None


def _chosen(settings: Settings) -> Preset:
    """A preset that is on the build but not in the library comes from the build itself."""
    listed = choices.preset(settings.preset_name)
    if listed is not None:
        return listed
    try:
        return usecases.find_preset(settings.preset_name)
    except PresetProblem:
        state = usecases.recall(settings.build) if settings.build else None
        if state is None or state.preset.name != settings.preset_name:
            raise
        return state.preset


def changes(settings: Settings) -> dict[str, float]:
    """The limits that differ from the chosen preset's."""
    return dict(_changes(settings.changes))


@keeping(16)
def _changes(text: str) -> dict[str, float]:
    kept = json.loads(text or "{}")
    return {name: kept[name] for name in Fit.__dataclass_fields__ if name in kept}


def change(settings: Settings, name: str, value: float) -> None:
    """Changes one limit; the preset's own value is no change."""
    rule = Fit.__dataclass_fields__[name].metadata["rule"]
    value = min(max(typed(value), rule.low), rule.high)  # Blender leaves a typed number as it is
    own, kept = asdict(_chosen(settings).fit), {**changes(settings), name: value}
    settings.changes = _text({each: kept[each] for each in kept if kept[each] != typed(own[each])})


def typed(value: float) -> float:
    """The number as it was typed: Blender hands over 0.08 as 0.07999999821186066."""
    return float(str(np.float32(value)))


def changes_in(preset: Preset) -> str:
    """How a preset, as a build was given it, differs from the library's of that name, in the form of the setting."""
    listed = choices.preset(preset.name)
    own = asdict(listed.fit) if listed else asdict(preset.fit)
    return _text({name: value for name, value in asdict(preset.fit).items() if value != own[name]})


def _text(changed: dict[str, float]) -> str:
    return json.dumps(changed, sort_keys=True) if changed else ""


def choice(settings: Settings) -> tuple:
    """All that is set, to be compared."""
    return settings.preset_name, settings.changes, dials(settings)


def dials(settings: Settings) -> usecases.Dials:
    """The dials as they stand; a path that starts with // is taken from the saved file's folder."""
    textures = Path(bpy.path.abspath(settings.textures)) if settings.textures else None
    return usecases.Dials(
        settings.seed, settings.looseness, settings.wear, textures, settings.quality, settings.rounding
    )
