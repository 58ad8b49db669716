"""The actions of the command `presets`."""

import argparse
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from .. import atomic, usecases
from ..core.presets import catalogue
from ..core.presets import preset as presets
from ..core.presets.bundle import LARGEST_TEXT
from . import kinds, output, uses

Options = argparse.Namespace


def add_actions(sub: argparse.ArgumentParser) -> None:
    """Gives the command its actions."""
    actions = sub.add_subparsers(title="actions", metavar="ACTION", required=True)

    def action(name: str, run: Callable[[Options], Any], help: str, *arguments: str) -> argparse.ArgumentParser:
        one = actions.add_parser(name, help=help, description=help)
        one.add_argument("--json", action="store_true", default=argparse.SUPPRESS, help="print one JSON object")
        one.set_defaults(run=run)
        for argument in arguments:
            one.add_argument(argument.lower(), metavar=argument)
        return one

    action("list", _list, "the presets that hold every word in name, note or tags, or all").add_argument(
        "words", nargs="*", metavar="WORD"
    )
    action("show", _show, "the values of one preset", "NAME")
    action("check", _check, "whether a file is a preset in order").add_argument("file", type=Path, metavar="FILE")
    export = action("export", _export, "write a preset to a .json file, or with its textures to one .zip", "NAME")
    export.add_argument("file", type=kinds.json_or_zip, metavar="OUT.json|OUT.zip")
    export.add_argument(
        "--textures", type=Path, metavar="DIR", help="folder with the pictures it goes with, for a .zip"
    )
    uses.add(export)
    export.add_argument("--licence", type=Path, metavar="FILE.txt", help="what may be done with all this, for a .zip")
    action("export-all", _export_all, "write all presets of your own to one .zip file").add_argument(
        "file", type=kinds.zip, metavar="OUT.zip"
    )
    importing = action("import", _import, "add a preset file, a bundle or all of an export to your own")
    importing.add_argument("file", type=Path, metavar="FILE", help=".json, or the .zip of export or export-all")
    importing.add_argument("--as", dest="name", default="", metavar="NAME", help="call it otherwise")
    take = action("take", _take, "make the look on a build of a .blend a preset of your own")
    take.add_argument("file", type=Path, metavar="FILE.blend")
    take.add_argument("--build", default="", metavar="NAME", help="which, where the file holds several")
    take.add_argument("--as", dest="name", default="", metavar="NAME", help="call the preset otherwise")
    edit = action("edit", _edit, "give a preset of your own another name, note or tags", "NAME")
    edit.add_argument("--as", dest="new", metavar="NAME")
    edit.add_argument("--note", metavar="TEXT")
    edit.add_argument("--tags", nargs="*", metavar="TAG", help="in place of all it had")
    action("thumbnail", _thumbnail, "render the small picture of a preset of your own", "NAME")
    action("delete", _delete, "move a preset of your own to the trash", "NAME")
    action("restore", _restore, "bring back what was deleted or replaced last under a name", "NAME")


def _list(options: Options):
    return {"presets": catalogue.matching(usecases.list_presets(), " ".join(options.words))}


def _show(options: Options):
    return json.loads(presets.dump(usecases.find_preset(options.name)))


def _check(options: Options):
    preset = usecases.read_preset(options.file)
    presets.check_name(preset.name)  # what was kept under such a name stays readable, but no library takes it in
    return {"preset": preset.name, "in_order": True, "warnings": preset.warnings}


def _export(options: Options):
    if options.file.suffix.lower() == ".zip":
        licence = {"licence": atomic.read_text(options.licence, LARGEST_TEXT)} if options.licence else {}
        chosen = uses.chosen(options, options.textures)
        made = usecases.bundle_preset(options.name, options.file, options.textures, chosen=chosen, **licence)
        return {"preset": made.preset.name, "file": str(options.file), "files": list(made.files())}
    preset = usecases.find_preset(options.name)
    atomic.check_writable(options.file)
    atomic.write_text(options.file, presets.dump(preset))
    return {"preset": preset.name, "file": str(options.file)}


def _export_all(options: Options):
    count, left = usecases.export_presets(options.file)
    for place in left:
        output.warn(f"{place} is nothing that belongs in an export of presets: it was left out")
    return {"presets": count, "file": str(options.file)}


def _import(options: Options):
    found = usecases.import_presets(options.file, options.name)
    if found.preset is None:
        failed = [each for each in found.several if not each.is_well]
        answer = {"presets": list(found.several)}
        return output.Partly(answer, f"{len(failed)} of {len(found.several)} were not taken in") if failed else answer
    told = {"preset": found.preset.name, "file": str(found.file), "warnings": found.preset.warnings}
    return {**told, "textures": str(found.textures)} if found.textures else told


def _take(options: Options):
    taken = usecases.take_look(options.file, options.build, options.name)
    dials = {name: getattr(taken.look, name) for name in ("seed", "looseness", "wear", "textures", "quality")}
    saved = str(taken.file) if taken.file else "in the library already"
    return {"preset": taken.name, "build": taken.build, **dials, "file": saved}


def _edit(options: Options):
    preset, new = usecases.own_preset(options.name), options.new or options.name
    note = preset.note if options.note is None else options.note
    tags = preset.tags if options.tags is None else tuple(options.tags)
    file = usecases.edit_preset(options.name, new, note, tags)
    _tell_hidden(options.name)
    return {"preset": new, "file": str(file)}


def _thumbnail(options: Options):
    from ..demo import still  # local: the other actions need none of it

    picture = still.picture(usecases.own_preset(options.name))
    file = usecases.keep_picture(options.name, picture)
    _tell_hidden(options.name)
    return {"preset": options.name, "file": str(file)}


def _delete(options: Options):
    usecases.delete_preset(options.name)
    _tell_hidden(options.name)
    return {"preset": options.name, "deleted": True}


def _restore(options: Options):
    return {"preset": options.name, "file": str(usecases.restore_preset(options.name))}


def _tell_hidden(name: str) -> None:
    """Warns where an action took a preset of the user's own that another one of the name hides."""
    if words := usecases.hidden_by(name):
        output.warn(words)
