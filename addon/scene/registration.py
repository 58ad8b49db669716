"""What Blender gets to know of the scene's own, and what goes with a file and with the tool."""

import bpy
from bpy.app.handlers import persistent

from ..core import remembered
from .fit import deltas


def register() -> None:
    """Declares the record of deltas; from now on what is remembered of a file goes once another has been loaded."""
    deltas.register()
    bpy.app.handlers.load_post.append(_loaded)


def unregister() -> None:
    """Takes that back, and lets go of all that is remembered."""
    bpy.app.handlers.load_post.remove(_loaded)
    deltas.unregister()
    remembered.forget()


@persistent
def _loaded(_path: str) -> None:
    remembered.forget_file()
