"""Saving presets and changing those of the user's own. Undo brings the choice and the build back, never a file."""

from typing import ClassVar

import bpy

from ... import usecases
from ...core.errors import PlaywornError
from ...core.presets.catalogue import OWN
from ...core.presets.preset import dialled
from .. import gather
from ..paragraphs import paragraph
from ..wear import follow
from ..wear.operators import Action, Report
from . import choices, darkroom

_WIDE = 320  # of a dialogue, in pixels at scale 1


def _name(description: str):
    return bpy.props.StringProperty(
        name="Name", description=f"{description}; small letters, digits and dashes", options={"SKIP_SAVE"}
    )


def _words(tags: str) -> tuple[str, ...]:
    return tuple(tags.replace(",", " ").split())


def chosen_own(context: bpy.types.Context) -> str:
    """The name of the chosen preset where it is one of the user's own, "" else."""
    name = context.scene.playworn.preset_name
    return name if any(each.name == name and each.origin == OWN for each in choices.listed()) else ""


class Keeping(Action):
    """An action on the files of the library; the list is read anew after it, and pictures are made where any lacks."""

    def act(self, context: bpy.types.Context) -> Report:
        try:
            return "INFO", self.keep(context)
        finally:
            choices.forget()
            darkroom.develop()


class OnOwn(Keeping):
    """An action on the chosen preset, which has to be the user's own."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not chosen_own(context):
            cls.poll_message_set("Choose a preset of your own; shipped ones and the studio's stay as they are")
            return False
        return True


class SavePreset(Keeping, bpy.types.Operator):
    """Keep the preset with its limits, looseness and wear as they are set now, under a name of your own"""

    bl_idname = "playworn.save_preset"
    bl_label = "Save Preset"

    name: bpy.props.StringProperty(
        name="Name",
        description="Small letters, digits and dashes",
        default="my-preset",
        options={"SKIP_SAVE"},
    )
    note: bpy.props.StringProperty(
        name="Note", description="What the preset looks like, in a sentence", options={"SKIP_SAVE"}
    )
    tags: bpy.props.StringProperty(
        name="Tags", description="Words to find it by, with spaces between them", options={"SKIP_SAVE"}
    )
    replace: bpy.props.BoolProperty(
        name="Replace It",
        description="Put it in the place of the preset of yours that has this name; that one can be brought back",
        options={"SKIP_SAVE"},
    )
    seen: ClassVar[dict[str, str]] = {}  # fingerprints of the user's own presets when the dialogue was opened

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        preset = gather.known(context.scene.playworn)
        if preset:
            self.note, self.tags = preset.note, " ".join(preset.tags)
        self.name = chosen_own(context) or self.name
        try:
            type(self).seen = _fingerprints()
        except PlaywornError as problem:
            self.report({"ERROR"}, str(problem))
            return {"CANCELLED"}
        return context.window_manager.invoke_props_dialog(self, width=_WIDE, title="Save Preset", confirm_text="Save")

    def cancel(self, _context: bpy.types.Context) -> None:
        type(self).seen = {}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        for name in ("name", "note", "tags"):
            layout.prop(self, name)
        if self.name in self.seen:
            paragraph(layout, context, f'You have a preset called "{self.name}"', "INFO", wide=_WIDE)
            layout.prop(self, "replace")

    def keep(self, context: bpy.types.Context) -> str:
        settings = context.scene.playworn
        preset = dialled(gather.preset(settings), settings.looseness, settings.wear)
        if self.properties.is_property_set("note") or self.note:
            preset = gather.described(preset, self.note, _words(self.tags))
        replacing = (self.seen or _fingerprints()).get(self.name, "") if self.replace else ""
        type(self).seen = {}
        path = usecases.save_preset(preset, self.name, replacing)
        choices.forget()
        with follow.quietly():
            settings.looseness, settings.wear = 1.0, 1.0
        settings.preset = self.name
        return f"Saved {path}"


def _fingerprints() -> dict[str, str]:
    return {each.name: usecases.fingerprint(each.name) for each in usecases.list_presets() if each.origin == OWN}


class RenamePreset(OnOwn, bpy.types.Operator):
    """Call the chosen preset otherwise; builds that have it keep it under its old name"""

    bl_idname = "playworn.rename_preset"
    bl_label = "Rename"

    name: _name("What to call it")

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        self.name = chosen_own(context)
        return context.window_manager.invoke_props_dialog(self, title="Rename Preset", confirm_text="Rename")

    def keep(self, context: bpy.types.Context) -> str:
        usecases.rename_preset(chosen_own(context), self.name)
        choices.forget()
        with follow.quietly():
            context.scene.playworn.preset = self.name
        return f"It is called {self.name} now"


class DuplicatePreset(Keeping, bpy.types.Operator):
    """Copy the chosen preset, as it is in the library, to a new one of your own"""

    bl_idname = "playworn.duplicate_preset"
    bl_label = "Duplicate"

    name: _name("What to call the copy")

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        self.name = usecases.free_name(context.scene.playworn.preset_name)
        return context.window_manager.invoke_props_dialog(self, title="Duplicate Preset", confirm_text="Duplicate")

    def keep(self, context: bpy.types.Context) -> str:
        usecases.duplicate_preset(context.scene.playworn.preset_name, self.name)
        choices.forget()
        with follow.quietly():
            context.scene.playworn.preset = self.name
        return f"Copied to {self.name}"


class DescribePreset(OnOwn, bpy.types.Operator):
    """Change the note and the tags of the chosen preset"""

    bl_idname = "playworn.describe_preset"
    bl_label = "Note and Tags"
    bl_options: ClassVar = {"REGISTER"}

    note: bpy.props.StringProperty(name="Note", description="What it looks like, in a sentence", options={"SKIP_SAVE"})
    tags: bpy.props.StringProperty(
        name="Tags", description="Words to find it by, with spaces between them", options={"SKIP_SAVE"}
    )

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        preset = choices.preset(chosen_own(context))
        if preset:
            self.note, self.tags = preset.note, " ".join(preset.tags)
        return context.window_manager.invoke_props_dialog(self, width=_WIDE, title="Note and Tags", confirm_text="Keep")

    def keep(self, context: bpy.types.Context) -> str:
        usecases.describe_preset(chosen_own(context), self.note, _words(self.tags))
        return "Kept the note and the tags"


class DeletePreset(OnOwn, bpy.types.Operator):
    """Move the chosen preset to the trash; Undo Delete brings it back"""

    bl_idname = "playworn.delete_preset"
    bl_label = "Delete"
    bl_options: ClassVar = {"REGISTER"}

    def keep(self, context: bpy.types.Context) -> str:
        name = chosen_own(context)
        usecases.delete_preset(name)
        deleted.append(name)
        return f"{name} is in the trash, Undo Delete brings it back"


deleted: list[str] = []  # in this session, the last one last


class RestorePreset(Keeping, bpy.types.Operator):
    """Bring the preset back that was deleted last"""

    bl_idname = "playworn.restore_preset"
    bl_label = "Undo Delete"

    @classmethod
    def poll(cls, _context: bpy.types.Context) -> bool:
        if not deleted:
            cls.poll_message_set("No preset was deleted in this session")
            return False
        return True

    def keep(self, context: bpy.types.Context) -> str:
        name = deleted[-1]
        usecases.restore_preset(name)
        deleted.pop()
        choices.forget()
        context.scene.playworn.preset = name
        return f"{name} is back"


class RevertPreset(OnOwn, bpy.types.Operator):
    """Bring back the version that the last save of the chosen preset replaced; once more brings the last one back"""

    bl_idname = "playworn.revert_preset"
    bl_label = "Bring Back Earlier Version"

    def keep(self, context: bpy.types.Context) -> str:
        name = chosen_own(context)
        usecases.revert_preset(name)
        choices.forget()
        context.scene.playworn.preset = name
        return f"The earlier version of {name} is back"


class RenderPicture(OnOwn, bpy.types.Operator):
    """Render the small picture of the chosen preset anew, by a Blender in the background"""

    bl_idname = "playworn.render_picture"
    bl_label = "Render Picture"
    bl_options: ClassVar = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not super().poll(context):
            return False
        if why_not := darkroom.why_not():
            cls.poll_message_set(why_not)
            return False
        return True

    def keep(self, context: bpy.types.Context) -> str:
        darkroom.develop(chosen_own(context))
        return "The picture is being made in the background"


CLASSES = (
    SavePreset,
    RenamePreset,
    DuplicatePreset,
    DescribePreset,
    DeletePreset,
    RestorePreset,
    RevertPreset,
    RenderPicture,
)
