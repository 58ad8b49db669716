"""Photographs the lighthouse in six shots of one file, from wide to macro, each at its own dials.

python docs/pictures/shots.py           docs/shots.png: under each what it reads as, printed as a table too
python docs/pictures/shots.py --small   quickly, into the folder for temporary files: to tune the shots
"""

import sys
import tempfile
from pathlib import Path

import bpy
import captions  # beside this file

CHECKOUT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(CHECKOUT))

from addon import register, unregister, usecases  # noqa: E402  the checkout is no installed package
from addon.core.wear.quality import CLOSE_UP, GEOMETRY  # noqa: E402
from addon.demo import export, run, sheet, stage  # noqa: E402
from addon.demo.stage import View  # noqa: E402

SEED, PRESET = 7, "well-loved"
SHOTS = (
    (stage.WIDE, {"looseness": 2.0, "wear": 1.6}),
    (View("tower", (0.30, 0.45, 0.60), (0.35, -1.0, 0.16), 2.9, 85.0, 5.6, (0.27, 0.30, 0.60)), {"looseness": 1.6}),
    (stage.CLOSE, {"looseness": 1.3}),
    (View("roof", (0.60, 0.42, 0.36), (0.55, -1.0, 0.55), 1.05, 100.0, 11.0, (0.58, 0.34, 0.35)), {}),
    (View("jetty", (0.49, 0.15, 0.12), (0.30, -1.0, 0.50), 0.85, 100.0, 22.0, (0.47, 0.12, 0.12)), {"looseness": 0.9}),
    (
        View("macro", (0.27, 0.55, 0.66), (0.55, -1.0, 0.25), 0.55, 100.0, 32.0, (0.25, 0.50, 0.66)),
        {"looseness": 0.7, "dust": 0.8},
    ),
)
LASTS = 10  # frames
COLUMNS = 3
FINAL, SMALL = run.Size(576, 324, 96), run.Size(320, 180, 12)


def keyed(build: bpy.types.Collection) -> None:
    """The build with a preset and six shots on its timeline."""
    scene = bpy.context.scene
    stage.dress(scene, *run.box(build))
    for number, (view, _) in enumerate(SHOTS):
        camera = bpy.data.objects.get(view.name) or stage.camera(bpy.data.collections["stage"], run.box(build), view)
        camera.data.clip_start = 0.01
        scene.timeline_markers.new(view.name, frame=1 + LASTS * number).camera = camera
    scene.frame_start, scene.frame_end = 1, LASTS * len(SHOTS)
    usecases.apply(build, usecases.find_preset(PRESET), usecases.Dials(SEED, quality=CLOSE_UP.name, rounding=GEOMETRY))
    usecases.dial_shots(scene, {(view.name, dial): value for view, dials in SHOTS for dial, value in dials.items()})
    print(usecases.shots_on_timeline(build, scene).sentence, flush=True)


def read(build: bpy.types.Collection) -> dict[str, usecases.ReadsAs]:
    """What each shot reads as, by its name, at the size the pictures are taken in."""
    scene = bpy.context.scene
    return {each.shot.name: each for each in usecases.reads_as(build, scene, usecases.list_shots(scene))}


def told(each: usecases.ReadsAs) -> tuple[str, ...]:
    """The lines under a picture."""
    reads, dials = each.frames[0], each.shot.dials.turned
    return (
        f"{each.shot.name}: {', '.join(f'{name} {value:g}' for name, value in dials.items()) or 'as the preset'}",
        f"{reads.seen} bricks moved {reads.median_px:.2f} px (median), {reads.p90_px:.2f} (90th percentile), "
        f"{reads.largest_px:.2f} (largest)",
        f"scratches {reads.marks_px['scratches']:.2f} px wide, rounding {reads.rounding_px:.2f} px",
    )


def photograph(build: bpy.types.Collection, folder: Path, size: run.Size) -> list[Path]:
    scene, made, reading = bpy.context.scene, [], read(build)
    for number, (view, _) in enumerate(SHOTS):
        scene.frame_set(1 + LASTS * number)
        made.append(folder / f"{view.name}.png")
        stage.render(scene, bpy.data.objects[view.name], made[-1], size.width, size.height, size.samples)
        lines = told(reading[view.name])
        captions.caption(made[-1], lines)
        print("| " + " | ".join(lines) + " |", flush=True)
    return made


def main() -> None:
    size = SMALL if "--small" in sys.argv else FINAL
    register()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "lighthouse.glb"
        export.write_glb(path)
        build = usecases.open_build(path)
        bpy.context.scene.render.resolution_x, bpy.context.scene.render.resolution_y = size.width, size.height
        keyed(build)
        made = photograph(build, Path(folder), size)
        rows = [made[start : start + COLUMNS] for start in range(0, len(made), COLUMNS)]
        place = Path(tempfile.gettempdir()) if size is SMALL else CHECKOUT / "docs"
        sheet.join(rows, place / "shots.png")
    unregister()


if __name__ == "__main__":
    main()
