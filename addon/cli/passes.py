"""The commands `passes`, `render`, `sheet` and `job`: passes in a file, its shots as files of them or as one picture,
here or on a farm."""

import argparse
import re
from pathlib import Path
from typing import Any

import bpy

from .. import atomic, usecases
from ..core.errors import ShotProblem
from ..core.shots import frames
from ..core.shots.shot import Shot, named
from . import kinds, opening, output

Options = argparse.Namespace


def add_render(sub: argparse.ArgumentParser) -> None:
    """The options of `render`."""
    _add_shots(sub)
    _add_scene(sub)
    sub.add_argument("--anew", action="store_true", help="frames whose file is there, too (default: they stay)")
    sub.add_argument("--out", type=Path, required=True, metavar="DIR", help="folder for the files")


def render(options: Options) -> dict[str, Any]:
    """Renders every frame of the shots as a multi-layer OpenEXR file with all passes."""
    build, scene = _opened(options, options.scene)
    chosen = _chosen(scene, options.shot, options.frames)
    told = usecases.render_shots(build, scene, chosen, options.out, options.anew, output.progress)
    return {"build": build.name, "folder": str(options.out), "shots": told}


def add_sheet(sub: argparse.ArgumentParser) -> None:
    """The options of `sheet`."""
    _add_shot(sub)
    _add_scene(sub)
    sub.add_argument("--wide", type=_pixels, default=480, metavar="PX", help="of each picture (default: 480)")
    sub.add_argument("--samples", type=_count, default=32, metavar="N", help="of Cycles, at most (default: 32)")
    sub.add_argument("--out", type=kinds.png, required=True, metavar="SHEET.png")


def sheet(options: Options) -> dict[str, Any]:
    """Renders each shot small beside its plate, with what it reads as, into one picture."""
    build, scene = _opened(options, options.scene)
    chosen = _chosen(scene, options.shot)
    told = usecases.save_contact(
        build, scene, chosen, options.out, options.wide, options.samples, progress=output.progress
    )
    return output.with_file(told, options.out)


def add_job(sub: argparse.ArgumentParser) -> None:
    """The options of `job`."""
    _add_shots(sub)
    sub.add_argument("--chunk", type=_count, default=10, metavar="N", help="frames a task (default: 10)")
    sub.add_argument("--out", type=kinds.yaml, required=True, metavar="JOB.yaml")


def job(options: Options) -> dict[str, Any]:
    """Writes an Open Job Description template over the shots of a file that has its passes."""
    atomic.check_writable(options.out)
    build, scene = _opened(options)
    chosen = _chosen(scene, options.shot, options.frames)
    told = usecases.save_job(build, scene, chosen, options.file, options.chunk, options.out)
    return output.with_file(told, options.out)


def add_passes(sub: argparse.ArgumentParser) -> None:
    """The options of `passes`."""
    sub.add_argument("file", type=Path, metavar="FILE", help=".blend")
    kinds.add_build(sub)
    sub.add_argument("--off", action="store_true", help="take them off again, without a trace")
    sub.add_argument("--out", type=kinds.blend, required=True, metavar="OUT.blend")


def passes(options: Options) -> dict[str, Any]:
    """Puts the passes on the view layers of a file, or takes them off."""
    atomic.check_writable(options.out)
    build, scene = _opened(options)
    if options.off:
        told: Any = {"taken_off": usecases.take_passes_off(scene)}
    else:
        told = usecases.put_passes_on(build, scene)
        if told.warning:
            output.warn(told.warning)
    usecases.save(options.out)
    return output.with_file(told, options.out)


def _add_shot(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("file", type=Path, metavar="FILE", help=".blend")
    kinds.add_build(sub)
    sub.add_argument("--shot", metavar="NAME", help="this one alone")


def _add_scene(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--scene", default="", metavar="NAME", help="this scene (default: the one it opens with)")


def _add_shots(sub: argparse.ArgumentParser) -> None:
    _add_shot(sub)
    sub.add_argument("--frames", type=_range, metavar="A-B", help="those of the shots' frames from A to B alone")


def _chosen(scene: bpy.types.Scene, shot: str | None, within: tuple[int, int] | None = None) -> tuple[Shot, ...]:
    shots: tuple[Shot, ...] = usecases.list_shots(scene)
    if not shots:
        raise ShotProblem(f'the scene "{scene.name}" has no camera: add one, or bind cameras to markers')
    chosen = (named(shots, shot),) if shot else shots
    return frames.within(chosen, *within) if within else chosen


def _opened(options: Options, scene_name: str = "") -> tuple[bpy.types.Collection, bpy.types.Scene]:
    build = opening.build(options.file, options.build)
    scene = opening.scene(scene_name)
    usecases.check_shown(build, scene)
    return build, scene


def _range(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"(-?\d+)(?:-(-?\d+))?", text)
    first, last = (int(found[1]), int(found[2] or found[1])) if found else (1, 0)
    if first > last:
        raise argparse.ArgumentTypeError(f'"{text}" is no range of frames, as in 101-140 or 101')
    return first, last


def _pixels(text: str) -> int:
    if not text.isdecimal() or not 64 <= int(text) <= 4096:
        raise argparse.ArgumentTypeError(f'"{text}" is no width from 64 to 4096 pixels, as in 480')
    return int(text)


def _count(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 1_000_000:
        raise argparse.ArgumentTypeError(f'"{text}" is no number from 1 to 1000000, as in 10')
    return int(text)
