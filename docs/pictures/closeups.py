"""Photographs the trial builds from near by, as exported and with presets: what a fit looks like to a camera.

python docs/pictures/closeups.py [SHOT …]      docs/wall.png, tower.png, block.png: as exported, well-loved, toy-box;
                                               docs/top.png: well-loved, looseness at 0, 1 and 2
python docs/pictures/closeups.py --trial DIR   every preset, small, into DIR: to tune them by eye
"""

import argparse
import sys
import tempfile
from pathlib import Path

import bpy

CHECKOUT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(CHECKOUT))

import trials  # noqa: E402  beside this file

from addon import register, unregister, usecases  # noqa: E402  the checkout is no installed package
from addon.core.wear.quality import CLOSE_UP  # noqa: E402
from addon.demo import closeup, run, sheet, stage  # noqa: E402
from addon.demo.closeup import Shot  # noqa: E402

SEED = 7
CLEAN = ("clean", 0.0)
SHOWN = (CLEAN, ("well-loved", 1.0), ("toy-box", 1.0))
DIALLED = (("well-loved", 0.0), ("well-loved", 1.0), ("well-loved", 2.0))
ALL = (CLEAN, *((name, 1.0) for name in ("fresh", "display-shelf", "well-loved", "toy-box", "attic")))
FINAL, TRIAL = run.Size(480, 540, 48), run.Size(320, 360, 24)

SHOTS = (
    Shot("wall", trials.wall(), (-84, -36, 112), (30, 3, 62), (0, 1, 80), 62, 45, (400, -110, 120), (90, 160), 0.45),
    Shot("tower", trials.tower(), (-34, -94, 16), (15, 4, 110), (8, 0, 106), 60, 45, (70, -150, 240), (120, 70), 0.3),
    Shot("block", trials.block(), (-78, -102, 88), (27, 22, 48), (10, 4, 60), 66, 45, (216, -150, 46), (70, 130), 0.7),
    Shot("top", trials.wall(), (-34, -52, 142), (20, 5, 86), (14, 4, 88), 84, 45, (160, 110, 200), (70, 70), 0.25),
)


def photograph(shot: Shot, states: tuple[tuple[str, float], ...], folder: Path, size: run.Size) -> list[Path]:
    """One picture of a shot for each state: as exported, or with a preset at a looseness."""
    build = closeup.bring_in(shot)
    camera = closeup.staged(shot, build)
    made = []
    for name, looseness in states:
        if (name, looseness) != CLEAN:
            told = usecases.apply(
                build, usecases.find_preset(name), usecases.Dials(SEED, looseness, quality=CLOSE_UP.name)
            )
            print(f"{shot.name}, {name} at {looseness:g}: {told.sentence}", flush=True)
        made.append(folder / f"{shot.name}_{name}_{looseness:g}.png")
        stage.render(bpy.context.scene, camera, made[-1], size.width, size.height, size.samples)
    return made


def strip(shot: Shot, states: tuple[tuple[str, float], ...], path: Path) -> None:
    """A row of finished pictures."""
    with tempfile.TemporaryDirectory() as folder:
        sheet.join([photograph(shot, states, Path(folder), FINAL)], path)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--trial", type=Path, metavar="DIR")
    options.add_argument("shots", nargs="*", metavar="SHOT", help="of wall, tower, block and top; all if none")
    given = options.parse_args()
    trial, wanted = given.trial, given.shots or [shot.name for shot in SHOTS]
    register()
    shots = [shot for shot in SHOTS if shot.name in wanted]
    if trial:
        trial.mkdir(parents=True, exist_ok=True)
        for shot in shots:
            sheet.join([photograph(shot, ALL, trial, TRIAL)], trial / f"{shot.name}.png")
    else:
        for shot in shots:
            strip(shot, DIALLED if shot.name == "top" else SHOWN, CHECKOUT / "docs" / f"{shot.name}.png")
    unregister()


if __name__ == "__main__":
    main()
