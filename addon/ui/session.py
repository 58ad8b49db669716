"""What belongs to the session and to no file."""

import bpy

from .build import overlay
from .presets import library


class PlaywornSession(library.Search, overlay.Choice, bpy.types.PropertyGroup):
    pass
