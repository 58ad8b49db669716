"""The user's textures as the panel lists them: a row a picture, its measures on a click."""

from contextlib import suppress
from pathlib import Path
from typing import ClassVar

import bpy

from ... import usecases
from ...core.errors import PlaywornError, TextureProblem
from ...core.wear.layers import PICTURES
from ...core.wear.purpose import OTHER
from .. import disk, gather, told
from ..action import Action, Report
from ..context import Context, Ending, Operator
from ..paragraphs import paragraph
from ..steps import Stepwise
from . import follow

_WIDE = 420  # of the pop-up, in pixels at scale 1
_BY_NAME = "name"


def draw(layout: bpy.types.UILayout, context: Context) -> None:
    """The list under the folder, and what has gone missing since it was put on."""
    settings = context.scene.playworn
    for name in disk.seen().missing:
        alert = layout.column()
        alert.alert = True
        paragraph(alert, context, f"{name} is missing: its layer is clean until it is back", "ERROR")
    if not settings.textures:
        return
    if told.textures.folder != settings.textures:
        layout.operator("playworn.measure_textures", icon="VIEWZOOM")
        return
    if told.textures.problem != told.problem(settings.build, gather.choice(settings)):
        paragraph(layout, context, told.textures.problem, "ERROR")
    rows = layout.column(align=True)
    for each in told.textures.found:
        row = rows.split(factor=0.6, align=True)
        left = row.row()
        left.alignment = "LEFT"
        icon = "ERROR" if each.warnings else "CHECKMARK"
        left.operator("playworn.texture_details", text=each.file, icon=icon, emboss=False).file = each.file
        row.operator_menu_enum(UseTexture.bl_idname, "layer", text=each.kind).file = each.file


class MeasureTextures(Stepwise, Action, bpy.types.Operator):
    """Look at every picture of the textures folder"""

    bl_idname = "playworn.measure_textures"
    bl_label = "Measure Textures"
    bl_options: ClassVar = {"REGISTER"}
    given_up = "Given up: the textures are not measured"

    @classmethod
    def lacking(cls, context: Context) -> str:
        return super().lacking(context) or ("" if context.scene.playworn.textures else "Choose a textures folder first")

    def steps(self, context: Context) -> usecases.Steps[None]:
        settings = context.scene.playworn
        with suppress(PlaywornError):  # told when it ends
            if folder := gather.dials(settings).textures:
                yield from usecases.surveying_textures(folder, gather.preset(settings), gather.uses(settings))

    def ended(self, context: Context, _: None) -> Report:
        follow.measure(context.scene.playworn)
        if told.textures.problem:
            return "WARNING", told.textures.problem
        amiss = sum(bool(each.warnings) for each in told.textures.found)
        folder = Path(context.scene.playworn.textures).name
        return "INFO", f"{len(told.textures.found)} pictures in {folder}, something to look at in {amiss}"


class UseTexture(Action, bpy.types.Operator):
    """Choose what the picture is for"""

    bl_idname = "playworn.use_texture"
    bl_label = "Use Texture"

    file: bpy.props.StringProperty(options={"SKIP_SAVE", "HIDDEN"})
    layer: bpy.props.EnumProperty(
        name="Use",
        items=[
            (_BY_NAME, "By Its Name", "What the words of its file name tell"),
            *((layer, layer.title(), f"Use it for the layer of {layer}, whatever its name says") for layer in PICTURES),
            (OTHER, "Leave Out", "Use it for no layer"),
        ],
        options={"SKIP_SAVE"},
    )

    def act(self, context: Context) -> Report:
        settings = context.scene.playworn
        if self.file not in {each.file for each in told.textures.found}:
            raise TextureProblem(f'the textures folder has no picture "{self.file}": choose one that is listed')
        gather.use(settings, self.file, "" if self.layer == _BY_NAME else self.layer)
        follow.use_textures(settings, context)
        use = {_BY_NAME: "as its name tells", OTHER: "for no layer"}.get(self.layer, f"for {self.layer}")
        return "INFO", f"{self.file} is used {use}"


class TextureDetails(Operator, bpy.types.Operator):
    """What the picture measures and what is wrong with it"""

    bl_idname = "playworn.texture_details"
    bl_label = "Texture"
    bl_options: ClassVar = {"INTERNAL"}

    file: bpy.props.StringProperty(options={"SKIP_SAVE"})

    @classmethod
    def description(cls, _context: Context, properties: "TextureDetails") -> str:
        return "\n".join(_lines(properties.file)).rstrip(".")

    def invoke(self, context: Context, _event: bpy.types.Event) -> Ending:
        return context.window_manager.invoke_popup(self, width=_WIDE)

    def draw(self, context: Context) -> None:
        self.layout.label(text=self.file)
        for line in _lines(self.file):
            paragraph(self.layout, context, line, wide=_WIDE)

    def execute(self, _context: Context) -> Ending:
        self.report({"INFO"}, " ".join(_lines(self.file)))
        return {"FINISHED"}


def _lines(file: str) -> list[str]:
    return [line for each in told.textures.found if each.file == file for line in (each.sentence, *each.warnings)]
