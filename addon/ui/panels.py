"""The tab in the 3D view's sidebar: it draws what is kept and computes nothing."""

from dataclasses import fields
from typing import ClassVar

import bpy

from .. import usecases
from ..core.presets.preset import Fit, Preset
from ..core.wear.layers import LAYERS, SIZES, strength
from ..core.wear.quality import GEOMETRY, QUALITIES
from ..core.wear.story import Story
from . import gather, told
from .build import sight
from .context import Context, Panel, Settings
from .paragraphs import paragraph
from .presets import library
from .wear import amounts, layers, places, spread, story, textures, window

LONGEST_LIST = 6  # names shown for each reason before the rest is counted


class Tab(Panel):
    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Playworn"


class BuildPanel(Tab, bpy.types.Panel):
    bl_idname = "PLAYWORN_PT_build"
    bl_label = "Build"

    def draw(self, context: Context) -> None:
        settings, layout = context.scene.playworn, self.layout
        row = layout.row(align=True)
        row.prop(settings, "build", text="", placeholder="Collection with the bricks")
        if settings.build is None:
            layout.operator("playworn.bring_in", icon="IMPORT")
            paragraph(layout, context, "Bring in a CAD export, or choose the collection that holds the bricks")
            if usecases.is_anything_worn():
                layout.operator("playworn.clear_everything", icon="TRASH")
            return
        row.operator("playworn.bring_in", text="", icon="IMPORT")
        row.operator("playworn.update", text="", icon="FILE_REFRESH")
        known = told.of(settings.build)
        if known.inspection:
            paragraph(layout, context, known.inspection.sentence)
            row = layout.row(align=True)
            coloured = context.screen is not None and sight.are_coloured(context.screen)
            row.operator("playworn.brick_colours", icon="COLOR", depress=coloured)
            row.operator("playworn.save_picture", text="", icon="IMAGE_DATA")
            layout.prop(context.window_manager.playworn, "overlay")
            for warning in known.inspection.warnings:
                paragraph(layout, context, warning, "INFO")
        row = layout.row(align=True)
        row.prop(settings, "preset", text="")
        row.operator("playworn.save_preset", text="", icon="FILE_TICK")
        row.popover(library.LibraryPanel.bl_idname, text="", icon="ASSET_MANAGER")
        row = layout.row(align=True)
        row.scale_y = 1.3
        row.operator("playworn.apply")
        row.menu(spread.ApplyMenu.bl_idname, text="", icon="DOWNARROW_HLT")
        row.operator("playworn.clear")
        row.operator("playworn.clear_everything", text="", icon="TRASH")
        problem = told.problem(settings.build, gather.choice(settings))
        if problem:
            alert = layout.column()
            alert.alert = True
            paragraph(alert, context, problem[:1].upper() + problem[1:], "ERROR")


class BuildPart(Tab):
    bl_parent_id = BuildPanel.bl_idname

    @classmethod
    def poll(cls, context: Context) -> bool:
        return context.scene.playworn.build is not None

    def settings(self, context: Context) -> Settings:
        self.layout.use_property_split = True
        self.layout.use_property_decorate = False
        return context.scene.playworn


class FitPanel(BuildPart, bpy.types.Panel):
    bl_idname = "PLAYWORN_PT_fit"
    bl_label = "Fit"

    def draw(self, context: Context) -> None:
        settings, layout = self.settings(context), self.layout
        layout.prop(settings, "looseness")
        preset, done = gather.known(settings), told.outcome(settings.build)
        if done.effect:
            paragraph(layout, context, done.effect)
        elif preset:
            paragraph(layout, context, reach(preset, settings.looseness))
        if done.dry:
            paragraph(layout, context, done.dry)
        if done.warning:
            paragraph(layout, context, done.warning, "ERROR")
        layout.prop(settings, "seed")
        buttons = layout.column(align=True)
        for pair in (("pin", "unpin"), ("roll_again", "undo_rolls")):
            row = buttons.row(align=True)
            for name in pair:
                row.operator(f"playworn.{name}")


class LimitsPanel(BuildPart, bpy.types.Panel):
    bl_idname = "PLAYWORN_PT_limits"
    bl_label = "Limits"
    bl_parent_id = FitPanel.bl_idname
    bl_options: ClassVar = {"DEFAULT_CLOSED"}

    def draw(self, context: Context) -> None:
        settings, layout = self.settings(context), self.layout
        column = layout.column(align=True)
        column.enabled = gather.known(settings) is not None
        for field in fields(Fit):
            column.prop(settings.limits, field.name)
        layout.operator("playworn.reset_limits")


class WearPanel(BuildPart, bpy.types.Panel):
    bl_idname = "PLAYWORN_PT_wear"
    bl_label = "Wear"

    def draw(self, context: Context) -> None:
        settings, layout = self.settings(context), self.layout
        layout.prop(settings, "wear")
        layout.prop(settings, "textures", placeholder="Built-in")
        textures.draw(layout, context)
        layout.prop(settings, "quality")
        layout.prop(settings, "rounding")
        shaded = settings.rounding != GEOMETRY and QUALITIES[settings.quality].edge_samples
        if context.scene.render.engine != "CYCLES" and shaded:
            paragraph(
                layout, context, "Rounded and rubbed edges show in Cycles only: round the geometry for EEVEE", "INFO"
            )


class LayersPanel(BuildPart, bpy.types.Panel):
    bl_idname = "PLAYWORN_PT_layers"
    bl_label = "Layers"
    bl_parent_id = WearPanel.bl_idname
    bl_options: ClassVar = {"DEFAULT_CLOSED"}

    def draw(self, context: Context) -> None:
        settings, layout = self.settings(context), self.layout
        preset = gather.known(settings)
        for layer in LAYERS:
            column = layout.column(align=True)
            column.enabled = preset is not None and strength(preset.wear, layer) > 0.0
            column.prop(settings.layers, layer)
            if layer in SIZES:
                column.prop(settings.layers, layers.size_of(layer))
            if layer == "fade":
                window.draw(column, settings, window.WindowTowards)
        for words in layers.out_of_reach(preset, settings.quality) if preset else ():
            paragraph(layout, context, words, "INFO")
        layout.operator(layers.ResetLayers.bl_idname)


class StoryPanel(BuildPart, bpy.types.Panel):
    bl_idname = "PLAYWORN_PT_story"
    bl_label = "Story"
    bl_parent_id = WearPanel.bl_idname
    bl_options: ClassVar = {"DEFAULT_CLOSED"}

    def draw(self, context: Context) -> None:
        settings, layout = self.settings(context), self.layout
        column = layout.column(align=True)
        column.enabled = gather.known(settings) is not None
        for field in fields(Story):
            column.prop(settings.story, field.name)
        layout.operator(story.ResetStory.bl_idname)
        window.draw(layout.column(align=True), settings, window.WallTowards)


class ByHandPanel(BuildPart, bpy.types.Panel):
    bl_idname = "PLAYWORN_PT_by_hand"
    bl_label = "By Hand"
    bl_parent_id = WearPanel.bl_idname
    bl_options: ClassVar = {"DEFAULT_CLOSED"}

    def draw(self, context: Context) -> None:
        settings, layout = self.settings(context), self.layout
        if words := told.of(settings.build).by_hand:
            paragraph(layout, context, words[:1].upper() + words[1:])
        bricks = layout.column(align=True)
        bricks.enabled = bool(context.selected_objects)
        bricks.prop(settings, "brick_amount")
        row = bricks.row(align=True)
        for name, amount in (("New", amounts.NEW), ("Half", amounts.HALF), ("Usual", amounts.USUAL)):
            row.operator(amounts.GiveAmount.bl_idname, text=name).amount = amount
        material = amounts.active_material()
        if material:
            layout.prop(settings, "material_amount", text=material.name, translate=False)
        else:
            paragraph(layout, context, "Select a worn brick to set the amount of its material")
        row = layout.row(align=True)
        for name, amount in (("Worn Here", places.WORN), ("Clean Here", places.CLEAN)):
            row.operator(places.AddPlace.bl_idname, text=name).amount = amount
        if place := places.active():
            column = layout.column(align=True)
            column.prop(settings, "place_amount", text=place.name, translate=False)
            column.prop(settings, "place_smooth")
            column.operator(places.TakePlace.bl_idname)


class LeftAlonePanel(BuildPart, bpy.types.Panel):
    bl_idname = "PLAYWORN_PT_left_alone"
    bl_label = "Left Alone"
    bl_options: ClassVar = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context: Context) -> bool:
        return super().poll(context) and bool(told.left_alone(context.scene.playworn.build))

    def draw_header_preset(self, context: Context) -> None:
        left_alone = told.left_alone(context.scene.playworn.build)
        self.layout.label(text=str(sum(len(names) for names in left_alone.values())))

    def draw(self, context: Context) -> None:
        listed(self.layout, context, told.left_alone(context.scene.playworn.build))
        row = self.layout.row(align=True)
        row.operator("playworn.count_in")
        row.operator("playworn.leave_out")


def listed(layout: bpy.types.UILayout, context: Context, by_reason: dict[str, list[str]]) -> None:
    """Names by reason, the first few of each."""
    for reason, names in by_reason.items():
        column = layout.column(align=True)
        paragraph(column, context, f"{len(names)} × {reason}", "INFO")
        for name in names[:LONGEST_LIST]:
            column.label(text=name, icon="BLANK1")
        if len(names) > LONGEST_LIST:
            column.label(text=f"and {len(names) - LONGEST_LIST} more", icon="BLANK1")


def reach(preset: Preset, looseness: float) -> str:
    """How far the dialled fit lets a brick go."""
    fit = preset.fit
    parts = (
        f"{fit.shift_mm * looseness:.3f} mm sideways",
        f"{fit.lift_mm * looseness:.3f} mm up",
        f"{fit.twist_deg * looseness:.1f}° turned",
        f"{fit.tilt_deg * looseness:.2f}° tipped",
    )
    return f"At most {', '.join(parts)}"
