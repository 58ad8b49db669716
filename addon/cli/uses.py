"""The option that says by hand what pictures of a textures folder are for."""

import argparse
from pathlib import Path

from .. import usecases
from ..core.errors import TextureProblem
from ..core.wear.purpose import CHOICES, OTHER

Options = argparse.Namespace


def add(sub: argparse.ArgumentParser) -> None:
    """The option, as often as the user likes."""
    sub.add_argument(
        "--use",
        type=_use,
        action="append",
        default=[],
        metavar="FILE=LAYER",
        help="what a picture of the textures folder is for, whatever its name says, as in --use marks.png=smudges; "
        f"{OTHER} leaves it out. Layers: {', '.join(each for each in CHOICES if each != OTHER)}",
    )


def chosen(options: Options, folder: Path | None) -> dict[str, str]:
    """What was said, by file name; TextureProblem where there is no folder, or no such picture in it."""
    told, there = dict(options.use), {each.picture for each in usecases.texture_uses(folder)}
    for name in told:
        if folder is None:
            raise TextureProblem(f'"{name}" is to be used, and there is no textures folder: give one')
        if name not in there:
            raise TextureProblem(f'the textures folder "{folder}" has no picture "{name}": give the name of one it has')
    return told


def _use(text: str) -> tuple[str, str]:
    name, _, layer = text.rpartition("=")
    if not name or layer not in CHOICES:
        raise argparse.ArgumentTypeError(f'"{text}" is not FILE=LAYER with a layer of {", ".join(CHOICES)}')
    return name, layer
