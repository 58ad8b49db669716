"""What the panel's settings mean to a use case."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, replace
from pathlib import Path

import bpy
import numpy as np

from .. import usecases
from ..core.errors import PlaywornError, PresetProblem
from ..core.presets.preset import Fit, Preset, left_over
from ..core.remembered import keeping
from ..core.wear.layers import LAYERS, SIZES, resized, size_mm
from ..core.wear.story import Story
from .context import Settings
from .presets import choices

MOST = usecases.MOST  # of a dial
FIT = Fit.__dataclass_fields__
STORY = Story.__dataclass_fields__
_CHANGED = (*FIT, *SIZES, *STORY)


def preset(settings: Settings) -> Preset:
    """The chosen preset with the limits, sizes and story that were changed; PresetProblem where there is none of that
    name."""
    chosen = _chosen(settings)
    fit, told = replace(chosen.fit, **limits(settings)), replace(chosen.story, **story(settings))
    return replace(chosen, fit=fit, wear=resized(chosen.wear, sizes(settings)), story=told)


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


def limits(settings: Settings) -> dict[str, float]:
    """The limits that differ from the chosen preset's."""
    return {name: value for name, value in _numbers(settings.changes, _CHANGED).items() if name in FIT}


def sizes(settings: Settings) -> dict[str, float]:
    """The sizes of layers' pictures (mm) that do."""
    return {name: value for name, value in _numbers(settings.changes, _CHANGED).items() if name in SIZES}


def story(settings: Settings) -> dict[str, float]:
    """What of the story does."""
    return {name: value for name, value in _numbers(settings.changes, _CHANGED).items() if name in STORY}


def layers(settings: Settings) -> dict[str, float]:
    """The dials of layers that are not at 1."""
    return dict(_numbers(settings.layer_dials, tuple(LAYERS)))


def uses(settings: Settings) -> dict[str, str]:
    """What pictures are for by hand, by file name."""
    return json.loads(settings.texture_uses or "{}") if settings.textures else {}


def use(settings: Settings, file: str, layer: str) -> None:
    """Chooses what a picture is for; "" is no choice, its name tells again."""
    settings.texture_uses = text({name: to for name, to in {**uses(settings), file: layer}.items() if to})


@keeping(16)
def _numbers(text: str, known: tuple[str, ...]) -> dict[str, float]:
    kept = json.loads(text or "{}")
    return {name: kept[name] for name in known if name in kept}


def change(settings: Settings, name: str, value: float) -> None:
    """Changes a limit, the size of a layer's picture or the story; the preset's own value is no change."""
    rule = SIZES[name] if name in SIZES else (FIT | STORY)[name].metadata["rule"]
    value = min(max(typed(value), rule.low), rule.high)  # Blender leaves a typed number as it is
    own, kept = _own(_chosen(settings)), {**_numbers(settings.changes, _CHANGED), name: value}
    settings.changes = text({each: kept[each] for each in kept if kept[each] != typed(own[each])})


def dial_layer(settings: Settings, layer: str, value: float) -> None:
    """Turns the dial of a layer; 1 is no change."""
    kept = {**layers(settings), layer: min(max(typed(value), 0.0), MOST)}
    settings.layer_dials = text({each: kept[each] for each in kept if kept[each] != 1.0})


def over_full(settings: Settings) -> str:
    """What of the dials a preset cannot take, in the form of their setting."""
    left = left_over(preset(settings), settings.wear, layers(settings))
    return text({layer: min(factor, MOST) for layer, factor in left.items()})


def reset(settings: Settings, names: Iterable[str]) -> None:
    """Forgets the changes of some limits, sizes or the story."""
    kept = _numbers(settings.changes, _CHANGED)
    settings.changes = text({name: kept[name] for name in kept if name not in names})


def _own(preset: Preset) -> dict[str, float]:
    """What of a preset can be changed one by one."""
    return asdict(preset.fit) | {layer: size_mm(preset.wear, layer) for layer in SIZES} | asdict(preset.story)


def typed(value: float) -> float:
    """The number as it was typed: Blender hands over 0.08 as 0.07999999821186066."""
    return float(str(np.float32(value)))


def changes_in(preset: Preset) -> str:
    """How a preset, as a build was given it, differs from the library's of that name, in the form of the setting."""
    listed = choices.preset(preset.name)
    own = _own(listed or preset)
    return text({name: value for name, value in _own(preset).items() if value != own[name]})


def text(changed: Mapping[str, float] | Mapping[str, str]) -> str:
    """Numbers or words by name in the form of a setting."""
    return json.dumps(dict(changed), sort_keys=True) if changed else ""


def choice(settings: Settings) -> tuple:
    """All that is set, to be compared."""
    return settings.preset_name, settings.changes, dials(settings)


def dials(settings: Settings) -> usecases.Dials:
    """The dials as they stand; a path that starts with // is taken from the saved file's folder."""
    textures = Path(bpy.path.abspath(settings.textures)) if settings.textures else None
    return usecases.Dials(
        settings.seed,
        settings.looseness,
        settings.wear,
        textures,
        settings.quality,
        settings.rounding,
        layers=layers(settings),
        window_deg=typed(settings.window_deg) % 360.0 if settings.has_window else None,
        wall_deg=typed(settings.wall_deg) % 360.0 if settings.has_wall else None,
        uses=uses(settings),
    )
