"""The whole job on the lighthouse: export, bring in, render, apply a preset, render again, tell."""

import json
from collections.abc import Collection
from dataclasses import asdict, dataclass
from pathlib import Path
from time import perf_counter

import bpy
from mathutils import Vector

from .. import atomic, usecases
from ..blender import context
from ..core.errors import FileProblem
from ..core.report import Applied, Inspection
from ..core.wear.quality import USUAL_ROUNDING
from . import export, sheet, stage

PRESET = "well-loved"
SEED = 7
FILES = (
    "lighthouse.glb",
    "wide_clean.png",
    "close_clean.png",
    "wide_worn.png",
    "close_worn.png",
    "before_after.png",
    "lighthouse.blend",
    "report.json",
)


@dataclass(frozen=True)
class Size:
    """How large and how fine the pictures are."""

    width: int
    height: int
    samples: int


FULL = Size(960, 540, 48)
QUICK = Size(320, 180, 16)


@dataclass(frozen=True)
class Demo:
    """What the demo made and found."""

    build: Inspection
    applied: Applied
    files: dict[str, str]  # name -> path
    seconds: float


def run(out: Path, quick: bool = False, progress: usecases.Progress = usecases.quiet) -> Demo:
    """Everything from the CAD export to the worn pictures, into the folder `out`, which is made where it is missing.

    Takes the place of the open file. Raises PlaywornError where the folder cannot be used.
    """
    started = perf_counter()
    size = QUICK if quick else FULL
    made = _places(out)

    progress(0.0, "exporting the lighthouse")
    export.write_glb(made["lighthouse.glb"])
    progress(0.03, "bringing it in")
    build = usecases.open_build(made["lighthouse.glb"])
    found = usecases.inspect(build)
    cameras = stage.dress(context().scene, *box(build))

    _shoot(cameras, made, "clean", size, 0.06, progress)
    progress(0.44, f"applying {PRESET}")
    applied = usecases.apply(build, usecases.find_preset(PRESET), usecases.Dials(seed=SEED, rounding=USUAL_ROUNDING))
    _shoot(cameras, made, "worn", size, 0.48, progress)

    progress(0.96, "joining the pictures")
    sheet.join(
        [[made["wide_clean.png"], made["wide_worn.png"]], [made["close_clean.png"], made["close_worn.png"]]],
        made["before_after.png"],
    )
    context().scene.camera = cameras[0]
    usecases.save(made["lighthouse.blend"])
    told = Demo(found, applied, {name: str(path) for name, path in made.items()}, round(perf_counter() - started, 1))
    atomic.write_text(made["report.json"], json.dumps(asdict(told), indent=2))
    progress(1.0, "done")
    return told


def _places(out: Path) -> dict[str, Path]:
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileProblem(f'the folder "{out}" cannot be made: choose another') from error
    made = {name: out / name for name in FILES}
    for path in made.values():
        atomic.check_writable(path)
    return made


def box(build: bpy.types.Collection, without: Collection[str] = ()) -> tuple[Vector, Vector]:
    """What the meshes of a build take up, without objects of these names."""
    context().view_layer.update()
    corners = [
        thing.matrix_world @ Vector(corner)
        for thing in build.all_objects
        if thing.type == "MESH" and thing.name not in without
        for corner in thing.bound_box
    ]
    low, high = ([pick(c[axis] for c in corners) for axis in range(3)] for pick in (min, max))
    return Vector(low), Vector(high)


def _shoot(cameras, made: dict[str, Path], state: str, size: Size, fraction: float, progress) -> None:
    for number, camera in enumerate(cameras):
        progress(fraction + 0.19 * number, f"rendering {camera.name}, {state}")
        path = made[f"{camera.name}_{state}.png"]
        stage.render(context().scene, camera, path, size.width, size.height, size.samples)
