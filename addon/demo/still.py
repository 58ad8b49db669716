"""The still life of every preset's picture: two bricks and a slope of three colours, one of them clear."""

import tempfile
from pathlib import Path

from .. import usecases
from ..blender import context
from ..core.presets import thumbnail
from ..core.presets.preset import Preset
from ..core.wear.quality import CLOSE_UP
from . import closeup, run, stage
from .lighthouse import Placed, placed
from .parts import BRICK, PLATE

SEED = 7
SIZE = run.Size(160, 120, 40)  # as large as a list shows it


def bricks() -> tuple[Placed, ...]:
    """On a plate that stays, as a product photographer would set them."""
    return (
        placed("plate_8x8", "stone", -2, -2, 0.0),
        placed("brick_2x4", "signal red", 0, 0, PLATE, turns=1),
        placed("brick_2x2", "lamp amber", 0, 2, PLATE),
        placed("slope_2x2", "chalk white", 1, 0, PLATE + BRICK),
    )


SHOT = closeup.Shot(
    "still", bricks(), (-36, -78, 62), (16, 12, 12), (10, 0, 16), 82, 32, (90, -60, 80), (60, 60), 0.12, 0.08
)


def photograph(preset: Preset, path: Path, size: run.Size) -> None:
    """Renders the still life in a preset as a PNG file; it takes the place of the open file."""
    build = closeup.bring_in(SHOT)
    camera = closeup.staged(SHOT, build)
    usecases.apply(build, preset, usecases.Dials(SEED, quality=CLOSE_UP.name))
    stage.render(context().scene, camera, path, size.width, size.height, size.samples)


def picture(preset: Preset) -> bytes:
    """The preset's small picture, a PNG that tells of which look it is."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "still.png"
        photograph(preset, path, SIZE)
        return thumbnail.marked(path.read_bytes(), preset)
