"""What a farm runs, by a Blender that knows nothing of the extension: a job has this file in it as it stands.

task.py check FILE                                             fails where the file lacks pictures or libraries
task.py render FILE FOLDER SHOT CAMERA FIRST-LAST [DIAL=X …]   the frames that are not there yet
task.py whole FOLDER SHOT:FIRST-LAST …                         fails where a frame is missing
"""

import os
import sys
from pathlib import Path
from typing import cast

import bpy

_RAW = "playworn_"


def missing() -> list[str]:
    """The names of pictures and libraries that the open file needs and that are gone."""
    pictures = [image for image in bpy.data.images if image.users and image.source == "FILE" and not image.packed_file]
    needed = [*pictures, *(library for library in bpy.data.libraries if not library.packed_file)]
    paths = [Path(bpy.path.abspath(each.filepath, library=each.library)) for each in needed]
    return sorted({path.name for path in paths if not path.is_file()})


def set_output(scene: bpy.types.Scene) -> None:
    """Renders go to multi-layer OpenEXR of one part at full precision, past compositor and sequencer, by no marker's
    camera."""
    output, form = scene.render, scene.render.image_settings
    output.use_compositing = output.use_sequencer = output.use_multiview = False
    output.use_file_extension = True
    # Some of these not every Blender has; each decides which values the next may have.
    for name, value in (
        ("media_type", "MULTI_LAYER_IMAGE"),
        ("file_format", "OPEN_EXR_MULTILAYER"),
        ("color_depth", "32"),  # half floats would spoil mattes
        ("exr_codec", "ZIP"),
        ("use_exr_interleave", True),
    ):
        if hasattr(form, name):
            setattr(form, name, value)
    for marker in scene.timeline_markers:
        marker.camera = None


def render(scene: bpy.types.Scene, camera: bpy.types.Object, frame: int, path: Path) -> None:
    """Renders one frame into a file."""
    scene.frame_set(frame)
    scene.camera = camera
    scene.render.filepath = str(path)
    bpy.ops.render.render(write_still=True, scene=scene.name)


def file_name(shot: str, frame: int) -> str:
    """As sh020.0101.exr: a shot's name holds no dot."""
    return f"{shot}.{frame:04d}.exr"


def frames(words: str) -> range:
    """Frames as told: first, two dots, last."""
    first, last = words.split("..")
    return range(int(first), int(last) + 1)


def _check(file: str) -> None:
    _open(file)
    if gone := missing():
        _fail(f"cannot be found, which {file} needs: {', '.join(gone)}")


def _render(file: str, folder: str, shot: str, camera: str, wanted: str, *dials: str) -> None:
    _check(file)
    scene = cast(bpy.types.Scene, bpy.context.scene)
    set_output(scene)
    if camera not in scene.objects:
        _fail(f"there is no camera {camera} in {file}")
    os.makedirs(folder, exist_ok=True)
    own = {layer: dict(layer.items()) for layer in scene.view_layers}
    for done, frame in enumerate(frames(wanted)):
        path = Path(folder, file_name(shot, frame))
        if not path.exists():
            scene.frame_set(frame)
            for layer, kept in own.items():
                _dial(scene, layer, kept, dials)
            unfinished = path.with_name(f".{path.stem}.{os.getpid()}.unfinished.exr")
            render(scene, scene.objects[camera], frame, unfinished)
            os.replace(unfinished, path)
        print(f"openjd_progress: {100.0 * (done + 1) / len(frames(wanted)):.0f}", flush=True)


def _dial(scene: bpy.types.Scene, layer: bpy.types.ViewLayer, own: dict, dials: tuple[str, ...]) -> None:
    """Multiplies the wear and its layers as the frame has them: what stands on a view layer goes before the scene's."""
    for dial in dials:
        name, _, factor = dial.partition("=")
        if float(factor) == 1.0:
            continue
        if name == "wear":
            layer[f"{_RAW}wear"] = float(factor) * own.get(f"{_RAW}wear", scene.get(f"{_RAW}wear", 0.0))
        else:
            more = own.get(f"{_RAW}more_{name}", scene.get(f"{_RAW}more_{name}", 0.0))
            layer[f"{_RAW}more_{name}"] = float(factor) * (1.0 + more) - 1.0


def _whole(folder: str, *shots: str) -> None:
    told = (words.rpartition(":") for words in shots)
    wanted = [file_name(shot, frame) for shot, _, words in told for frame in frames(words)]
    gone = [name for name in wanted if not Path(folder, name).is_file()]
    if gone:
        _fail(f"missing in {folder}: {', '.join(gone)}")


def _open(file: str) -> None:
    if not Path(file).is_file():
        _fail(f"there is no file {file}")
    bpy.ops.wm.open_mainfile(filepath=file, load_ui=False, use_scripts=False)


def _fail(words: str) -> None:
    print(f"openjd_fail: {words}", flush=True)
    sys.exit(1)


if __name__ == "__main__":
    given = sys.argv[sys.argv.index("--") + 1 :] if "--" in sys.argv else sys.argv[1:]
    {"check": _check, "render": _render, "whole": _whole}[given[0]](*given[1:])
