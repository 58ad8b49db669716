"""What the panel's settings mean to a use case."""

from pathlib import Path
from typing import TYPE_CHECKING

import bpy

from .. import usecases
from ..core.errors import PresetProblem
from ..core.preset import Preset

if TYPE_CHECKING:
    from .properties import PlaywornSettings


def preset(settings: "PlaywornSettings") -> Preset:
    """The chosen preset; one that is on the build but not in the library comes from the build itself."""
    try:
        return usecases.find_preset(settings.preset_name)
    except PresetProblem:
        state = usecases.recall(settings.build) if settings.build else None
        if state is None or state.preset.name != settings.preset_name:
            raise
        return state.preset


def choice(settings: "PlaywornSettings") -> tuple:
    """All that is set, to be compared."""
    return settings.preset_name, dials(settings)


def dials(settings: "PlaywornSettings") -> usecases.Dials:
    """The dials as they stand; a path that starts with // is taken from the saved file's folder."""
    textures = Path(bpy.path.abspath(settings.textures)) if settings.textures else None
    return usecases.Dials(seed=settings.seed, looseness=settings.looseness, wear=settings.wear, textures=textures)
