"""The commands `passes` and `render`: passes for compositing in a file, and its shots as files of them."""

import argparse
import re
from pathlib import Path
from typing import Any

import bpy

from .. import atomic, usecases
from ..blender import context
from ..core.errors import ShotProblem
from ..core.shots import frames
from ..core.shots.shot import Shot, named
from . import kinds, opening, output

Options = argparse.Namespace


def add_render(sub: argparse.ArgumentParser) -> None:
    """The options of `render`."""
    sub.add_argument("file", type=Path, metavar="FILE", help=".blend")
    kinds.add_build(sub)
    sub.add_argument("--shot", metavar="NAME", help="this one alone")
    sub.add_argument("--frames", type=_range, metavar="A-B", help="those of the shots' frames from A to B alone")
    sub.add_argument("--anew", action="store_true", help="frames whose file is there, too (default: they stay)")
    sub.add_argument("--out", type=Path, required=True, metavar="DIR", help="folder for the files")


def render(options: Options) -> dict[str, Any]:
    """Renders every frame of the shots as a multi-layer OpenEXR file with all passes."""
    build, scene = _opened(options)
    shots: tuple[Shot, ...] = usecases.list_shots(scene)
    if not shots:
        raise ShotProblem(f'the scene "{scene.name}" has no camera: add one, or bind cameras to markers')
    chosen = (named(shots, options.shot),) if options.shot else shots
    if options.frames:
        chosen = frames.within(chosen, *options.frames)
    told = usecases.render_shots(build, scene, chosen, options.out, options.anew, output.progress)
    return {"build": build.name, "folder": str(options.out), "shots": told}


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


def _opened(options: Options) -> tuple[bpy.types.Collection, bpy.types.Scene]:
    build = opening.build(options.file, options.build)
    scene = context().scene
    if scene not in usecases.scenes_showing(build):
        raise ShotProblem(f'the build "{build.name}" is not in the scene "{scene.name}", which is to be rendered')
    return build, scene


def _range(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"(-?\d+)(?:-(-?\d+))?", text)
    first, last = (int(found[1]), int(found[2] or found[1])) if found else (1, 0)
    if first > last:
        raise argparse.ArgumentTypeError(f'"{text}" is no range of frames, as in 101-140 or 101')
    return first, last
