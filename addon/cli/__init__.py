"""The commands: the same words under `python -m addon` and under `blender --command playworn`."""

import warnings

from .. import stdout
from ..core.errors import PlaywornError
from . import commands, output

DONE, WRONG = 0, 1  # 2, wrong usage, is argparse's own
STOPPED = 130  # by Ctrl-C; 128 and the signal's number, as shells have it


def main(arguments: list[str]) -> int:
    """Runs one command; returns its exit code."""
    stdout.ready()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # those of libraries tell lines of code, to whoever writes it
            return _run(arguments)
    except PlaywornError as problem:
        output.say(problem)
        return WRONG
    except MemoryError:
        output.say("there is not enough memory for this: close other programs, or take the build in parts")
        return WRONG
    except KeyboardInterrupt:
        output.say("stopped: no file is half written")
        return STOPPED


def _run(arguments: list[str]) -> int:
    try:
        options = commands.parser().parse_args(arguments)
    except SystemExit as leaving:
        output.send()
        return int(leaving.code or 0)
    with stdout.kept_clean():
        answer = options.run(options)
    if isinstance(answer, output.Partly):
        output.show(answer.done, as_json=options.json)
        output.say(answer.problem)
        return WRONG
    output.show(answer, as_json=options.json)
    return DONE
