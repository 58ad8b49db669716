"""Playworn: what it takes from Blender while it is on, and gives back when it goes."""

from contextlib import ExitStack

COMMAND = "playworn"

_taken = ExitStack()  # closing it gives back in exact reverse order


def register() -> None:
    """Register properties, operators, panels and the command; all of them or, on an error, none."""
    global _taken
    import bpy

    from . import cli, ui

    with ExitStack() as taken:
        ui.register()
        taken.callback(ui.unregister)
        command = bpy.utils.register_cli_command(COMMAND, cli.main)
        taken.callback(bpy.utils.unregister_cli_command, command)
        _taken = taken.pop_all()


def unregister() -> None:
    """Give everything back; nothing happens where nothing is registered."""
    _taken.close()
