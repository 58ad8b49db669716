"""The shots in the panel: the list, what they read as, and the dials of the chosen one."""

from fnmatch import fnmatchcase
from typing import ClassVar

import bpy

from ... import usecases
from ...core.shots.reading import Reading
from ...core.shots.shot import NAMES, SETTINGS, Shot
from .. import told
from ..context import Context, Panel, ShotSettings, scene_of, settings_of
from ..panels import BuildPanel, BuildPart
from ..paragraphs import paragraph
from . import shots

_HEADS = ("In frame", "Median", "90 %", "Largest", "Scratch", "Rounding")
_NAME, _WORTH = 0.22, 0.74  # shares of the width
_FIELD = 30  # letters of a note that its field shows
_WIDE = 26  # of the table, in units of the interface
_ROOM = 380  # pixels at scale 1 that a list with cameras and dials takes


class ShotList(bpy.types.UIList):
    bl_idname = "PLAYWORN_UL_shots"

    def filter_items(self, _context: Context, data: ShotSettings, _rows: str) -> tuple[list[int], list[int]]:
        pattern = f"*{self.filter_name.lower()}*"
        names = [shot.name.lower() for shot in shots.listed(scene_of(data))][: len(data.rows)]
        return [self.bitflag_filter_item * fnmatchcase(name, pattern) for name in names], []

    def draw_item(
        self,
        context: Context,
        layout: bpy.types.UILayout,
        data: ShotSettings,
        _item: bpy.types.PropertyGroup,
        _icon: int,
        _active: bpy.types.PropertyGroup,
        _active_name: str,
        index: int = 0,
        _flag: int = 0,
    ) -> None:
        scene = scene_of(data)
        for shot in shots.listed(scene)[index : index + 1]:  # none where the rows have not followed a script yet
            cells = [shot.name, frames(shot)]
            if context.region and context.region.width > _ROOM * (context.preferences.system.ui_scale or 1.0):
                cells += [shot.camera, turned(shot), shot.note]
            parts, signs = layout.row(), layout.row(align=True)
            for left, cell in zip(range(len(cells), 0, -1), cells, strict=True):
                parts = parts.split(factor=min(1.1 / left, 1.0))
                parts.label(text=cell, icon="TEXT" if shot.note and left == len(cells) else "NONE")
            signs.alignment = "RIGHT"  # as wide as they are: a number that is cut would be another one
            _number(signs, median(context, shot), told.is_current(settings_of(scene).build, scene, shot))
            lock = signs.operator(
                "playworn.lock_shot", text="", icon="LOCKED" if shot.locked else "UNLOCKED", emboss=False
            )
            lock.name, lock.locked = shot.name, not shot.locked


class ShotsPanel(BuildPart, bpy.types.Panel):
    bl_idname = "PLAYWORN_PT_shots"
    bl_label = "Shots"
    bl_parent_id = BuildPanel.bl_idname
    bl_options: ClassVar = {"DEFAULT_CLOSED"}

    def draw(self, context: Context) -> None:
        settings, layout = self.settings(context), self.layout
        scene, group = context.scene, settings.shots
        shots.match_soon(scene)
        row = layout.row()
        row.template_list(ShotList.bl_idname, "", group, "rows", group, "number", rows=4)
        buttons = row.column(align=True)
        buttons.operator("playworn.add_shot", text="", icon="ADD")
        buttons.operator("playworn.remove_shot", text="", icon="REMOVE")
        buttons.separator()
        buttons.operator("playworn.find_shots", text="", icon="FILE_REFRESH")
        if problem := shots.problem(scene):
            alert = layout.column()
            alert.alert = True
            paragraph(alert, context, problem, "ERROR")
        elif not shots.listed(scene):
            paragraph(layout, context, "The scene has no shot: add a camera, or bind cameras to markers", "INFO")
        shot = shots.chosen(scene)
        if shot:
            paragraph(layout, context, ", ".join((shot.camera, *shots.turns(shot))))
            layout.prop(group, "note", text="", icon="TEXT", placeholder="Note")
            if len(shot.note) > _FIELD:
                paragraph(layout, context, shot.note)
        row = layout.row(align=True)
        row.operator("playworn.measure_shots", icon="VIEWZOOM")
        row.popover(ShotTablePanel.bl_idname, text="", icon="SPREADSHEET")
        _figures(layout, context, shot)
        row = layout.row(align=True)
        row.operator("playworn.put_on_timeline")
        row.operator("playworn.take_off_timeline")
        if words := usecases.blur_at_cuts(settings.build, scene):
            paragraph(layout, context, words, "ERROR")
        row = layout.row(align=True)
        row.operator("playworn.save_sheet", icon="RENDER_RESULT")
        if told.sheet:
            row.operator("wm.path_open", text="", icon="IMAGE_DATA").filepath = told.sheet


class ShotTablePanel(Panel, bpy.types.Panel):
    bl_idname = "PLAYWORN_PT_shot_table"
    bl_label = "What the Shots Read As"
    bl_space_type = "VIEW_3D"
    bl_region_type = "WINDOW"  # shown as a pop-over only
    bl_options: ClassVar = {"INSTANCED"}
    bl_ui_units_x = _WIDE

    @classmethod
    def poll(cls, context: Context) -> bool:
        return context.scene.playworn.build is not None

    def draw(self, context: Context) -> None:
        scene, build = context.scene, context.scene.playworn.build
        rows = self.layout.column(align=True)
        _line(rows, "Shot", _HEADS)
        for shot in shots.listed(scene):
            reading = worst(context, shot)
            cells = _cells(reading) if reading else ("-",) * len(_HEADS)
            _line(rows, shot.name, cells, told.is_current(build, scene, shot))


class ShotDialsPanel(BuildPart, bpy.types.Panel):
    bl_idname = "PLAYWORN_PT_shot_dials"
    bl_label = "Dials"
    bl_parent_id = ShotsPanel.bl_idname

    def draw_header_preset(self, context: Context) -> None:
        shot = shots.chosen(context.scene)
        self.layout.label(text=shot.name if shot else "")

    def draw(self, context: Context) -> None:
        settings, layout = self.settings(context), self.layout
        shot = shots.chosen(context.scene)
        worth = shots.inherited(context.scene, shot) if shot else {}
        if shot and shot.locked:
            paragraph(layout, context, f"{shot.name} is locked: unlock it in the list to turn its dials", "LOCKED")
        row = layout.row(align=True)
        for setting in SETTINGS:
            is_shown = shot is not None and shot.setting == setting
            row.operator("playworn.set_shot", text=setting, depress=is_shown).setting = setting
        column = layout.column(align=True)
        column.enabled = shot is not None and not shot.locked
        for name in NAMES:
            parts = column.split(factor=_WORTH, align=True)
            parts.prop(settings.shots, name)
            _number(parts, worth.get(name, ""))
            if name == "wear":
                _growth(column, settings.shots, worth.get(shots.GROWN, ""))
        row = layout.row(align=True)
        row.prop(settings.shots, "target_px", text="Target (px)")
        row.operator("playworn.dial_shot_to")
        layout.operator("playworn.copy_dials")


def _growth(column: bpy.types.UILayout, group: ShotSettings, worth: str) -> None:
    """Whether the wear grows within the shot, and to what."""
    parts = column.split(factor=_WORTH, align=True)
    row = parts.row(align=True, heading="Grows to")
    row.prop(group, "grows", text="")
    value = row.row(align=True)
    value.active = group.grows
    value.prop(group, shots.GROWN)
    _number(parts, worth if group.grows else "")


def frames(shot: Shot) -> str:
    """The shot's frames, as 1–49."""
    return f"{shot.first}–{shot.last}" if shot.first < shot.last else f"{shot.first}"


def turned(shot: Shot) -> str:
    """The dials that differ from the build, in a few letters."""
    told = shots.turns(shot)
    return "".join(told) if len(told) < 2 else f"{len(told)} dials"


def median(context: Context, shot: Shot) -> str:
    """What the shot reads as, in pixels; a dash before it is measured."""
    reading = worst(context, shot)
    return f"{reading.median_px:.2f}" if reading else "-"


def worst(context: Context, shot: Shot) -> Reading | None:
    """The frame of the last measuring where most is seen to move."""
    known = told.reads_as(context.scene.playworn.build, context.scene, shot)
    return max(known.frames, key=lambda frame: frame.median_px) if known else None


def _figures(layout: bpy.types.UILayout, context: Context, shot: Shot | None) -> None:
    """What the shot reads as, faint where it or the build has changed since, and what to look at."""
    reading = worst(context, shot) if shot else None
    if shot is None or reading is None:
        return
    scene, build = context.scene, context.scene.playworn.build
    is_current = told.is_current(build, scene, shot)
    figures = layout.grid_flow(row_major=True, columns=2, even_columns=True, align=True)
    figures.active, figures.scale_y = is_current, 0.8
    for head, cell in zip(_HEADS, _cells(reading), strict=True):
        figures.label(text=f"{head} {cell}")
    if not is_current:
        paragraph(layout, context, "Changed since, measure again", "INFO")
        return
    for words in _warnings(context, shot):
        paragraph(layout, context, words, "ERROR")


def _warnings(context: Context, shot: Shot) -> list[str]:
    known = told.reads_as(context.scene.playworn.build, context.scene, shot)
    return [words for frame in (known.frames if known else ()) for words in frame.warnings]


def _cells(reading: Reading) -> tuple[str, ...]:
    scratch = reading.marks_px.get("scratches")
    pixels = (reading.median_px, reading.p90_px, reading.largest_px, scratch, reading.rounding_px)
    return f"{reading.in_frame:.0%}", *("-" if each is None else f"{each:.2f} px" for each in pixels)


def _line(layout: bpy.types.UILayout, name: str, cells: tuple[str, ...], is_current: bool = True) -> None:
    parts = layout.split(factor=_NAME, align=True)
    parts.label(text=name)
    numbers = parts.grid_flow(row_major=True, columns=len(cells), even_columns=True, align=True)
    for cell in cells:
        _number(numbers, cell, is_current)


def _number(layout: bpy.types.UILayout, text: str, is_current: bool = True) -> None:
    row = layout.row()
    row.alignment, row.active = "RIGHT", is_current
    row.label(text=text)


CLASSES = (ShotList, ShotTablePanel, ShotsPanel, ShotDialsPanel)
