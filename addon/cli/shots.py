"""The command `shots`: what each shot reads as, and its dials."""

import argparse
from collections.abc import Callable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import bpy

from .. import atomic, usecases
from ..blender import context
from ..core.errors import ShotProblem
from ..core.shots.plate import Plate
from ..core.shots.reading import OFF_STUD_PX, Reading
from ..core.shots.shot import SETTINGS, Shot, Solved, named
from . import kinds, opening, output

Options = argparse.Namespace
ON, OFF = "on", "off"
_UNEVEN = "not told: the plate shows too little even ground"
_LOCKED = "is locked, so its dials stay"
_UNKNOWN = "shows too few clean edges to tell how sharp it is, or is softer than can be told"


def add(sub: argparse.ArgumentParser) -> None:
    """The options of `shots`."""
    sub.add_argument("file", type=Path, metavar="FILE", help=".blend")
    sub.add_argument("--build", default="", metavar="NAME", help="look at this collection (default: the likeliest)")
    sub.add_argument("--shot", metavar="NAME", help="this one alone")
    sub.add_argument("--frame", type=int, metavar="N", help="measure here (default: first, middle and last of a shot)")
    sub.add_argument("--most", type=float, default=OFF_STUD_PX, metavar="PX", help="warn above (default: 3)")
    sub.add_argument("--target", type=float, metavar="PX", help="dial looseness so that the median motion reads so")
    sub.add_argument("--highlight", type=float, metavar="PX", help="dial rounding up until the edge radius reads so")
    _add_each(
        sub, "--set", "SHOT.DIAL=X", "set a shot's dial, as in sh020.looseness=0.6; as often as you like", _change
    )
    _add_each(
        sub,
        "--grow",
        "SHOT=X",
        "let its wear grow from its dial at the first frame to X at its last; without X it stays",
        _grow,
    )
    told = "give a shot's dials to these others, or to all that are not locked, as in sh020=sh030,sh040"
    _add_each(sub, "--copy", "SHOT[=SHOT,…]", told, _copy)
    _add_each(
        sub, "--setting", "SHOT=A|B", "turn to one of a shot's two settings; the other's dials are kept", _setting
    )
    _add_each(sub, "--lock", "SHOT", "nothing turns its dials any more")
    _add_each(sub, "--unlock", "SHOT", "its dials can be turned again")
    _add_each(sub, "--note", "SHOT=WORDS", "keep a note on a shot; without words it goes", _note)
    sub.add_argument("--find", action="store_true", help="find the shots anew on the timeline; dials stay by name")
    sub.add_argument("--forget", action="store_true", help="take the shots out of the file")
    sub.add_argument("--plate", type=Path, metavar="PICTURE", help="which marks are finer than this plate is sharp")
    sub.add_argument("--timeline", choices=(ON, OFF), help="key the dials of all shots, or take the keys off again")
    sub.add_argument("--chart", type=kinds.svg, metavar="OUT.svg", help="draw how the motions are spread, too")
    sub.add_argument("--out", type=kinds.blend, metavar="OUT.blend", help="keep the shots and their dials in this file")


def _add_each(
    sub: argparse.ArgumentParser, option: str, what: str, told: str, read: Callable[[str], Any] = str
) -> None:
    """An option that may be given as often as one likes."""
    sub.add_argument(option, type=read, action="append", default=[], metavar=what, help=told)


def _change(text: str) -> tuple[tuple[str, str], float]:
    path, _, value = text.partition("=")
    shot, _, dial = path.rpartition(".")
    try:
        return (shot, dial), float(value)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not SHOT.DIAL=NUMBER, as in sh020.looseness=0.6') from None


def _grow(text: str) -> tuple[str, float | None]:
    shot, is_given, value = text.partition("=")
    try:
        return shot, (float(value) if value or not is_given else None)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not SHOT=NUMBER, as in sh020=1.5, nor SHOT= alone') from None


def _copy(text: str) -> tuple[str, tuple[str, ...]]:
    source, is_given, names = text.partition("=")
    to = tuple(name.strip() for name in names.split(",") if name.strip())
    if not source or (is_given and not to):
        raise argparse.ArgumentTypeError(f'"{text}" is not SHOT=SHOT,SHOT, as in sh020=sh030,sh040, nor SHOT alone')
    return source, to


def _setting(text: str) -> tuple[str, str]:
    shot, _, setting = text.partition("=")
    if setting not in SETTINGS:
        raise argparse.ArgumentTypeError(f'"{text}" is not SHOT=A or SHOT=B, as in sh020=B')
    return shot, setting


def _note(text: str) -> tuple[str, str]:
    shot, is_given, words = text.partition("=")
    if not is_given:
        raise argparse.ArgumentTypeError(f'"{text}" is not SHOT=WORDS, as in "sh020=seam on the door is too wide"')
    return shot, words


def run(options: Options) -> dict[str, Any] | output.Partly:
    """Opens the file, turns dials where asked, measures, and keeps the shots where a place is given for them."""
    for target in filter(None, (options.out, options.chart)):
        atomic.check_writable(target)
    if (options.forget or options.timeline or options.lock or options.note) and options.out is None:
        raise ShotProblem("the file stays as it is without a place for the new one: give --out OUT.blend")
    plate = usecases.look_at_plate(options.plate) if options.plate else None
    build = opening.build(options.file, options.build)
    scene = context().scene
    if scene not in usecases.scenes_showing(build):
        raise ShotProblem(f'the build "{build.name}" is not in the scene "{scene.name}", whose shots these are')
    for name in options.unlock:
        usecases.lock_shot(scene, name, False)
    if options.forget:
        count = usecases.forget_shots(scene)
        usecases.save(options.out)
        return {"forgotten": count, "file": str(options.out)}
    shots = usecases.find_shots(scene) if options.find else usecases.list_shots(scene)
    if not shots:
        raise ShotProblem(f'the scene "{scene.name}" has no camera: add one, or bind cameras to markers')
    chosen = (named(shots, options.shot),) if options.shot else shots
    targets, left = _turned(build, scene, chosen, options)
    chosen = tuple(named(usecases.list_shots(scene), shot.name) for shot in chosen)
    told = usecases.reads_as(build, scene, chosen, options.frame, options.most)
    answer: dict[str, Any] = {"build": build.name, "shots": [_told(each, options.json) for each in told]}
    if plate:
        answer["plate"] = _of_plate(plate, scene, told)
    if options.timeline:
        answer["timeline"] = _on_timeline(build, scene, options.timeline)
    if words := usecases.blur_at_cuts(build, scene):
        answer["warnings"] = [words]
    if targets:
        answer["targets"] = targets
    if left:
        answer["skipped"] = [{"object": name, "reason": _LOCKED} for name in left]
    if options.chart:
        usecases.save_chart(told, options.chart)
        answer["chart"] = str(options.chart)
    if options.out:
        usecases.keep_shots(scene)
        usecases.save(options.out)
        answer["file"] = str(options.out)
    missed = [each["shot"] for each in targets if not each["met"]]
    return output.Partly(answer, f"the target is not met in {', '.join(missed)}") if missed else answer


def _of_plate(plate: Plate, scene: bpy.types.Scene, told: tuple[usecases.ReadsAs, ...]) -> dict[str, Any]:
    grain = {"grain": output.plain(plate.grain) if plate.grain else _UNEVEN}
    if plate.sharpness is None:
        return {"file": plate.file, "edges": 0, "told": _UNKNOWN, **grain}
    lost = [f"{each.shot.name}: {words}" for each in told for words in usecases.lost_on_plate(plate, scene, each)]
    sharp = plate.sharpness
    return {
        "file": plate.file,
        "edges": sharp.edges,
        "mtf50_cycles_a_px": sharp.mtf50,
        "blur_px": sharp.blur_px,
        "finest_px": sharp.finest_px,
        **({"doubt": sharp.doubt} if sharp.doubt else {}),
        **grain,
        "lost": lost,
    }


def _on_timeline(build: bpy.types.Collection, scene: bpy.types.Scene, way: str) -> dict[str, Any]:
    if way == OFF:
        return {"shots_taken_off": usecases.off_timeline(build)}
    return output.plain(usecases.shots_on_timeline(build, scene, output.progress))


def _turned(build, scene, chosen: tuple[Shot, ...], options: Options) -> tuple[list[dict[str, Any]], list[str]]:
    """Turns settings, then dials by number, growth, copy and target, then locks and notes, as asked for; what came of
    the targets, and which shots stayed since they are locked."""
    for name, setting in options.setting:
        usecases.set_shot(scene, name, setting)
    if options.set:
        usecases.dial_shots(scene, dict(options.set))
    for name, value in options.grow:
        usecases.grow_shot(scene, name, value)
    for source, names in options.copy:
        others = [shot for shot in usecases.list_shots(scene) if shot.name != source]
        usecases.copy_dials(scene, source, names or [shot.name for shot in _free(others)])
    targets = _dialled(build, scene, chosen, options)
    locked = [shot.name for shot in usecases.list_shots(scene) if shot.locked]
    for name in options.lock:
        usecases.lock_shot(scene, name)
    for name, words in options.note:
        usecases.note_shot(scene, name, words)
    is_for_all = (targets and not options.shot) or not all(names for _, names in options.copy)
    return targets, locked if is_for_all else []


def _free(shots: Sequence[Shot]) -> list[Shot]:
    """Those of many shots that are not locked; ShotProblem where all are."""
    free = [shot for shot in shots if not shot.locked]
    if shots and not free:
        raise ShotProblem(f"{', '.join(shot.name for shot in shots)}: locked, unlock one first")
    return free


def _dialled(build, scene, chosen: tuple[Shot, ...], options: Options) -> list[dict[str, Any]]:
    """Turns the dials of the shots to the targets asked for; what came of it."""
    rows = []
    jobs = (("looseness", options.target, usecases.dial_to), ("rounding", options.highlight, usecases.round_to))
    for dial, target, job in jobs:
        if target is None:
            continue
        by_now = [named(usecases.list_shots(scene), shot.name) for shot in chosen]
        for shot in by_now if options.shot else _free(by_now):
            now, found = job(build, scene, shot, target, options.frame)
            usecases.dial_shots(scene, {(shot.name, dial): getattr(now.dials, dial)})
            rows.append(_target(shot, dial, target, found))
    return rows


def _target(shot: Shot, dial: str, target: float, found: Solved) -> dict[str, Any]:
    short = found.px < target
    far = f"{found.px:.2f} px is the {'most' if short else 'nearest'} that the dial and the tolerances give"
    return {
        "shot": shot.name,
        "dial": dial,
        "value": found.dial,
        "target_px": target,
        "reads_px": found.px,
        "met": found.met,
        "warnings": [] if found.met else [far],
    }


def _told(each: usecases.ReadsAs, as_json: bool) -> dict[str, Any]:
    """One shot, whole for JSON; as a row of a table the frame where most is seen to move."""
    shot = each.shot
    head = {"name": shot.name, "camera": shot.camera, "first": shot.first, "last": shot.last}
    if as_json:
        own = {"dials": asdict(shot.dials), "setting": shot.setting, "locked": shot.locked, "note": shot.note}
        return {**head, **own, "reads_as": [output.plain(frame) for frame in each.frames]}
    worst = max(each.frames, key=lambda frame: frame.median_px)
    dials = " ".join(shot.dials.words())
    warnings = [words for frame in each.frames for words in frame.warnings]
    own = {"dials": dials or "as the build", "locked": shot.locked}
    return {**head, **own, **_row(worst), "note": shot.note, "warnings": warnings}


def _row(told: Reading) -> dict[str, Any]:
    return {
        "frame": told.frame,
        "in_frame": f"{told.in_frame:.0%}",
        "seen": told.seen,
        "missed": f"{told.missed:.0%}",
        "median_px": told.median_px,
        "p90_px": told.p90_px,
        "largest_px": told.largest_px,
        "scratch_px": told.marks_px.get("scratches"),
        "rounding_px": told.rounding_px,
        "texels_per_px": min(told.texels_per_px.values(), default=None),
        "blur_px": told.blur_px,
    }
