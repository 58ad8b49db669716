"""What Blender gets to know of the interface, in one order, and takes back in the exact reverse."""

from contextlib import ExitStack

import bpy

from .. import usecases
from . import disk, panels, properties, session, steps, told
from .build import bringing, overlay, selection, updating
from .presets import darkroom, exchange, keeping, library, preferences, thumbnails
from .shots import copying, passes, sheet, shooting, shotlist, shots
from .wear import amounts, everything, layers, limits, operators, places, spread, story, textures, window

CLASSES = (
    preferences.PlaywornPreferences,
    limits.PlaywornLimits,
    layers.PlaywornLayers,
    story.PlaywornStory,
    *shots.CLASSES,
    properties.PlaywornSettings,
    session.PlaywornSession,
    *steps.CLASSES,
    *bringing.CLASSES,
    *updating.CLASSES,
    operators.Apply,
    operators.Reapply,
    operators.Clear,
    *everything.CLASSES,
    selection.Pin,
    selection.Unpin,
    selection.RollAgain,
    selection.UndoRolls,
    selection.CountIn,
    selection.LeaveOut,
    amounts.GiveAmount,
    *places.CLASSES,
    window.WindowTowards,
    window.WallTowards,
    operators.ResetLimits,
    layers.ResetLayers,
    story.ResetStory,
    operators.SavePicture,
    *keeping.CLASSES,
    *exchange.CLASSES,
    *library.CLASSES,
    *spread.CLASSES,
    *shooting.CLASSES,
    *copying.CLASSES,
    *sheet.CLASSES,
    textures.MeasureTextures,
    textures.TextureDetails,
    textures.UseTexture,
    panels.BuildPanel,
    panels.FitPanel,
    panels.LimitsPanel,
    panels.WearPanel,
    panels.LayersPanel,
    panels.StoryPanel,
    panels.ByHandPanel,
    *shotlist.CLASSES,
    *passes.CLASSES,
    *updating.PANELS,
    panels.LeftAlonePanel,
)

_NAME = "playworn"  # of what belongs to a scene, and to the session
_GROUPS = ((bpy.types.Scene, properties.PlaywornSettings), (bpy.types.WindowManager, session.PlaywornSession))

_registered = ExitStack()


def register() -> None:
    """Registers all of it or, on an error, nothing."""
    global _registered
    with ExitStack() as registered:
        usecases.register()
        registered.callback(usecases.unregister)
        for cls in CLASSES:
            bpy.utils.register_class(cls)
            registered.callback(bpy.utils.unregister_class, cls)
        for owner, group in _GROUPS:
            setattr(owner, _NAME, bpy.props.PointerProperty(type=group))
            registered.callback(delattr, owner, _NAME)
        registered.callback(thumbnails.forget)
        registered.callback(darkroom.forget)
        registered.callback(sheet.forget)
        registered.callback(told.forget)
        registered.callback(disk.forget)
        registered.callback(shots.forget)
        registered.callback(overlay.forget)
        registered.callback(steps.give_up)
        _registered = registered.pop_all()


def unregister() -> None:
    """Takes everything back; nothing happens where nothing is registered."""
    _registered.close()
