"""The options that say which objects are bricks and which are none, where Playworn would say otherwise."""

import argparse
from collections.abc import Iterable

import bpy

from .. import usecases

Options = argparse.Namespace


def add(sub: argparse.ArgumentParser) -> None:
    """The options, each as often as the user likes."""
    for name, words in (
        ("--include", "count the objects of this name as bricks; * and ? stand for any letters"),
        ("--leave", "leave the objects of this name alone, as no bricks"),
    ):
        sub.add_argument(name, action="append", default=[], metavar="NAME", help=words)


def count(options: Options, builds: Iterable[bpy.types.Collection]) -> None:
    """Says it of the objects of each build; BuildProblem where a name fits none."""
    for build in builds:
        for pattern in options.include:
            usecases.count_in(build, usecases.named_like(build, pattern))
        for pattern in options.leave:
            usecases.leave_out(build, usecases.named_like(build, pattern))
