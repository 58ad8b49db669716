"""The jobs of the tool, each a short poem: gather from the scene, compute in the core, write once.

Each does all of its work or none, and raises a PlaywornError whose sentence tells the user what to mend.
"""

from ..scene.library import find_preset, list_presets, save_preset
from .bricks import pin, roll_again, undo_rolls, unpin
from .build import bring_in, builds, check, inspect, open_build, open_file, recall, save, save_picture
from .dials import Dials
from .library import (
    bundle_preset,
    delete_preset,
    describe_preset,
    duplicate_preset,
    export_presets,
    fingerprint,
    import_preset,
    rename_preset,
    restore_preset,
    revert_preset,
    take_look,
)
from .look import apply, clear, dial, dial_wear
from .progress import Progress, quiet
from .shots import (
    ReadsAs,
    add_shot,
    apply_for_shot,
    dial_shots,
    dial_to,
    find_shots,
    for_shot,
    forget_shots,
    keep_shots,
    list_shots,
    look_at_plate,
    lost_on_plate,
    reads_as,
    remove_shot,
    round_to,
    save_chart,
)
from .spread import apply_to_all, builds_of_file, builds_of_scene, builds_of_selection
from .textures import survey_textures, texture_uses
from .timeline import OnFrame, off_timeline, on_timeline, shots_on_timeline

__all__ = [
    "Dials",
    "OnFrame",
    "Progress",
    "ReadsAs",
    "add_shot",
    "apply",
    "apply_for_shot",
    "apply_to_all",
    "bring_in",
    "builds",
    "builds_of_file",
    "builds_of_scene",
    "builds_of_selection",
    "bundle_preset",
    "check",
    "clear",
    "delete_preset",
    "describe_preset",
    "dial",
    "dial_shots",
    "dial_to",
    "dial_wear",
    "duplicate_preset",
    "export_presets",
    "find_preset",
    "find_shots",
    "fingerprint",
    "for_shot",
    "forget_shots",
    "import_preset",
    "inspect",
    "keep_shots",
    "list_presets",
    "list_shots",
    "look_at_plate",
    "lost_on_plate",
    "off_timeline",
    "on_timeline",
    "open_build",
    "open_file",
    "pin",
    "quiet",
    "reads_as",
    "recall",
    "remove_shot",
    "rename_preset",
    "restore_preset",
    "revert_preset",
    "roll_again",
    "round_to",
    "save",
    "save_chart",
    "save_picture",
    "save_preset",
    "shots_on_timeline",
    "survey_textures",
    "take_look",
    "texture_uses",
    "undo_rolls",
    "unpin",
]
