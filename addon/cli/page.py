"""The page that tells of one build: before and after, how its bricks sit, what it reads as, what was left alone."""

from collections.abc import Iterator
from pathlib import Path

import bpy

from .. import atomic, usecases
from ..blender import context
from ..core import report
from ..core.errors import PlaywornError
from ..core.pictures import page
from ..core.shots.reading import OFF_STUD_PX
from ..core.shots.shot import Shot, named
from . import charts

WIDE, SAMPLES = 640, 24  # of each picture, in px and at the most
LABELS = ("as exported", "worn")


def write(
    path: Path, build: bpy.types.Collection, told: report.Applied, shot: str | None, progress: usecases.Progress
) -> None:
    """Writes the page of a build that a preset was just applied to and whose file is saved: one without a camera is
    given one."""
    showing, scene = usecases.scenes_showing(build), context().scene
    scene = scene if scene in showing else next(iter(showing), scene)
    measured = usecases.account(build, scene)
    sections = [
        *_head(told, measured.check),
        page.section("Before and after", *_pair(build, scene, told, shot, progress)),
        page.section("How the bricks sit", *_fit(measured)),
        page.section("What it reads as", *_reads(measured)),
        page.section("Left alone", *_left_alone(told)),
        page.section("How it was made", _made(told)),
    ]
    atomic.write_text(path, page.page(f"{told.build}, {told.preset}", sections))


def _head(told: report.Applied, check: report.Check) -> Iterator[str]:
    """What a person looks for first, and what is to be looked at."""
    yield page.words(f"{told.sentence[:1].upper()}{told.sentence[1:]}.")
    yield page.figures(
        (
            ("bricks", f"{told.bricks}"),
            ("moved", f"{told.moved}"),
            ("median shift", f"{told.median_shift_mm:.3f} mm"),
            ("turned over 1°", f"{told.turned}"),
            ("lean at the top", f"{told.lean_mm:.2f} mm"),
            ("joints at their play", f"{told.tight:.0%}"),
            ("deepest cut", f"{check.max_interference_mm:.3f} mm"),
            ("materials worn", f"{told.materials}"),
        )
    )
    for sentence in (told.warning, *check.misfits):
        if sentence:
            yield page.words(sentence, "warn")
    if told.dry:
        yield page.words(f"{told.dry}.", "quiet")


def _pair(
    build: bpy.types.Collection,
    scene: bpy.types.Scene,
    told: report.Applied,
    name: str | None,
    progress: usecases.Progress,
) -> Iterator[str]:
    try:
        shot, where = _view(build, scene, name)
        made = usecases.photograph_pair(build, scene, shot, WIDE, SAMPLES, progress)
    except PlaywornError as problem:
        yield page.words(f"There are no pictures: {problem}.", "warn")
        return
    clean, worn = (
        page.Photo(content, "image/jpeg", made.wide, made.tall, f"The build {told.build}, {words}")
        for content, words in zip((made.clean, made.worn), (LABELS[0], f"worn by {told.preset}"), strict=True)
    )
    yield page.pair(clean, worn, LABELS)
    yield page.words(f"{where} Drag, or use the arrow keys.", "quiet")


def _view(build: bpy.types.Collection, scene: bpy.types.Scene, name: str | None) -> tuple[Shot | None, str]:
    """The shot to look through, None for the scene's own camera, and what is told of it; where the file has neither, it
    gets a studio."""
    shots = usecases.list_shots(scene)
    if name or (shots and scene.camera is None):
        shot = named(shots, name) if name else shots[0]
        return shot, f"Through {shot.camera}, in the middle of the shot {shot.name}."
    if scene.camera:
        return None, f"Through {scene.camera.name}, at frame {scene.frame_current}."
    from ..demo import studio  # local: of the commands only this one and the demo need it

    studio.set_up(build, scene, SAMPLES)
    return None, "The file has no camera: seen in the demo's studio, which is not in the file."


def _fit(measured: usecases.Account) -> Iterator[str]:
    yield page.words(
        "Each bar is a share of the bricks, joints or seams, measured from where the bricks stand. The dashed line is "
        "the median, the whole one what they are measured against.",
        "quiet",
    )
    yield page.charts((charts.spread(each), f"{each.told} {each.figures}.") for each in measured.spreads)
    yield page.table(
        "Joints, by how many studs hold",
        ("studs", "joints", "median step", "at their play"),
        [
            (each.studs, each.joints, f"{each.play_used:.0%} of the play", each.at_their_play)
            for each in measured.joints
        ],
    )


def _reads(measured: usecases.Account) -> Iterator[str]:
    if not measured.shots:
        yield page.words("The file has no camera, so there is nothing to read it through.")
        return
    rows = [(each.shot.name, each.motions_px) for each in measured.shots]
    caption = (
        "Thin: nine of ten bricks seen. Thick: half of them. Diamond: the median. Beyond the line, at "
        f"{OFF_STUD_PX:g} px, a brick is seen to sit off its studs."
    )
    yield page.charts([(charts.reads(rows, OFF_STUD_PX), caption)])
    yield page.table(
        "Where most is seen to move",
        ("shot", "camera", "frame", "bricks seen", "median px", "90 % px", "largest px", "scratch px", "rounding px"),
        [_row(each) for each in measured.shots],
    )
    for sentence in (words for each in measured.shots for frame in each.frames for words in frame.warnings):
        yield page.words(sentence, "warn")


def _row(each: usecases.ReadsAs) -> tuple[str | int | float, ...]:
    reads = max(each.frames, key=lambda frame: frame.median_px)
    scratch = reads.marks_px.get("scratches")
    px = (reads.median_px, reads.p90_px, reads.largest_px)
    told = (each.shot.name, each.shot.camera, reads.frame, reads.seen, *(f"{value:.2f}" for value in px))
    return *told, "-" if scratch is None else f"{scratch:.2f}", f"{reads.rounding_px:.2f}"


def _left_alone(told: report.Applied) -> Iterator[str]:
    if not told.skipped:
        yield page.words("Nothing: no object and no material of the build.")
    reasons: dict[str, list[str]] = {}
    for each in told.skipped:
        reasons.setdefault(each.reason, []).append(each.object)
    for reason, objects in sorted(reasons.items(), key=lambda each: -len(each[1])):
        yield page.names(f"{len(objects)} × {reason}", objects)
    if told.textures:
        rows = [(each.layer or "left out", each.picture, each.reason or "used") for each in told.textures]
        yield page.table("Pictures of the wear", ("layer", "picture", "why"), rows)


def _made(told: report.Applied) -> str:
    dials = {
        "preset": told.preset, "seed": str(told.seed), "looseness": f"{told.looseness:g}", "wear": f"{told.wear:g}",
        "quality": told.quality, "rounding": told.rounding,
    }  # fmt: skip
    return page.table("The same of these and the same file give the same build", ("dial", "value"), dials.items())
