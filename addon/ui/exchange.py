"""Presets from and for elsewhere: bundles, exports of all of them, and the look of a build in another file."""

from collections import Counter
from pathlib import Path
from typing import ClassVar

import bpy

from .. import usecases
from ..core.catalogue import OWN
from . import choices, follow, gather
from .keeping import Keeping


class ExportAll(Keeping, bpy.types.Operator):
    """Write all presets of your own, with their pictures and textures, to one zip file"""

    bl_idname = "playworn.export_presets"
    bl_label = "Export All"
    bl_options: ClassVar = {"REGISTER"}

    filepath: bpy.props.StringProperty(subtype="FILE_PATH", options={"SKIP_SAVE"})
    filter_glob: bpy.props.StringProperty(default="*.zip", options={"HIDDEN"})
    check_existing: bpy.props.BoolProperty(default=True, options={"HIDDEN"})

    @classmethod
    def poll(cls, _context: bpy.types.Context) -> bool:
        if not any(each.origin == OWN for each in choices.listed()):
            cls.poll_message_set("You have no preset of your own yet")
            return False
        return True

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        self.filepath = "playworn presets.zip"
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def keep(self, _context: bpy.types.Context) -> str:
        path = Path(bpy.path.abspath(bpy.path.ensure_ext(self.filepath, ".zip")))
        count, left = usecases.export_presets(path)
        asides = [f"left out, no part of a preset: {', '.join(left)}"] if left else []
        return "; ".join([f"{count} presets are in {path}", *asides])


class ImportPreset(Keeping, bpy.types.Operator):
    """Add a preset file or a bundle to your own presets and choose it, with its textures, or add all of an export"""

    bl_idname = "playworn.import_preset"
    bl_label = "Import"

    filepath: bpy.props.StringProperty(subtype="FILE_PATH", options={"SKIP_SAVE"})
    filter_glob: bpy.props.StringProperty(default="*.json;*.zip", options={"HIDDEN"})

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def keep(self, context: bpy.types.Context) -> str:
        path = Path(bpy.path.abspath(self.filepath))
        if usecases.holds_all(path):
            return self._all(path)
        preset, _, textures = usecases.import_preset(path)
        choices.forget()
        settings = context.scene.playworn
        settings.preset = preset.name
        if textures:
            settings.textures = str(textures)
        return "; ".join([f"{preset.name} is among your presets", *preset.warnings])

    def _all(self, path: Path) -> str:
        told = usecases.import_all(path)
        for each in told:
            if not each.is_well:
                self.report({"WARNING"}, f"{each.name}: {each.result}")
        counts = Counter(each.result if each.is_well else "not taken in" for each in told)
        return ", ".join(f"{count} {result}" for result, count in counts.items())


class BundlePreset(Keeping, bpy.types.Operator):
    """Write the chosen preset, the textures that are chosen with it and its picture to one file, to send away"""

    bl_idname = "playworn.bundle_preset"
    bl_label = "Save Bundle"
    bl_options: ClassVar = {"REGISTER"}

    filepath: bpy.props.StringProperty(subtype="FILE_PATH", options={"SKIP_SAVE"})
    filter_glob: bpy.props.StringProperty(default="*.zip", options={"HIDDEN"})
    check_existing: bpy.props.BoolProperty(default=True, options={"HIDDEN"})
    licence: bpy.props.StringProperty(
        name="Licence", description="What may be done with the preset and its textures", options={"SKIP_SAVE"}
    )

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        self.filepath = f"{context.scene.playworn.preset_name}.zip"
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def keep(self, context: bpy.types.Context) -> str:
        settings = context.scene.playworn
        path = Path(bpy.path.abspath(bpy.path.ensure_ext(self.filepath, ".zip")))
        licence = {"licence": f"{self.licence}\n"} if self.licence else {}
        made = usecases.bundle_preset(settings.preset_name, path, gather.dials(settings).textures, **licence)
        return f"{path} holds {', '.join(made.files())}"


class TakeLook(Keeping, bpy.types.Operator):
    """Take over the look of a build in another .blend file: its preset, even where no file of it is left, and dials"""

    bl_idname = "playworn.take_look"
    bl_label = "Take Look from File"

    filepath: bpy.props.StringProperty(subtype="FILE_PATH", options={"SKIP_SAVE"})
    filter_glob: bpy.props.StringProperty(default="*.blend", options={"HIDDEN"})
    build: bpy.props.StringProperty(
        name="Build", description="Which one, where the file holds several", options={"SKIP_SAVE"}
    )

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def keep(self, context: bpy.types.Context) -> str:
        taken = usecases.take_look(Path(bpy.path.abspath(self.filepath)), self.build)
        choices.forget()
        settings, look = context.scene.playworn, taken.look
        with follow.quietly():
            settings.looseness, settings.wear, settings.quality = look.looseness, look.wear, look.quality
        settings.preset = taken.name
        where = "is among your presets now" if taken.file else "was in the library already"
        return f'The look of "{taken.build}" is chosen: {taken.name} {where}'


CLASSES = (ExportAll, ImportPreset, BundlePreset, TakeLook)
