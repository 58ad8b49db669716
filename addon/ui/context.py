"""What Blender hands to panels and operators, with what Playworn has registered there.

None of it is more than a type: Blender knows of registered properties at run time alone, and of a mixin that it will
stand beside a panel or an operator.
"""

from typing import TYPE_CHECKING, Literal, cast

import bpy

from .. import blender
from ..blender import MaybeNone

Ending = set[Literal["RUNNING_MODAL", "CANCELLED", "FINISHED", "PASS_THROUGH", "INTERFACE"]]  # of an operator's step

if TYPE_CHECKING:

    class ShotSettings(bpy.types.PropertyGroup):
        """The list of shots in the panel."""

        rows: bpy.types.bpy_prop_collection_idprop
        number: int
        note: str
        grows: bool
        wear_last: float
        target_px: float

    class Settings(bpy.types.PropertyGroup):
        """What the artist sets in the panel, as those that act on it see it."""

        build: bpy.types.Collection | MaybeNone  # what needs one polls for it
        preset_name: str
        preset: str
        changes: str
        limits: bpy.types.PropertyGroup
        layer_dials: str
        layers: bpy.types.PropertyGroup
        story: bpy.types.PropertyGroup
        looseness: float
        seed: int
        wear: float
        quality: str
        rounding: str
        textures: str
        texture_uses: str
        brick_amount: float
        material_amount: float
        has_window: bool
        window_deg: float
        has_wall: bool
        wall_deg: float
        place_amount: float
        place_smooth: bool
        shots: ShotSettings

    class Session(bpy.types.PropertyGroup):
        """What belongs to the session."""

        words: str
        overlay: str

    class Scene(bpy.types.Scene):
        playworn: Settings

    class WindowManager(bpy.types.WindowManager):
        playworn: Session

    class Context(blender.Context):
        scene: Scene
        window_manager: WindowManager

    class Operator(bpy.types.Operator):
        layout: bpy.types.UILayout

    class Panel(bpy.types.Panel):
        layout: bpy.types.UILayout

else:
    ShotSettings = Settings = bpy.types.PropertyGroup
    Context = bpy.types.Context

    class Operator:
        """What a mixin of operators can ask of the one that it becomes a part of."""

    class Panel:
        """The same for panels."""


def settings_of(scene: bpy.types.Scene) -> Settings:
    """What the artist has set in the panel of a scene."""
    return cast("Scene", scene).playworn


def scene_of(group: bpy.types.PropertyGroup) -> bpy.types.Scene:
    """The scene that a group of the panel's settings belongs to."""
    return cast(bpy.types.Scene, group.id_data)
