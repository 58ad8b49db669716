"""Presets from and for elsewhere: bundles, exports of all of them, and the look of a build in another file."""

from collections import Counter

import bpy

from ... import usecases
from ...core.presets.catalogue import OWN
from .. import gather
from ..context import Context
from ..files import Opens, Writes
from ..wear import follow
from . import choices
from .keeping import Keeping


class ExportAll(Writes, Keeping, bpy.types.Operator):
    """Write all presets of your own, with their pictures and textures, to one zip file"""

    bl_idname = "playworn.export_presets"
    bl_label = "Export All"
    suffix = ".zip"

    filter_glob: bpy.props.StringProperty(default="*.zip", options={"HIDDEN"})

    @classmethod
    def lacking(cls, context: Context) -> str:
        return super().lacking(context) or (
            "" if any(each.origin == OWN for each in choices.listed()) else "You have no preset of your own yet"
        )

    def suggested(self, _context: Context) -> str:
        return "playworn presets"

    def keep(self, _context: Context) -> str:
        count, left = usecases.export_presets(self.path)
        asides = [f"left out, no part of a preset: {', '.join(left)}"] if left else []
        return "; ".join([f"{count} presets are in {self.path}", *asides])


class ImportPreset(Opens, Keeping, bpy.types.Operator):
    """Add a preset file or a bundle to your own presets and choose it, with its textures, or add all of an export"""

    bl_idname = "playworn.import_preset"
    bl_label = "Import"

    filter_glob: bpy.props.StringProperty(default="*.json;*.zip", options={"HIDDEN"})

    def keep(self, context: Context) -> str:
        found, settings = usecases.import_presets(self.path), context.scene.playworn
        if found.preset:
            choices.forget()
            with follow.quietly():
                settings.preset = found.preset.name
                settings.textures = str(found.textures or settings.textures)
            follow.textures(settings, context)
            return "; ".join([f"{found.preset.name} is among your presets", *found.preset.warnings])
        for each in found.several:
            if not each.is_well:
                self.report({"WARNING"}, f"{each.name}: {each.result}")
        counts = Counter(each.result if each.is_well else "not taken in" for each in found.several)
        return ", ".join(f"{count} {result}" for result, count in counts.items())


class BundlePreset(Writes, Keeping, bpy.types.Operator):
    """Write the chosen preset, the textures that are chosen with it and its picture to one file, to send away"""

    bl_idname = "playworn.bundle_preset"
    bl_label = "Save Bundle"
    suffix = ".zip"

    filter_glob: bpy.props.StringProperty(default="*.zip", options={"HIDDEN"})
    licence: bpy.props.StringProperty(
        name="Licence", description="What may be done with the preset and its textures", options={"SKIP_SAVE"}
    )

    def suggested(self, context: Context) -> str:
        return context.scene.playworn.preset_name

    def keep(self, context: Context) -> str:
        settings = context.scene.playworn
        licence = {"licence": f"{self.licence}\n"} if self.licence else {}
        dials = gather.dials(settings)
        made = usecases.bundle_preset(settings.preset_name, self.path, dials.textures, chosen=dials.uses, **licence)
        return f"{self.path} holds {', '.join(made.files())}"


class TakeLook(Opens, Keeping, bpy.types.Operator):
    """Take over the look of a build in another .blend file: its preset, even where no file of it is left, and dials"""

    bl_idname = "playworn.take_look"
    bl_label = "Take Look from File"

    filter_glob: bpy.props.StringProperty(default="*.blend", options={"HIDDEN"})
    build: bpy.props.StringProperty(
        name="Build", description="Which one, where the file holds several", options={"SKIP_SAVE"}
    )

    def keep(self, context: Context) -> str:
        taken = usecases.take_look(self.path, self.build)
        choices.forget()
        settings, look = context.scene.playworn, taken.look
        with follow.quietly():
            settings.looseness, settings.wear, settings.quality = look.looseness, look.wear, look.quality
            settings.layer_dials = gather.text(look.layers)
        settings.preset = taken.name
        where = "is among your presets now" if taken.file else "was in the library already"
        return f'The look of "{taken.build}" is chosen: {taken.name} {where}'


CLASSES = (ExportAll, ImportPreset, BundlePreset, TakeLook)
