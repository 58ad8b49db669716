"""The actions of the command `presets`."""

import argparse
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from .. import atomic, usecases
from ..core.errors import PresetProblem
from ..core.presets import catalogue
from ..core.presets import preset as presets
from ..core.presets.parcel import LARGEST_TEXT
from . import kinds, output

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

    listing = action("list", _list, "the presets that hold every word, or all")
    listing.add_argument("words", nargs="*", metavar="WORD", help="in the name, the note or the tags")
    listing.add_argument("--tag", default="", metavar="TAG", help="only those with this tag")
    action("show", _show, "the values of one preset", "NAME")
    action("check", _check, "whether a file is a preset in order").add_argument("file", type=Path, metavar="FILE")
    export = action("export", _export, "write a preset to a .json file", "NAME")
    export.add_argument("file", type=kinds.json, metavar="OUT.json")
    action("export-all", _export_all, "write all presets of your own to one .zip file").add_argument(
        "file", type=kinds.zip, metavar="OUT.zip"
    )
    importing = action("import", _import, "add a preset file, a bundle or all of an export to your own")
    importing.add_argument("file", type=Path, metavar="FILE", help=".json, or the .zip of bundle or export-all")
    importing.add_argument("--as", dest="name", default="", metavar="NAME", help="call it otherwise")
    bundle = action("bundle", _bundle, "write a preset with its textures to one .zip file, to send away", "NAME")
    bundle.add_argument("file", type=kinds.zip, metavar="OUT.zip")
    bundle.add_argument("--textures", type=Path, metavar="DIR", help="folder with the pictures it goes with")
    bundle.add_argument("--licence", type=Path, metavar="FILE.txt", help="what may be done with all this")
    take = action("take", _take, "make the look on a build of a .blend a preset of your own")
    take.add_argument("file", type=Path, metavar="FILE.blend")
    take.add_argument("--build", default="", metavar="NAME", help="which, where the file holds several")
    take.add_argument("--as", dest="name", default="", metavar="NAME", help="call the preset otherwise")
    action("rename", _rename, "call a preset of your own otherwise", "NAME", "NEW")
    action("duplicate", _duplicate, "copy a preset to one of your own", "NAME", "NEW")
    describe = action("describe", _describe, "give a preset of your own another note or other tags", "NAME")
    describe.add_argument("--note", metavar="TEXT")
    describe.add_argument("--tags", nargs="*", metavar="TAG", help="in place of all it had")
    action("thumbnail", _thumbnail, "render the small picture of a preset of your own", "NAME")
    action("delete", _delete, "move a preset of your own to the trash", "NAME")
    action("restore", _restore, "bring a deleted preset back", "NAME")
    action("revert", _revert, "bring the version back that the last one replaced", "NAME")


def _list(options: Options):
    return {"presets": catalogue.matching(usecases.list_presets(), " ".join(options.words), options.tag)}


def _show(options: Options):
    return json.loads(presets.dump(usecases.find_preset(options.name)))


def _check(options: Options):
    preset = usecases.read_preset(options.file)
    return {"preset": preset.name, "in_order": True, "warnings": preset.warnings}


def _export(options: Options):
    preset = usecases.find_preset(options.name)
    atomic.check_writable(options.file)
    atomic.write_text(options.file, presets.dump(preset))
    return {"preset": preset.name, "file": str(options.file)}


def _export_all(options: Options):
    count, left = usecases.export_presets(options.file)
    for place in left:
        output.warn(f"{place} is nothing that belongs in an export of presets: it was left out")
    return {"presets": count, "file": str(options.file)}


def _bundle(options: Options):
    licence = {"licence": atomic.read_text(options.licence, LARGEST_TEXT)} if options.licence else {}
    made = usecases.bundle_preset(options.name, options.file, options.textures, **licence)
    return {"preset": made.preset.name, "file": str(options.file), "files": list(made.files())}


def _import(options: Options):
    if usecases.holds_all(options.file):
        return _import_all(options)
    preset, file, textures = usecases.import_preset(options.file, options.name)
    told = {"preset": preset.name, "file": str(file), "warnings": preset.warnings}
    return {**told, "textures": str(textures)} if textures else told


def _import_all(options: Options):
    if options.name:
        raise PresetProblem(f"{options.file.name} holds several presets, which keep their names: leave --as out")
    told = usecases.import_all(options.file)
    failed = [each for each in told if not each.is_well]
    answer = {"presets": list(told)}
    return output.Partly(answer, f"{len(failed)} of {len(told)} were not taken in") if failed else answer


def _take(options: Options):
    taken = usecases.take_look(options.file, options.build, options.name)
    dials = {name: getattr(taken.look, name) for name in ("seed", "looseness", "wear", "textures", "quality")}
    saved = str(taken.file) if taken.file else "in the library already"
    return {"preset": taken.name, "build": taken.build, **dials, "file": saved}


def _rename(options: Options):
    return {"preset": options.new, "file": str(usecases.rename_preset(options.name, options.new))}


def _duplicate(options: Options):
    return {"preset": options.new, "file": str(usecases.duplicate_preset(options.name, options.new))}


def _describe(options: Options):
    preset = usecases.find_preset(options.name)
    note = preset.note if options.note is None else options.note
    tags = preset.tags if options.tags is None else tuple(options.tags)
    return {"preset": options.name, "file": str(usecases.describe_preset(options.name, note, tags))}


def _thumbnail(options: Options):
    from ..demo import still  # local: the other actions need none of it

    picture = still.picture(usecases.own_preset(options.name))
    return {"preset": options.name, "file": str(usecases.keep_picture(options.name, picture))}


def _delete(options: Options):
    usecases.delete_preset(options.name)
    return {"preset": options.name, "deleted": True}


def _restore(options: Options):
    return {"preset": options.name, "file": str(usecases.restore_preset(options.name))}


def _revert(options: Options):
    return {"preset": options.name, "file": str(usecases.revert_preset(options.name))}
