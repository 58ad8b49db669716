"""The button that renders all shots onto one sheet: of the file as it stands, by a Blender in the background.

That one opens a copy, so that the window works on and nothing of the open file changes.
"""

from pathlib import Path
from tempfile import TemporaryDirectory

import bpy

from ... import usecases
from ...core.errors import PlaywornError, ShotProblem
from ...core.report import counted
from .. import errand, told
from ..action import Report
from ..context import Context, Ending
from ..errand import Errand
from ..files import Writes
from ..progress import progress, say
from . import shots
from .shooting import OnShots

_EVERY_S = 0.25  # between two looks at the work
_GIVEN_UP = "Given up: no sheet was written"

_work: Errand | None = None


class SaveSheet(Writes, OnShots, bpy.types.Operator):
    """Render every shot beside its plate, with dials and what it reads as, onto one picture; the window works on"""

    bl_idname = "playworn.save_sheet"
    bl_label = "Contact Sheet"
    suffix = ".png"

    filter_glob: bpy.props.StringProperty(default="*.png", options={"HIDDEN"})
    wide: bpy.props.IntProperty(
        name="Width", description="Of each shot, in pixels", default=480, min=64, max=4096, subtype="PIXEL"
    )
    samples: bpy.props.IntProperty(
        name="Samples",
        description="Of Cycles, at most; the scene's own where these are fewer",
        default=32,
        min=1,
        max=1_000_000,
    )

    _waits = False  # whether another Blender does it
    _timer: bpy.types.Timer | None = None
    _count = 0  # of the shots

    @classmethod
    def lacking(cls, context: Context) -> str:
        is_busy = "A contact sheet is being rendered: wait for it, or press Esc to give it up"
        return super().lacking(context) or (is_busy if _work is not None else "")

    def suggested(self, context: Context) -> str:
        return f"{Path(bpy.data.filepath).stem or bpy.path.clean_name(context.scene.playworn.build.name)}-shots"

    def invoke(self, context: Context, event: bpy.types.Event) -> Ending:
        self._waits = errand.is_open()
        return self.execute(context) if self.is_chosen else super().invoke(context, event)

    def act(self, context: Context) -> Report:
        """All of it here, for a script."""
        build, scene = context.scene.playworn.build, context.scene
        with progress(context) as show:
            self._count = usecases.save_contact(
                build, scene, usecases.list_shots(scene), self.path, self.wide, self.samples, progress=show
            ).shots
        return self._done()

    def execute(self, context: Context) -> Ending:
        if not self._waits:
            return super().execute(context)
        self._waits = False
        try:
            begin(context, self.path, self.wide, self.samples)
        except PlaywornError as problem:
            self.report({"ERROR"}, str(problem))
            return {"CANCELLED"}
        self._count = len(shots.listed(context.scene))
        self._timer = context.window_manager.event_timer_add(_EVERY_S, window=context.window)
        context.window_manager.modal_handler_add(self)
        return {"RUNNING_MODAL"}

    def modal(self, context: Context, event: bpy.types.Event) -> Ending:
        if event.type == "ESC" and event.value == "PRESS":
            self.cancel(context)
            self.report({"INFO"}, _GIVEN_UP)
            return {"CANCELLED"}
        return self._look(context) if event.type == "TIMER" else {"PASS_THROUGH"}

    def cancel(self, context: Context) -> None:
        """Blender calls it too, where the window is closed or another file opened meanwhile."""
        forget()
        self._leave(context)

    def _look(self, context: Context) -> Ending:
        """Shows how far it has come, or comes to its end."""
        if _work is not None and not _work.is_over:
            say(context, f"Playworn: contact sheet, {_step(_work)}; Esc gives up")
            return {"PASS_THROUGH"}
        problem = forget()
        self._leave(context)
        if problem:
            self.report({"ERROR"}, problem)
            return {"CANCELLED"}
        return self.reported(self._done)

    def _leave(self, context: Context) -> None:
        if self._timer is not None:
            context.window_manager.event_timer_remove(self._timer)
            self._timer = None
        say(context, None)

    def _done(self) -> Report:
        told.sheet = str(self.path)
        told.redraw()
        return "INFO", f"{counted(self._count, 'shot')} on {self.path}"


def begin(context: Context, path: Path, wide: int, samples: int) -> None:
    """Has a sheet made of the file as it stands; ShotProblem where no Blender starts for it."""
    global _work
    folder = TemporaryDirectory(prefix="playworn-")
    copy = Path(folder.name) / "shots.blend"
    try:
        usecases.save(copy)
        _work = Errand(command(context, copy, path, wide, samples), folder)
    except PlaywornError:
        folder.cleanup()
        raise
    except OSError as refused:
        raise ShotProblem(f"the sheet cannot be made: no Blender starts ({refused.strerror})") from None


def command(context: Context, copy: Path, path: Path, wide: int, samples: int) -> list[str]:
    """How another Blender is told to make the sheet of a copy."""
    scene, build = context.scene, context.scene.playworn.build
    names = f"--build={build.name}", f"--scene={scene.name}"
    size = "--wide", str(wide), "--samples", str(samples)
    return errand.command("sheet", str(copy), *names, *size, "--out", str(path.absolute()))


def forget() -> str:
    """Ends what is under way; what went wrong with it, "" where nothing did."""
    global _work
    work, _work = _work, None
    return work.end() if work else ""


def _step(work: Errand) -> str:
    """What it does by now, as it says it: how far, and in words."""
    steps = [line for line in work.told() if " %  " in line]
    return " ".join(steps[-1].split()) if steps else "opening the file"


CLASSES = (SaveSheet,)
