"""What is told of the user's own textures."""

from pathlib import Path

import bpy

from ...core import report
from ...core.presets.preset import Preset
from ...core.slices import whole
from ...core.wear import purpose
from ...core.wear.findings import Findings
from ...core.wear.layers import PICTURES
from ...core.wear.purpose import BY_NAME, Chosen
from ...scene.wear import findings, images
from ..progress import Steps


def survey_textures(folder: Path, preset: Preset, chosen: Chosen = BY_NAME) -> tuple[Findings, ...]:
    """What each picture of a folder is, in millimetres as the preset sizes it; nothing is changed."""
    return whole(surveying_textures(folder, preset, chosen))


def surveying_textures(folder: Path, preset: Preset, chosen: Chosen = BY_NAME) -> Steps[tuple[Findings, ...]]:
    """The same step by step."""
    sizes_mm = {kind: getattr(preset.wear, kind).size_mm for kind in PICTURES}
    return findings.surveying(folder, sizes_mm, chosen)


def texture_uses(folder: Path | None, chosen: Chosen = BY_NAME) -> tuple[report.TextureUse, ...]:
    """What becomes of each picture of a folder, by the names and as chosen; TextureProblem where there is no folder or
    no picture."""
    return purpose.uses(images.names(folder), chosen) if folder else ()


def missing_textures() -> tuple[str, ...]:
    """The user's pictures in the open file whose own files are gone by now, by name."""
    return images.missing(image for image in bpy.data.images if image.get(images.BROUGHT_IN))
