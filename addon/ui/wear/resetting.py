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
    def lacking(cls, context: Context) -> str:
        return super().lacking(context) or (
            "" if cls.changed(context.scene.playworn) else f"The {cls.what} {cls.verb} the preset's own"
        )

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
