"""A shot's photographed plate in linear colours: a picture, or the first frame of a movie."""

import os.path
import re
from pathlib import Path
from typing import cast

import bpy
import numpy as np

from ...core.errors import FileProblem
from ...core.wear import cielab
from ...stdout import errors_dropped, kept_clean
from .. import pictures


def of_camera(camera: bpy.types.Object, frame: int) -> Path | None:
    """The file of the picture that a camera has in its background, on a frame: of a movie the movie; None for none."""
    for behind in cast(bpy.types.Camera, camera.data).background_images:
        held = behind.image if behind.source == "IMAGE" else behind.clip
        if held is not None and held.filepath:
            path = Path(bpy.path.abspath(held.filepath, library=held.library))
            return _on_frame(path, behind.image_user, frame) if held.source == "SEQUENCE" else path
    return None


def _on_frame(path: Path, user: bpy.types.ImageUser, frame: int) -> Path:
    """The file of a sequence that is shown on a frame: the last digits of its name are the frame's."""
    number = min(max(frame - user.frame_start + 1, 1), max(user.frame_duration, 1)) + user.frame_offset
    digits = re.search(r"\d+(?=\D*$)", path.stem)
    if digits is None:
        return path
    stem = f"{path.stem[: digits.start()]}{number:0{len(digits[0])}d}{path.stem[digits.end() :]}"
    return path.with_name(stem + path.suffix)


def colours(path: Path) -> np.ndarray:
    """The linear colours (rows, columns, 3) of a plate, rows upwards, 1 the white of a screen; FileProblem where it is
    none.

    A movie, and a picture of 8 bits, is taken as sRGB; the others as their files say. The open file stays as it was.
    """
    if not os.path.isfile(path):
        raise FileProblem(f'there is no plate "{path}": check the name and the folder')
    image = None
    try:
        if fault := pictures.fault(path):
            raise FileProblem(f'the plate "{path}" {fault}: choose another')
        with kept_clean(), errors_dropped():
            image = bpy.data.images.load(str(path.resolve()), check_existing=False)
            return _colours(image)
    except (OSError, RuntimeError):
        raise FileProblem(f'the plate "{path}" is no picture or movie that can be read: choose another') from None
    finally:
        if image is not None:
            bpy.data.images.remove(image)


def _colours(image: bpy.types.Image) -> np.ndarray:
    """Linear colours (rows, columns, 3)."""
    if not all(image.size):  # asking for it decodes the file
        raise RuntimeError("it holds no picture")
    channels = pictures.values(image)
    colours = channels[..., :3] if image.channels >= 3 else np.repeat(channels[..., :1], 3, axis=-1)
    return np.nan_to_num(colours) if image.is_float else cielab.decoded(colours)
