"""Playworn: what it takes from Blender while it is on, and gives back when it goes."""

from contextlib import ExitStack

COMMAND = "playworn"

_taken = ExitStack()  # closing it gives back in exact reverse order


def register() -> None:
    """Register properties, operators, panels and the command; all of them or, on an error, none."""
    global _taken
    import bpy

    from . import ui

    with ExitStack() as taken:
        ui.register()
        taken.callback(ui.unregister)
        command = bpy.utils.register_cli_command(COMMAND, _command)
        taken.callback(bpy.utils.unregister_cli_command, command)
        _taken = taken.pop_all()


def unregister() -> None:
    """Give everything back; nothing happens where nothing is registered."""
    _taken.close()


def _command(arguments: list[str]) -> int:
    from . import cli  # only now: most of those who open Blender never call it

    return cli.main(arguments)
