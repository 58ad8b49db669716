"""The commands: the same words under `python -m addon` and under `blender --command playworn`."""

import sys

from .. import stdout
from ..core.errors import PlaywornError
from . import commands, output

DONE, WRONG = 0, 1  # 2, wrong usage, is argparse's own


def main(arguments: list[str]) -> int:
    """Runs one command; returns its exit code."""
    try:
        options = commands.parser().parse_args(arguments)
    except SystemExit as leaving:
        return int(leaving.code or 0)
    try:
        with stdout.kept_clean():
            answer = options.run(options)
    except PlaywornError as problem:
        print(problem, file=sys.stderr)
        return WRONG
    if isinstance(answer, output.Partly):
        output.show(answer.done, as_json=options.json)
        print(answer.problem, file=sys.stderr)
        return WRONG
    output.show(answer, as_json=options.json)
    return DONE
