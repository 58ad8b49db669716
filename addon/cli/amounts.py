"""The options that give single bricks and materials amounts of their own, by name."""

import argparse
from collections.abc import Iterable

import bpy

from .. import usecases

Options = argparse.Namespace


def add(sub: argparse.ArgumentParser) -> None:
    """The options, each as often as the user likes."""
    for option, words in (
        ("--amount", "how much of what use brings the bricks of this name have: 0 new, 1 as the build, at most 2; "),
        ("--material-amount", "the same for the bricks of a material; "),
    ):
        sub.add_argument(
            option,
            type=_named,
            action="append",
            default=[],
            metavar="NAME=AMOUNT",
            help=f"{words}* and ? stand for any letters",
        )
    sub.add_argument(
        "--place",
        type=_place,
        action="append",
        default=[],
        metavar="NAME=AMOUNT[,linear]",
        help="near the empty of this name there is so many times of what use brings, 0 to 10, the most in its middle "
        "and out to where it is drawn; it ends softly, or linear",
    )


def _place(text: str) -> tuple[str, usecases.Place]:
    name, _, told = text.rpartition("=")
    amount, _, way = told.partition(",")
    try:
        if name and way in ("", "linear") and 0.0 <= float(amount) <= usecases.MOST_OF_PLACE:
            return name, usecases.Place(float(amount), is_smooth=not way)
    except ValueError:
        pass
    raise argparse.ArgumentTypeError(
        f'"{text}" is not NAME=AMOUNT with an amount from 0 to 10, as in sill=3 or "cover*"=0,linear'
    )


def _named(text: str) -> tuple[str, float]:
    name, _, amount = text.rpartition("=")
    try:
        if name and 0.0 <= float(amount) <= usecases.MOST:
            return name, float(amount)
    except ValueError:
        pass
    raise argparse.ArgumentTypeError(f'"{text}" is not NAME=AMOUNT with an amount from 0 to 2, as in "roof*"=0.5')


def give_to_bricks(options: Options, builds: Iterable[bpy.types.Collection]) -> None:
    """Gives the bricks of each build their amounts; BuildProblem where a name fits none, of materials too."""
    for build in builds:
        for pattern, amount in options.amount:
            usecases.give_amount(build, usecases.named_like(build, pattern), amount)
        for pattern, _ in options.material_amount:
            usecases.materials_like(build, pattern)


def make_places(options: Options) -> None:
    """Makes empties of the open file places; BuildProblem where a name fits none."""
    for pattern, place in options.place:
        for thing in usecases.empties_like(pattern):
            usecases.put_place(thing, place)


def give_to_materials(options: Options, builds: Iterable[bpy.types.Collection]) -> None:
    """Gives the materials of each build, which is worn by now, their amounts."""
    for build in builds:
        for pattern, amount in options.material_amount:
            usecases.give_amount_to_materials(build, usecases.materials_like(build, pattern), amount)
