"""The command `apply`: on one build with a full report, or on many with a line each."""

import argparse
import json
import os.path
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import bpy

from .. import atomic, usecases
from ..blender import context
from ..core import report
from ..core.errors import BuildProblem, FileProblem, PlaywornError, ShotProblem
from ..core.presets import preset as presets
from ..core.presets.preset import Preset
from ..core.wear.layers import LAYERS
from ..core.wear.quality import QUALITIES, ROUNDINGS, STANDARD, USUAL_ROUNDING
from . import amounts, charts, counting, kinds, opening, output, page, uses

Options = argparse.Namespace
SCENE, FILE = "scene", "file"


def add(sub: argparse.ArgumentParser) -> None:
    """The options of `apply`."""
    sub.add_argument("files", type=Path, nargs="+", metavar="FILE", help=".blend, or an export")
    _add_scope(sub)
    counting.add(sub)
    amounts.add(sub)
    kinds.add_keeping(sub)
    _add_dials(sub)
    sub.add_argument(
        "--report",
        type=kinds.json_or_html,
        action="append",
        default=[],
        metavar="OUT.json|OUT.html",
        help="write what was done as JSON too, or as a page with pictures before and after and charts, which needs "
        "nothing beside itself; as often as you like",
    )


def _add_scope(sub: argparse.ArgumentParser) -> None:
    """What of a file gets the preset, and where the result goes."""
    which = sub.add_mutually_exclusive_group()
    which.add_argument(
        "--build", action="append", default=[], metavar="NAME", help="this collection; as often as you like"
    )
    which.add_argument(
        "--all", choices=(SCENE, FILE), help="every build of the file's scene, or of all its scenes (default: one)"
    )
    sub.add_argument("--shot", metavar="NAME", help="make the file for this one of its shots, at the shot's dials")
    out = sub.add_mutually_exclusive_group(required=True)
    out.add_argument("--out", type=kinds.blend, metavar="OUT.blend")
    out.add_argument("--out-dir", type=Path, metavar="DIR", help="for several files: each under its own name")


def _add_dials(sub: argparse.ArgumentParser) -> None:
    """The preset, and how it is dialled."""
    sub.add_argument("--preset", required=True, metavar="NAME", help="a preset's name, or its .json file")
    sub.add_argument("--seed", type=int, default=0, help="another number gives another hand (default: 0)")
    sub.add_argument("--looseness", type=float, default=1.0, help="over all motions, 0 to 2 (default: 1)")
    sub.add_argument("--wear", type=float, default=1.0, help="over all wear, 0 to 2 (default: 1)")
    sub.add_argument(
        "--set",
        type=partial(_number, "FIELD=NUMBER", "fit.shift_mm=0.08"),
        action="append",
        default=[],
        metavar="VALUE",
        help="another value for one of the preset's, as in --set fit.shift_mm=0.08; as often as you like",
    )
    sub.add_argument(
        "--layer",
        type=partial(_number, "LAYER=FACTOR", "dust=1.5"),
        action="append",
        default=[],
        metavar="LAYER=FACTOR",
        help="a dial over the preset's amount of one layer, 0 to 2, as in --layer dust=1.5; as often as you like. "
        f"Layers: {', '.join(LAYERS)}",
    )
    sub.add_argument(
        "--window",
        metavar="DEGREES|NAME",
        help="which side faced the window, for light-aged colour: an angle from 0 to 360, from the build's own x axis "
        "anticlockwise seen from above, or an object of the file that stands there (default: light from everywhere)",
    )
    sub.add_argument(
        "--wall",
        metavar="DEGREES|NAME",
        help="which side stood to a wall, where neither hands nor light got to, told as --window is (default: none)",
    )
    sub.add_argument("--textures", type=Path, metavar="DIR", help="folder of textures (default: stand-ins)")
    uses.add(sub)
    qualities = "; ".join(f"{each.name}: {each.meaning}" for each in QUALITIES.values())
    sub.add_argument("--quality", choices=list(QUALITIES), default=STANDARD.name, help=qualities)
    roundings = "; ".join(f"{name}: {meaning}" for name, meaning in ROUNDINGS.items())
    roundings += f" (default: {USUAL_ROUNDING})"
    sub.add_argument("--rounding", choices=list(ROUNDINGS), default=USUAL_ROUNDING, help=roundings)
    sub.add_argument(
        "--budget",
        type=float,
        metavar="SWEEPS",
        help="sweeps over all contacts that the fit may take, less close where they run out (default: all it needs, "
        "mostly 10 to 15)",
    )


def _number(form: str, example: str, text: str) -> tuple[str, float]:
    """A number by name, in a form that says what each is."""
    name, _, value = text.partition("=")
    try:
        return name, float(value)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not {form}, as in {example}') from None


def run(options: Options) -> Any:
    """Exit code 0 means that all went well: where anything did not, the answer is only part of the work."""
    dials = usecases.Dials(
        options.seed,
        options.looseness,
        options.wear,
        options.textures,
        options.quality,
        options.rounding,
        options.budget,
        dict(options.layer),
        _angle(options.window),
        _angle(options.wall),
        uses.chosen(options, options.textures),  # a missing folder is told before a large build is read
    )
    preset = presets.changed(usecases.find_preset(options.preset), dict(options.set), "--set")
    is_one = options.out and not options.all and len(options.build) < 2
    if options.shot and not is_one:
        raise ShotProblem("--shot makes one file for one build in one shot: give one file, one build and --out")
    pages = [path for path in options.report if path.suffix.lower() == kinds.HTML]
    if pages:
        _check_page(is_one)
    targets = _targets(options)
    for target in (*targets, *options.report):
        atomic.check_writable(target)
    for warning in preset.warnings:
        output.warn(warning)
    if is_one:
        told, build = _one(options, targets[0], preset, dials)
        answer = output.with_file(told, targets[0])
    else:
        answer = _many(options, targets, preset, dials)
    plain = output.plain(answer.done if isinstance(answer, output.Partly) else answer)
    for path in options.report:
        if path not in pages:
            atomic.write_text(path, json.dumps(plain, indent=2, ensure_ascii=False) + "\n")
    for path in pages:
        page.write(path, build, told, options.shot, output.progress)
    return answer


def _check_page(is_one: bool) -> None:
    """Told before a large build is read."""
    if not is_one:
        raise FileProblem("a page tells of one build: give one file, one build and --out, or a report as .json")
    charts.check()


def _angle(told: str | None) -> float | None:
    """The angle that is told; None where none is, or the name of an object."""
    try:
        return None if told is None else float(told)
    except ValueError:
        return None


def _with_angles(options: Options, dials: usecases.Dials, build: bpy.types.Collection) -> usecases.Dials:
    """The dials for a build, window and wall where objects of these names stand."""
    named = {"window_deg": options.window, "wall_deg": options.wall}
    found = {}
    for dial, name in named.items():
        if name is not None and getattr(dials, dial) is None:
            thing = bpy.data.objects.get(name)
            if thing is None:
                raise BuildProblem(f'the file has no object "{name}": give the name of one, or an angle')
            found[dial] = usecases.towards(build, thing)
    return replace(dials, **found)


def _targets(options: Options) -> list[Path]:
    """Where each file goes; FileProblem where two would go to one place, or there is no folder."""
    if options.out:
        if len(options.files) > 1:
            raise FileProblem("several files cannot go to one --out: give a folder with --out-dir instead")
        return [options.out]
    if not os.path.isdir(options.out_dir):
        raise FileProblem(f'there is no folder "{options.out_dir}": make it first')
    targets = [options.out_dir / f"{file.stem}.blend" for file in options.files]
    for target in targets:
        if sum(target.name.casefold() == other.name.casefold() for other in targets) > 1:
            raise FileProblem(f'two files would become "{target}": apply to them one after the other')
    return targets


def _one(
    options: Options, target: Path, preset: Preset, dials: usecases.Dials
) -> tuple[report.Applied, bpy.types.Collection]:
    build = opening.build(
        options.files[0], *options.build, keep_objects=options.keep_objects, keep_alpha=options.keep_alpha
    )
    counting.count(options, [build])
    amounts.give_to_bricks(options, [build])
    amounts.make_places(options)
    dials = _with_angles(options, dials, build)
    if options.shot:
        told = usecases.apply_for_shot(build, context().scene, options.shot, preset, dials, output.progress)
    else:
        told = usecases.apply(build, preset, dials, output.progress)
    amounts.give_to_materials(options, [build])
    usecases.save(target)
    if told.warning:
        output.warn(told.warning)
    return told, build


def _many(options: Options, targets: list[Path], preset: Preset, dials: usecases.Dials) -> Any:
    outcomes: list[report.Outcome] = []
    for file, target in zip(options.files, targets, strict=True):
        try:
            outcomes += _in_file(options, file, target, preset, dials)
        except PlaywornError as problem:
            outcomes.append(report.Outcome(str(file), "", 0, 0, 0, str(problem)))
    done = {each.file for each in outcomes if each.is_done}
    saved = [str(target) for file, target in zip(options.files, targets, strict=True) if str(file) in done]
    answer = {"builds": outcomes, "files": saved}
    failed = [each for each in outcomes if not each.is_done]
    return output.Partly(answer, f"{len(failed)} of {len(outcomes)} are as they were") if failed else answer


def _in_file(options: Options, file: Path, target: Path, preset: Preset, dials: usecases.Dials) -> list[report.Outcome]:
    """Opens a file, applies, and saves it where anything was done."""
    if options.build or options.all:
        opening.file(file, options.keep_objects, options.keep_alpha)
        scene = context().scene
        rooms = usecases.builds_of_file() if options.all == FILE else usecases.builds_of_scene(scene)
        rooms = [usecases.named_build(name) for name in options.build] or rooms
    else:
        rooms = [opening.build(file, keep_objects=options.keep_objects, keep_alpha=options.keep_alpha)]
    counting.count(options, rooms)
    amounts.give_to_bricks(options, rooms)
    amounts.make_places(options)
    chosen = not options.all
    if rooms:  # all builds of a file see one window and one wall
        dials = _with_angles(options, dials, rooms[0])
    done = usecases.apply_to_all(rooms, preset, dials, output.progress, str(file), chosen)
    outcomes = [outcome for outcome, _ in done]
    worn = [room for room, each in zip(rooms, outcomes, strict=True) if each.is_done]
    amounts.give_to_materials(options, worn)
    if any(each.is_done for each in outcomes):
        usecases.save(target)
    return outcomes or [report.Outcome(str(file), "", 0, 0, 0, "it holds no build")]
