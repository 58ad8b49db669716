"""The command line on Blender's Python wheel: python -m addon …"""

import sys

from . import register, stdout, unregister, wheel


def main(arguments: list[str]) -> int:
    """Run one command in a fresh Blender and return its exit code."""
    stdout.ready()
    try:
        with stdout.kept_clean():
            import bpy

            # The person's own start-up file and add-ons must not colour what a command makes.
            bpy.ops.wm.read_factory_settings(use_empty=True)
    except ImportError as error:
        print(wheel.what_is_missing(error), file=sys.stderr)
        return 1
    from . import cli

    register()
    try:
        return cli.main(arguments)
    finally:
        unregister()  # the wheel of Blender 4.5 may hang at exit over classes left behind


if __name__ == "__main__":
    wheel.run_and_end(lambda: main(sys.argv[1:]))
