"""One function a command: take the options, call the use case, return what it tells."""

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

from .. import atomic, usecases
from . import applying, counting, kinds, opening, output, passes, shots, updating, uses
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

    _add_demo(command("demo", _demo, "the whole job on the lighthouse: export, read, apply, render before and after"))
    _add_inspect(command("inspect", _inspect, "what the build in a file is"))
    applying.add(command("apply", applying.run, "put a preset on the build in a file, on several or in several files"))
    _add_clear(command("clear", _clear, "take everything out of the build that a preset put on it"))
    _add_check(command("check", _check, "measure the fit that the bricks of a file have"))
    shots.add(command("shots", shots.run, "what each shot of a file reads as in pixels, and its dials"))
    passes.add_passes(command("passes", passes.passes, "passes for compositing on the view layers of a file, or off"))
    passes.add_render(command("render", passes.render, "the frames of a file's shots as OpenEXR files with all passes"))
    passes.add_sheet(command("sheet", passes.sheet, "a contact sheet: each shot of a file small beside its plate"))
    passes.add_job(command("job", passes.job, "an Open Job Description template that renders the shots on a farm"))
    updating.add(command("update", updating.run, "the next version of an export in the place of the one before"))
    _add_textures(command("textures", _textures, "what each texture of a folder is"))
    preset_actions.add_actions(command("presets", None, "list, show, check, change, export or import presets"))
    return top


def _add_demo(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--out", type=Path, default=Path("out"), help="folder for what it makes (default: out)")
    sub.add_argument("--quick", action="store_true", help="small pictures, under a minute")


def _demo(options: Options):
    from ..demo import run  # local: the other commands need none of it

    return run.run(options.out, options.quick, output.progress)


def _add_inspect(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("file", type=Path, metavar="FILE", help=".blend, or an export")
    kinds.add_build(sub)
    sub.add_argument("--picture", type=kinds.svg, metavar="OUT.svg", help="draw each brick and its joints")
    sub.add_argument(
        "--show",
        choices=usecases.OVERLAYS,
        metavar="WHAT",
        help=f"tell of each side of the bricks, and draw in the picture as colours: {', '.join(usecases.OVERLAYS)}",
    )
    counting.add(sub)
    kinds.add_keeping(sub)


def _inspect(options: Options):
    if options.picture:
        atomic.check_writable(options.picture)
    build = opening.build(options.file, options.build, options.keep_objects, options.keep_alpha)
    counting.count(options, [build])
    told = usecases.inspect(build)
    answer = {"found": told.sentence, **output.plain(told)}
    if options.show and told.bricks:
        answer["shown"] = output.plain(usecases.look_at(build, options.show))
    if options.picture and told.bricks:
        if options.show:
            usecases.save_overlay(build, options.show, options.picture)
        else:
            usecases.save_picture(build, options.picture)
        answer["picture"] = str(options.picture)
    return answer


def _add_clear(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("file", type=Path, metavar="FILE", help=".blend")
    what = sub.add_mutually_exclusive_group()
    kinds.add_build(what)
    what.add_argument(
        "--everything",
        action="store_true",
        help="all builds of the file and what has left them, with pins, re-rolls, amounts, shots and notes: nothing of "
        "Playworn is left in it",
    )
    sub.add_argument("--out", type=kinds.blend, required=True, metavar="OUT.blend")


def _clear(options: Options):
    atomic.check_writable(options.out)
    if options.everything:
        opening.file(options.file)
        told = usecases.clear_everything()
    else:
        told = usecases.clear(opening.build(options.file, options.build))
    usecases.save(options.out)
    return output.with_file(told, options.out)


def _add_check(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("file", type=Path, metavar="FILE", help=".blend, or an export")
    kinds.add_build(sub)
    kinds.add_keeping(sub)


def _check(options: Options):
    return usecases.check(opening.build(options.file, options.build, options.keep_objects, options.keep_alpha))


def _add_textures(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("folder", type=Path, metavar="DIR")
    sub.add_argument(
        "--preset", default="well-loved", metavar="NAME", help="whose real sizes to measure at (default: well-loved)"
    )
    uses.add(sub)


def _textures(options: Options):
    chosen = uses.chosen(options, options.folder)
    told = usecases.survey_textures(options.folder, usecases.find_preset(options.preset), chosen)
    unread = [each.file for each in told if not each.is_read]
    answer = {"textures": told}
    return output.Partly(answer, f"cannot be read: {', '.join(unread)}") if unread else answer
