"""The command `update`: the next version of an export in the place of the one that a file holds."""

import argparse
import json
from pathlib import Path
from typing import Any

from .. import atomic, usecases
from . import kinds, opening, output

Options = argparse.Namespace


def add(sub: argparse.ArgumentParser) -> None:
    """The options of `update`."""
    sub.add_argument("old", type=Path, metavar="OLD.blend", help="the file that holds the build")
    sub.add_argument("new", type=Path, metavar="NEW_EXPORT", help="the next version of the export")
    kinds.add_build(sub)
    sub.add_argument("--out", type=kinds.blend, required=True, metavar="OUT.blend")
    sub.add_argument("--picture", type=kinds.svg, metavar="OUT.svg", help="draw what has changed")
    sub.add_argument("--report", type=kinds.json, metavar="OUT.json", help="write what has changed as JSON too")
    kinds.add_keeping(sub)


def run(options: Options) -> dict[str, Any]:
    """Opens the old file, takes the new version in, and saves it under another name."""
    for target in filter(None, (options.out, options.picture, options.report)):
        atomic.check_writable(target)
    build = opening.build(usecases.old_file(options.old), options.build)
    told, seen = usecases.update(build, options.new, options.keep_objects, output.progress, options.keep_alpha)
    if options.picture:
        usecases.save_difference(told.build, seen, options.picture)
    usecases.save(options.out)
    answer = {"told": told.sentence, **output.with_file(told, options.out)}
    if options.picture:
        answer["picture"] = str(options.picture)
    if options.report:
        atomic.write_text(options.report, json.dumps(output.plain(answer), indent=2, ensure_ascii=False) + "\n")
    return answer
