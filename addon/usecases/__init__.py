"""The jobs of the tool, each a short poem: gather from the scene, compute in the core, write once.

Each does all of its work or none, and raises a PlaywornError whose sentence tells the user what to mend.
"""

from ..scene.library import find_preset, list_presets, save_preset
from .bricks import pin, roll_again, undo_rolls, unpin
from .build import bring_in, builds, check, inspect, open_build, recall, save, save_picture
from .dials import Dials
from .look import apply, clear, dial, dial_wear
from .progress import Progress, quiet
from .textures import survey_textures, texture_uses
from .timeline import OnFrame, off_timeline, on_timeline

__all__ = [
    "Dials",
    "OnFrame",
    "Progress",
    "apply",
    "bring_in",
    "builds",
    "check",
    "clear",
    "dial",
    "dial_wear",
    "find_preset",
    "inspect",
    "list_presets",
    "off_timeline",
    "on_timeline",
    "open_build",
    "pin",
    "quiet",
    "recall",
    "roll_again",
    "save",
    "save_picture",
    "save_preset",
    "survey_textures",
    "texture_uses",
    "undo_rolls",
    "unpin",
]
