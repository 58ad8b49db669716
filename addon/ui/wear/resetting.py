"""Bringing back what a preset has of its own."""

from typing import ClassVar

from ..action import OnBuild, Report
from ..context import Context, Settings
from ..presets import choices


class Reset(OnBuild):
    """An operator that forgets what the artist changed of a preset's `what`, "is" or "are"."""

    bl_label = "Reset"
    what: ClassVar[str]
    verb: ClassVar[str] = "are"

    @classmethod
    def poll(cls, context: Context) -> bool:
        if not super().poll(context):
            return False
        if not cls.changed(context.scene.playworn):
            cls.poll_message_set(f"The {cls.what} {cls.verb} the preset's own")
            return False
        return True

    def act(self, context: Context) -> Report:
        settings = context.scene.playworn
        self.reset(settings, context)
        whose = "that" if self.verb == "is" else "those"
        return "INFO", f"The {self.what} {self.verb} {whose} of {choices.label(settings.preset_name)}"

    @staticmethod
    def changed(settings: Settings) -> bool:
        raise NotImplementedError

    @staticmethod
    def reset(settings: Settings, context: Context) -> None:
        raise NotImplementedError
