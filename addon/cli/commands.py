"""One function a command: take the options, call the use case, return what it tells."""

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

from .. import atomic, usecases
from ..core.wear.quality import QUALITIES, ROUNDINGS, SHADING, STANDARD
from . import applying, counting, kinds, output, shots, updating
from . import presets as preset_actions

Options = argparse.Namespace


def parser() -> argparse.ArgumentParser:
    """The commands and their options."""
    top = argparse.ArgumentParser(
        prog="playworn", description="Makes a clean CAD build of bricks look put together by hand out of used bricks."
    )
    commands = top.add_subparsers(title="commands", required=True, metavar="COMMAND")

    def command(name: str, run: Callable[[Options], Any] | None, help: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=help, description=help)
        sub.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
        sub.set_defaults(run=run)
        return sub

    which = "the collection to take, where the file holds several"
    demo = command("demo", _demo, "the whole job on the lighthouse: export, read, apply, render before and after")
    demo.add_argument("--out", type=Path, default=Path("out"), help="folder for what it makes (default: out)")
    demo.add_argument("--quick", action="store_true", help="small pictures, under a minute")

    inspect = command("inspect", _inspect, "what the build in a file is")
    inspect.add_argument("file", type=Path, metavar="FILE", help=".blend, or an export")
    inspect.add_argument("--build", default="", metavar="NAME", help=which)
    inspect.add_argument("--picture", type=kinds.svg, metavar="OUT.svg", help="draw each brick and its joints")
    counting.add(inspect)
    kinds.add_keep_objects(inspect)

    apply = command("apply", applying.run, "put a preset on the build in a file, on several or in several files")
    apply.add_argument("files", type=Path, nargs="+", metavar="FILE", help=".blend, or an export")
    applying.add_scope(apply)
    counting.add(apply)
    kinds.add_keep_objects(apply)
    apply.add_argument("--preset", required=True, metavar="NAME", help="a preset's name, or its .json file")
    apply.add_argument("--seed", type=int, default=0, help="another number gives another hand (default: 0)")
    apply.add_argument("--looseness", type=float, default=1.0, help="over all motions, 0 to 2 (default: 1)")
    apply.add_argument("--wear", type=float, default=1.0, help="over all wear, 0 to 2 (default: 1)")
    apply.add_argument(
        "--set",
        type=_change,
        action="append",
        default=[],
        metavar="VALUE",
        help="another value for one of the preset's, as in --set fit.shift_mm=0.08; as often as you like",
    )
    apply.add_argument("--textures", type=Path, metavar="DIR", help="folder of textures (default: stand-ins)")
    apply.add_argument(
        "--quality",
        choices=list(QUALITIES),
        default=STANDARD.name,
        help="; ".join(f"{each.name}: {each.meaning}" for each in QUALITIES.values()),
    )
    apply.add_argument(
        "--rounding",
        choices=list(ROUNDINGS),
        default=SHADING,
        help="; ".join(f"{name}: {meaning}" for name, meaning in ROUNDINGS.items()),
    )
    apply.add_argument(
        "--budget",
        type=float,
        metavar="SWEEPS",
        help="sweeps over all contacts that the fit may take, less close where they run out (default: all it needs, "
        "mostly 10 to 15)",
    )
    apply.add_argument("--report", type=kinds.json, metavar="OUT.json", help="write what was done as JSON too")

    clear = command("clear", _clear, "take everything out of the build that a preset put on it")
    clear.add_argument("file", type=Path, metavar="FILE", help=".blend")
    clear.add_argument("--build", default="", metavar="NAME", help=which)
    clear.add_argument("--out", type=kinds.blend, required=True, metavar="OUT.blend")

    check = command("check", _check, "measure the fit that the bricks of a file have")
    check.add_argument("file", type=Path, metavar="FILE", help=".blend, or an export")
    check.add_argument("--build", default="", metavar="NAME", help=which)
    kinds.add_keep_objects(check)

    shots.add(command("shots", shots.run, "what each shot of a file reads as in pixels, and its dials"))

    updating.add(command("update", updating.run, "the next version of an export in the place of the one before"))

    textures = command("textures", _textures, "what each texture of a folder is")
    textures.add_argument("folder", type=Path, metavar="DIR")
    textures.add_argument(
        "--preset", default="well-loved", metavar="NAME", help="whose real sizes to measure at (default: well-loved)"
    )

    preset_actions.add_actions(command("presets", None, "list, show, check, change, export or import presets"))
    return top


def _demo(options: Options):
    from ..demo import run  # local: the other commands need none of it

    return run.run(options.out, options.quick, output.progress)


def _inspect(options: Options):
    if options.picture:
        atomic.check_writable(options.picture)
    build = usecases.open_build(options.file, options.build, options.keep_objects)
    counting.count(options, [build])
    told = usecases.inspect(build)
    answer = {"found": told.sentence, **output.plain(told)}
    if options.picture and told.bricks:
        usecases.save_picture(build, options.picture)
        answer["picture"] = str(options.picture)
    return answer


def _change(text: str) -> tuple[str, float]:
    path, _, value = text.partition("=")
    try:
        return path, float(value)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not FIELD=NUMBER, as in fit.shift_mm=0.08') from None


def _clear(options: Options):
    atomic.check_writable(options.out)
    told = usecases.clear(usecases.open_build(options.file, options.build))
    usecases.save(options.out)
    return output.with_file(told, options.out)


def _check(options: Options):
    return usecases.check(usecases.open_build(options.file, options.build, options.keep_objects))


def _textures(options: Options):
    told = usecases.survey_textures(options.folder, usecases.find_preset(options.preset))
    unread = [each.file for each in told if not each.is_read]
    answer = {"textures": told}
    return output.Partly(answer, f"cannot be read: {', '.join(unread)}") if unread else answer
