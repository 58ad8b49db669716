"""Saving presets and changing those of the user's own. Undo brings the choice and the build back, never a file."""

from collections.abc import Callable
from dataclasses import replace
from typing import ClassVar

import bpy

from ... import usecases
from ...core.presets.catalogue import OWN
from ...core.presets.preset import dialled
from ...core.presets.rules import as_name
from .. import gather
from ..action import Action, Report
from ..context import Context, Ending
from ..paragraphs import paragraph
from ..wear import follow
from . import choices, darkroom

_WIDE = 320  # of a dialogue, in pixels at scale 1


def _name(description: str, default: str = ""):
    return bpy.props.StringProperty(name="Name", description=description, default=default, options={"SKIP_SAVE"})


def _note():
    return bpy.props.StringProperty(name="Note", description="What it looks like, in a sentence", options={"SKIP_SAVE"})


def _tags():
    return bpy.props.StringProperty(
        name="Tags", description="Words to find it by, with spaces between them", options={"SKIP_SAVE"}
    )


def _words(tags: str) -> tuple[str, ...]:
    words = tags.replace(",", " ").split()
    return tuple(dict.fromkeys(as_name(word) or word for word in words))


class Named:
    """A dialogue that asks for a preset's name, typed as anybody likes."""

    name: str
    layout: bpy.types.UILayout

    @property
    def named(self) -> str:
        """The name that a preset is kept under; as it is typed where nothing is left of it, which is refused then."""
        return as_name(self.name) or self.name

    def ask(self, context: Context) -> None:
        self.layout.use_property_split = True
        for name in ("name", "note", "tags"):
            self.layout.prop(self, name)
        if self.named != self.name:
            paragraph(self.layout, context, f"Its file is called {self.named}.json", "INFO", wide=_WIDE)


def chosen_own(context: Context) -> str:
    """The name of the chosen preset where it is one of the user's own, "" else."""
    name = context.scene.playworn.preset_name
    return name if any(each.name == name and each.origin == OWN for each in choices.listed()) else ""


class Keeping(Action):
    """An action on the files of the library; the list is read anew after it, and pictures are made where any lacks."""

    keep: Callable[[Context], str]  # what was done, in words

    def act(self, context: Context) -> Report:
        try:
            return "INFO", self.keep(context)
        finally:
            choices.forget()
            darkroom.develop_soon()


class OnOwn(Keeping):
    """An action on the chosen preset, which has to be the user's own."""

    @classmethod
    def lacking(cls, context: Context) -> str:
        return super().lacking(context) or (
            "" if chosen_own(context) else "Choose a preset of your own; shipped ones and the studio's stay as they are"
        )


class SavePreset(Named, Keeping, bpy.types.Operator):
    """Keep the preset with its limits, layers, looseness and wear as they are set now, under a name of your own"""

    bl_idname = "playworn.save_preset"
    bl_label = "Save Preset"

    name: _name("What to call it", "my-preset")
    note: _note()
    tags: _tags()
    replace: bpy.props.BoolProperty(
        name="Replace It",
        description="Put it in the place of the preset of yours that has this name; that one can be brought back",
        options={"SKIP_SAVE"},
    )

    def invoke(self, context: Context, _event: bpy.types.Event) -> Ending:
        preset = gather.known(context.scene.playworn)
        if preset:
            self.note, self.tags = preset.note, " ".join(preset.tags)
        self.name = chosen_own(context) or self.name
        return context.window_manager.invoke_props_dialog(self, width=_WIDE, title="Save Preset", confirm_text="Save")

    def draw(self, context: Context) -> None:
        self.ask(context)
        if any(each.name == self.named and each.origin == OWN for each in choices.listed()):
            paragraph(self.layout, context, f'You have a preset called "{self.named}"', "INFO", wide=_WIDE)
            self.layout.prop(self, "replace")

    def keep(self, context: Context) -> str:
        settings = context.scene.playworn
        preset = dialled(gather.preset(settings), settings.looseness, settings.wear, gather.layers(settings))
        left = gather.over_full(settings)
        is_said = self.properties.is_property_set  # by a script, or the dialogue
        note = self.note if is_said("note") else preset.note
        preset = replace(preset, note=note, tags=_words(self.tags) if is_said("tags") else preset.tags)
        path = usecases.save_preset(preset, self.named, self.replace)
        choices.forget()
        with follow.quietly():
            settings.looseness, settings.wear, settings.layer_dials = 1.0, 1.0, left
        settings.preset = self.named
        return f"Saved {path}"


class EditPreset(Named, OnOwn, bpy.types.Operator):
    """Change the name, the note and the tags of the chosen preset; builds that have it keep it under its old name"""

    bl_idname = "playworn.edit_preset"
    bl_label = "Name, Note and Tags"

    name: _name("What to call it")
    note: _note()
    tags: _tags()

    def invoke(self, context: Context, _event: bpy.types.Event) -> Ending:
        self.name = chosen_own(context)
        if preset := choices.preset(self.name):
            self.note, self.tags = preset.note, " ".join(preset.tags)
        return context.window_manager.invoke_props_dialog(self, width=_WIDE, title=self.bl_label, confirm_text="Keep")

    def draw(self, context: Context) -> None:
        self.ask(context)

    def keep(self, context: Context) -> str:
        hidden = usecases.hidden_by(chosen_own(context))
        usecases.edit_preset(chosen_own(context), self.named, self.note, _words(self.tags))
        choices.forget()
        with follow.quietly():
            context.scene.playworn.preset = self.named
        return "; ".join(filter(None, (f"Kept name, note and tags of {self.named}", hidden)))


class DeletePreset(OnOwn, bpy.types.Operator):
    """Move the chosen preset to the trash; Bring Back fetches it from there"""

    bl_idname = "playworn.delete_preset"
    bl_label = "Delete"
    bl_options: ClassVar = {"REGISTER"}

    def keep(self, context: Context) -> str:
        name = chosen_own(context)
        usecases.delete_preset(name)
        gone = f"{name} is in the trash, Bring Back fetches it from there"
        return "; ".join(filter(None, (gone, usecases.hidden_by(name))))


def _in_trash(_operator: bpy.types.Operator, _context: bpy.types.Context | None) -> list[tuple[str, str, str]]:
    # Blender keeps no copy of the words of a dynamic list.
    global _offered
    _offered = [(name, choices.label(name), name) for name in usecases.presets_in_trash()]
    return _offered


_offered: list[tuple[str, str, str]] = []


class RestorePreset(Keeping, bpy.types.Operator):
    """Bring back a preset that was deleted, or the version before the last save; once more brings that one back"""

    bl_idname = "playworn.restore_preset"
    bl_label = "Bring Back"
    bl_property = "name"

    name: bpy.props.EnumProperty(
        name="Preset", description="Presets of which a deleted or an earlier version is kept", items=_in_trash
    )

    def invoke(self, context: Context, _event: bpy.types.Event) -> Ending:
        if not usecases.presets_in_trash():
            self.report({"WARNING"}, "No preset was deleted or replaced yet")
            return {"CANCELLED"}
        context.window_manager.invoke_search_popup(self)
        return {"RUNNING_MODAL"}

    def keep(self, context: Context) -> str:
        usecases.restore_preset(self.name)
        choices.forget()
        context.scene.playworn.preset = self.name
        return f"{self.name} is back as it was before"


CLASSES = (SavePreset, EditPreset, DeletePreset, RestorePreset)
