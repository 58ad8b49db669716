"""One function a command: take the options, call the use case, return what it tells."""

import argparse
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import bpy

from .. import usecases
from ..core import preset as presets
from ..core.errors import PresetProblem
from ..core.preset import Preset
from ..core.quality import QUALITIES, STANDARD
from ..scene import library, whole
from . import output, shots

Options = argparse.Namespace


def _blend(text: str) -> Path:
    return _of_kind(text, ".blend")


def _svg(text: str) -> Path:
    return _of_kind(text, ".svg")


def _json(text: str) -> Path:
    return _of_kind(text, ".json")


def _of_kind(text: str, suffix: str) -> Path:
    """A file to write: its name must say what it is, so that no build or picture is overwritten by a slip."""
    if not text.lower().endswith(suffix):
        raise argparse.ArgumentTypeError(f"{text} does not end in {suffix}")
    return Path(text)


def parser() -> argparse.ArgumentParser:
    """The commands and their options."""
    top = argparse.ArgumentParser(
        prog="playworn", description="Makes a clean CAD build of bricks look put together by hand out of used bricks."
    )
    commands = top.add_subparsers(title="commands", required=True, metavar="COMMAND")

    def command(name: str, run: Callable[[Options], Any], help: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=help, description=help)
        sub.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
        sub.set_defaults(run=run)
        return sub

    demo = command("demo", _demo, "the whole job on the lighthouse: export, read, apply, render before and after")
    demo.add_argument("--out", type=Path, default=Path("out"), help="folder for what it makes (default: out)")
    demo.add_argument("--quick", action="store_true", help="small pictures, under a minute")

    inspect = command("inspect", _inspect, "what the build in a file is")
    inspect.add_argument("file", type=Path, metavar="FILE", help=".blend, or an export")
    inspect.add_argument("--picture", type=_svg, metavar="OUT.svg", help="draw the build with its joints, too")

    apply = command("apply", _apply, "put a preset on the build in a file")
    apply.add_argument("file", type=Path, metavar="FILE", help=".blend, or an export")
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
    apply.add_argument("--shot", metavar="NAME", help="make the file for this one of its shots, at the shot's dials")
    apply.add_argument("--out", type=_blend, required=True, metavar="OUT.blend")
    apply.add_argument("--report", type=_json, metavar="OUT.json", help="write what was done as JSON too")

    clear = command("clear", _clear, "take everything out of the build that a preset put on it")
    clear.add_argument("file", type=Path, metavar="FILE", help=".blend")
    clear.add_argument("--out", type=_blend, required=True, metavar="OUT.blend")

    check = command("check", _check, "measure the fit that the bricks of a file have")
    check.add_argument("file", type=Path, metavar="FILE", help=".blend, or an export")

    shots.add(command("shots", shots.run, "what each shot of a file reads as in pixels, and its dials"), _blend, _svg)

    textures = command("textures", _textures, "what each texture of a folder is")
    textures.add_argument("folder", type=Path, metavar="DIR")
    textures.add_argument(
        "--preset", default="well-loved", metavar="NAME", help="whose real sizes to measure at (default: well-loved)"
    )

    command("presets", _list_presets, "list, show, check, export or import presets")
    _add_preset_actions(commands.choices["presets"])
    return top


_PRESET_ARGUMENTS = {"NAME": ("name", str), "FILE": ("file", Path), "OUT.json": ("file", _json)}


def _add_preset_actions(sub: argparse.ArgumentParser) -> None:
    actions = sub.add_subparsers(title="actions", metavar="ACTION", required=True)

    def action(name: str, run: Callable[[Options], Any], help: str, *arguments: str) -> None:
        one = actions.add_parser(name, help=help, description=help)
        one.add_argument("--json", action="store_true", default=argparse.SUPPRESS, help="print one JSON object")
        one.set_defaults(run=run)
        for argument in arguments:
            name, kind = _PRESET_ARGUMENTS[argument]
            one.add_argument(name, type=kind, metavar=argument)

    action("list", _list_presets, "every preset by name")
    action("show", _show_preset, "the values of one preset", "NAME")
    action("check", _check_preset, "whether a file is a preset in order", "FILE")
    action("export", _export_preset, "write a preset to a .json file", "NAME", "OUT.json")
    action("import", _import_preset, "add a preset file to your own", "FILE")


def _demo(options: Options):
    from ..demo import run  # local: the other commands need none of it

    return run.run(options.out, options.quick, output.progress)


def _inspect(options: Options):
    if options.picture is None:
        return usecases.inspect(usecases.open_build(options.file))
    whole.check_writable(options.picture)
    build = usecases.open_build(options.file)
    told = usecases.inspect(build)
    usecases.save_picture(build, options.picture)
    return {**output.plain(told), "picture": str(options.picture)}


def _apply(options: Options):
    dials = usecases.Dials(options.seed, options.looseness, options.wear, options.textures, options.quality)
    preset = presets.changed(usecases.find_preset(options.preset), dict(options.set), "--set")
    for target in filter(None, (options.out, options.report)):
        whole.check_writable(target)
    usecases.texture_uses(options.textures)  # a missing folder is told before a large build is read
    build = usecases.open_build(options.file)
    if options.shot is None:
        told = usecases.apply(build, preset, dials, output.progress)
    else:
        told = usecases.apply_for_shot(build, bpy.context.scene, options.shot, preset, dials, output.progress)
    usecases.save(options.out)
    if told.warning:
        output.warn(told.warning)
    answer = _with_file(told, options.out)
    if options.report:
        whole.write_text(options.report, json.dumps(answer, indent=2, ensure_ascii=False) + "\n")
    return answer


def _change(text: str) -> tuple[str, float]:
    path, _, value = text.partition("=")
    try:
        return path, float(value)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not FIELD=NUMBER, as in fit.shift_mm=0.08') from None


def _clear(options: Options):
    whole.check_writable(options.out)
    told = usecases.clear(usecases.open_build(options.file))
    usecases.save(options.out)
    return _with_file(told, options.out)


def _with_file(told: Any, path: Path) -> dict[str, Any]:
    return {**output.plain(told), "file": str(path)}


def _check(options: Options):
    return usecases.check(usecases.open_build(options.file))


def _textures(options: Options):
    told = usecases.survey_textures(options.folder, usecases.find_preset(options.preset))
    unread = [each.file for each in told if not each.is_read]
    answer = {"textures": told}
    return output.Partly(answer, f"cannot be read: {', '.join(unread)}") if unread else answer


def _list_presets(options: Options):
    return {"presets": usecases.list_presets()}


def _show_preset(options: Options):
    return json.loads(presets.dump(usecases.find_preset(options.name)))


def _check_preset(options: Options):
    preset = library.read(options.file)
    return {"preset": preset.name, "in_order": True}


def _export_preset(options: Options):
    preset: Preset = usecases.find_preset(options.name)
    whole.check_writable(options.file)
    whole.write_text(options.file, presets.dump(preset))
    return {"preset": preset.name, "file": str(options.file)}


def _import_preset(options: Options):
    preset = library.read(options.file)
    if preset.name in {listed.name for listed in usecases.list_presets()}:
        raise PresetProblem(f'there is a preset called "{preset.name}" already: rename the one in {options.file}')
    return {"preset": preset.name, "file": str(usecases.save_preset(preset, preset.name))}
