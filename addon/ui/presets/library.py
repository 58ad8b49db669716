"""The library of presets: a pop-over beside the choice, with search, tags, pictures and what can be done to them."""

from itertools import groupby
from typing import ClassVar

import bpy

from ...core.errors import PresetProblem
from ...core.presets import catalogue
from ...core.presets.catalogue import OWN, SHIPPED, STUDIO
from ..action import Action, Report
from ..context import Context, Panel
from ..paragraphs import paragraph
from . import choices, darkroom, thumbnails

_WIDE = 17  # of the pop-over, in units of the interface
_UNIT_PX = 20
_COLUMNS, _MOST = 3, 15  # presets shown side by side, and before the rest is counted
_PICTURE = 3.6  # units wide
_ORIGINS = {SHIPPED: "Shipped with Playworn", STUDIO: "Studio", OWN: "Your Own"}


class Search:
    """What the library shows; a mixin of what belongs to the session."""

    words: bpy.props.StringProperty(
        name="Search",
        description="Show presets that hold all these words in their name, note or tags",
        options={"TEXTEDIT_UPDATE", "SKIP_SAVE"},
    )


class LibraryPanel(Panel, bpy.types.Panel):
    bl_idname = "PLAYWORN_PT_library"
    bl_label = "Presets"
    bl_space_type = "VIEW_3D"
    bl_region_type = "WINDOW"  # shown as a pop-over only
    bl_options: ClassVar = {"INSTANCED"}
    bl_ui_units_x = _WIDE

    def draw(self, context: Context) -> None:
        layout, search = self.layout, context.window_manager.playworn
        row = layout.row(align=True)
        row.prop(search, "words", text="", icon="VIEWZOOM")
        row.menu(LibraryMenu.bl_idname, text="", icon="DOWNARROW_HLT")
        shown = catalogue.matching(choices.listed(), search.words)
        chosen = context.scene.playworn.preset_name
        pictured = zip(shown[:_MOST], thumbnails.icons(shown[:_MOST]), strict=True)
        for origin, group in groupby(pictured, key=lambda each: each[0].origin):
            layout.label(text=_ORIGINS[origin])
            grid = layout.grid_flow(row_major=True, columns=_COLUMNS, even_columns=True, align=False)
            shown_of_it = list(group)
            for each, icon in shown_of_it:
                _cell(layout if each.problem else grid.column(align=True), context, each, icon, each.name == chosen)
            for _ in range(_COLUMNS - len(shown_of_it)):
                grid.label(text="")  # keeps one as wide as three
        if len(shown) > _MOST:
            layout.label(text=f"and {len(shown) - _MOST} more, search for them", icon="BLANK1")
        if not shown:
            layout.label(text="No preset has all of this", icon="INFO")
        darkroom.develop_soon()
        if darkroom.problem:
            paragraph(layout, context, darkroom.problem, "ERROR", wide=_WIDE * _UNIT_PX)
        elif name := darkroom.under_way():
            layout.label(text=f"Rendering the picture of {choices.label(name)}", icon="RENDER_STILL")
        _farewell(layout, context)


def _cell(layout: bpy.types.UILayout, context, each: catalogue.Listed, icon: int, is_chosen: bool) -> None:
    if each.problem:
        column = layout.column()
        column.alert = True
        paragraph(column, context, f"{choices.label(each.name)}: {each.problem}", "ERROR", wide=_WIDE * _UNIT_PX)
        return
    if icon:
        layout.template_icon(icon_value=icon, scale=_PICTURE)
    name = choices.label(each.name)
    layout.operator("playworn.choose_preset", text=name, depress=is_chosen).name = each.name


def _farewell(layout: bpy.types.UILayout, context: Context) -> None:
    """What uninstalling does to what is the user's own, and the one click against it."""
    if any(each.origin == OWN for each in choices.listed()):
        layout.separator()
        wide = _WIDE * _UNIT_PX
        paragraph(layout, context, "Uninstalling Playworn deletes your own presets, Export All keeps them", wide=wide)
    row = layout.row(align=True)
    row.operator("playworn.import_preset", icon="IMPORT")
    row.operator("playworn.export_presets", icon="EXPORT")
    layout.operator("playworn.take_look", icon="FILE_BLEND")


class LibraryMenu(bpy.types.Menu):
    bl_idname = "PLAYWORN_MT_library"
    bl_label = "Chosen Preset"

    def draw(self, _context: Context) -> None:
        layout = self.layout
        layout.operator_context = "INVOKE_DEFAULT"
        layout.operator("playworn.edit_preset")
        layout.operator("playworn.bundle_preset")
        layout.separator()
        layout.operator("playworn.delete_preset", icon="TRASH")
        layout.operator("playworn.restore_preset", icon="LOOP_BACK")


class ChoosePreset(Action, bpy.types.Operator):
    """Choose the preset"""

    bl_idname = "playworn.choose_preset"
    bl_label = "Choose Preset"
    bl_options: ClassVar = {"UNDO", "INTERNAL"}

    name: bpy.props.StringProperty(options={"SKIP_SAVE"})

    @classmethod
    def description(cls, _context: Context, properties: "ChoosePreset") -> str:
        told = next((each for each in choices.listed() if each.name == properties.name), None)
        return (told.problem or told.note).rstrip(".") if told else "Choose the preset"

    def act(self, context: Context) -> Report:
        if choices.preset(self.name) is None:
            raise PresetProblem(f'there is no preset called "{self.name}" that can be used: choose another')
        context.scene.playworn.preset = self.name
        return "INFO", f"{choices.label(self.name)} is chosen"


CLASSES = (ChoosePreset, LibraryPanel, LibraryMenu)
