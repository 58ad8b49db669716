"""The buttons of the shots: which there are, what they read as, and putting them on the timeline."""

from collections import Counter
from typing import ClassVar

import bpy

from ... import usecases
from ...core import report
from ...core.shots.shot import SETTINGS, Shot, free_name
from .. import told
from ..action import Action, OnBuild, Report
from ..context import Context, Ending
from ..steps import Stepwise
from . import shots

_TO_SEE = "Put on Timeline shows it in the view"


class OnShot(OnBuild):
    """An action on the chosen build and the chosen shot."""

    @classmethod
    def lacking(cls, context: Context) -> str:
        return super().lacking(context) or ("" if shots.chosen(context.scene) else "Choose a shot or add one first")

    def chosen(self, context: Context) -> Shot:
        """The chosen shot; there is one, or `poll` says so."""
        shot = shots.chosen(context.scene)
        assert shot is not None
        return shot


class OnUnlocked(OnShot):
    """The same, where the shot is not locked."""

    @classmethod
    def lacking(cls, context: Context) -> str:
        if words := super().lacking(context):
            return words
        shot = shots.chosen(context.scene)
        return f"{shot.name} is locked: unlock it first" if shot is not None and shot.locked else ""


class OnShots(OnBuild):
    """An action on the chosen build and all shots of the scene."""

    @classmethod
    def lacking(cls, context: Context) -> str:
        no_shot = "The scene has no shot: add a camera, or bind cameras to markers"
        return super().lacking(context) or ("" if shots.listed(context.scene) else no_shot)


class FindShots(Action, bpy.types.Operator):
    """Find the shots anew: each marker with a camera starts one; dials stay by name, added and locked ones stay"""

    bl_idname = "playworn.find_shots"
    bl_label = "Find Shots"

    def act(self, context: Context) -> Report:
        before = shots.chosen(context.scene)
        found = usecases.find_shots(context.scene)
        shots.match(context.scene, before.name if before else "")
        return "INFO", f"{report.counted(len(found), 'shot')} in the scene"


class AddShot(Action, bpy.types.Operator):
    """Add a shot of the active camera"""

    bl_idname = "playworn.add_shot"
    bl_label = "Add Shot"

    name: bpy.props.StringProperty(name="Name", description="What the shot is called", options={"SKIP_SAVE"})
    first: bpy.props.IntProperty(name="First Frame", description="The shot's first frame", options={"SKIP_SAVE"})
    last: bpy.props.IntProperty(name="Last Frame", description="The shot's last frame", options={"SKIP_SAVE"})

    @classmethod
    def lacking(cls, context: Context) -> str:
        return super().lacking(context) or ("" if context.scene.camera else "The scene has no active camera")

    def invoke(self, context: Context, _event: bpy.types.Event) -> Ending:
        self._fill(context.scene)
        return context.window_manager.invoke_props_dialog(self)

    def act(self, context: Context) -> Report:
        scene = context.scene
        self._fill(scene)
        usecases.add_shot(scene, Shot(self.name, scene.camera.name, self.first, self.last))
        shots.match(scene, self.name)
        return "INFO", f"Added {self.name}: {scene.camera.name}, frames {self.first} to {self.last}"

    def _fill(self, scene: bpy.types.Scene) -> None:
        """What is not given is the scene's frames, and the camera's name with a number where that is taken."""
        if not self.properties.is_property_set("first"):
            self.first = scene.frame_start
        if not self.properties.is_property_set("last"):
            self.last = scene.frame_end
        if not self.name:
            self.name = free_name(scene.camera.name, {shot.name for shot in shots.listed(scene)})


class RemoveShot(OnUnlocked, bpy.types.Operator):
    """Take the chosen shot and its dials out of the file"""

    bl_idname = "playworn.remove_shot"
    bl_label = "Remove Shot"

    def act(self, context: Context) -> Report:
        name = self.chosen(context).name
        left = usecases.remove_shot(context.scene, name)
        shots.match(context.scene)
        return "INFO", f"Removed {name}, {report.counted(len(left), 'shot')} in the scene"


class SetShot(OnUnlocked, bpy.types.Operator):
    """Show this one of the shot's two settings; the dials of the other are kept, to compare the two"""

    bl_idname = "playworn.set_shot"
    bl_label = "Setting"

    setting: bpy.props.EnumProperty(
        name="Setting",
        description="Which of the two; B begins as A stands",
        items=[(each, each, f"Setting {each} of the shot's dials") for each in SETTINGS],
        options={"SKIP_SAVE"},
    )

    def act(self, context: Context) -> Report:
        name = self.chosen(context).name
        usecases.set_shot(context.scene, name, self.setting)
        shots.match(context.scene)
        return "INFO", f"{name} has setting {self.setting}; {_TO_SEE}"


class LockShot(Action, bpy.types.Operator):
    """Lock the shot, signed off: nothing turns its dials, and it cannot be removed, until it is unlocked"""

    bl_idname = "playworn.lock_shot"
    bl_label = "Lock Shot"

    name: bpy.props.StringProperty(name="Name", description="Which shot", options={"SKIP_SAVE"})
    locked: bpy.props.BoolProperty(name="Lock", description="Off unlocks it", default=True, options={"SKIP_SAVE"})

    @classmethod
    def description(cls, _context: Context, properties: "LockShot") -> str:
        return cls.__doc__ or "" if properties.locked else "Unlock the shot, so that its dials can be turned again"

    def act(self, context: Context) -> Report:
        usecases.lock_shot(context.scene, self.name, self.locked)
        shots.match(context.scene)
        told.shot_problem = ""  # it may have been the lock
        return "INFO", f"{self.name} is {'locked' if self.locked else 'unlocked'}"


class MeasureShots(OnShots, bpy.types.Operator):
    """Measure how many pixels the bricks move by in each shot, at its first, middle and last frame"""

    bl_idname = "playworn.measure_shots"
    bl_label = "Measure"
    bl_options: ClassVar = {"REGISTER"}

    def act(self, context: Context) -> Report:
        build, scene = context.scene.playworn.build, context.scene
        done = usecases.reads_as(build, scene, usecases.list_shots(scene))
        for each in done:
            told.measured(build, scene, each)
        amiss = sum(any(frame.warnings for frame in each.frames) for each in done)
        words = f"{report.counted(len(done), 'shot')} measured"
        return ("WARNING", f"{words}, something to look at in {amiss}") if amiss else ("INFO", words)


class DialShotTo(OnUnlocked, bpy.types.Operator):
    """Turn the chosen shot's looseness until the median motion of the bricks seen reads as the target"""

    bl_idname = "playworn.dial_shot_to"
    bl_label = "Dial To"

    def act(self, context: Context) -> Report:
        scene, build = context.scene, context.scene.playworn.build
        shot, target_px = self.chosen(context), scene.playworn.shots.target_px
        dialled, found = usecases.dial_to(build, scene, shot, target_px)
        usecases.dial_shots(scene, {(shot.name, "looseness"): dialled.dials.looseness})
        shots.match(scene, shot.name)
        told.measured(build, scene, *usecases.reads_as(build, scene, [dialled]))
        words = f"{shot.name} reads as {found.px:.2f} px at looseness {found.dial:.3f}"
        if found.met:
            return "INFO", f"{words}; {_TO_SEE}"
        end = "most" if found.px < target_px else "nearest"
        return "WARNING", f"{words}: that is the {end} that the dial and the tolerances give; {_TO_SEE}"


class PutOnTimeline(Stepwise, OnBuild, bpy.types.Operator):
    """Key the dials of all shots: from its first frame each shot has its own fit and wear"""

    bl_idname = "playworn.put_on_timeline"
    bl_label = "Put on Timeline"

    @classmethod
    def lacking(cls, context: Context) -> str:
        return super().lacking(context) or (
            "" if usecases.is_applied(context.scene.playworn.build) else "Apply a preset to the build first"
        )

    def steps(self, context: Context) -> usecases.Steps[report.OnTimeline]:
        return usecases.keying_shots(context.scene.playworn.build, context.scene)

    def ended(self, context: Context, done: report.OnTimeline) -> Report:
        reasons = Counter(each.reason for each in done.skipped)
        asides = [f"{count} × {reason}" for reason, count in reasons.items()]
        if words := usecases.blur_at_cuts(context.scene.playworn.build, context.scene):
            asides.append(words)
        return "WARNING" if asides else "INFO", "; ".join([done.sentence, *asides])


class TakeOffTimeline(OnBuild, bpy.types.Operator):
    """Take the keys of the shots off again, exactly"""

    bl_idname = "playworn.take_off_timeline"
    bl_label = "Take off Timeline"

    @classmethod
    def lacking(cls, context: Context) -> str:
        return super().lacking(context) or (
            "" if usecases.shots_of(context.scene.playworn.build) else "No shot of this build is on the timeline"
        )

    def act(self, context: Context) -> Report:
        count = usecases.off_timeline(context.scene.playworn.build)
        return "INFO", f"{report.counted(count, 'shot')} off the timeline"


CLASSES = (FindShots, AddShot, RemoveShot, SetShot, LockShot, MeasureShots, DialShotTo, PutOnTimeline, TakeOffTimeline)
