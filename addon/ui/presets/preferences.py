"""What holds for every file: where the studio keeps its presets."""

import os

import bpy

from ... import usecases
from ..context import Context
from ..paragraphs import paragraph
from . import choices

_WIDE = 500  # of the preferences, in pixels at scale 1


class PlaywornPreferences(bpy.types.AddonPreferences):
    # Blender looks the preferences up by the name of the package that it enables.
    bl_idname = (__package__ or "").rpartition(".addon.")[0] or (__package__ or "").partition(".")[0]

    studio_folder: bpy.props.StringProperty(
        name="Studio Presets",
        description="Folder with presets for everyone, which Playworn only reads",
        subtype="DIR_PATH",
        update=lambda _preferences, _context: choices.forget(),
    )

    def draw(self, context: Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        layout.prop(self, usecases.STUDIO_PREFERENCE)
        if chosen := os.environ.get(usecases.STUDIO_VARIABLE):
            words = f"The environment variable {usecases.STUDIO_VARIABLE} goes before it: {chosen}"
            paragraph(layout, context, words, "INFO", wide=_WIDE)
