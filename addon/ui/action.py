"""What an operator of ours is: one undo step that ends in a report, and nothing that gets between the steps of another.

Whether one is under way stands here, since each asks for it.
"""

from collections.abc import Callable
from typing import ClassVar, Literal

from ..core.errors import PlaywornError
from . import disk
from .context import Context, Ending, Operator

Report = tuple[Literal["INFO", "WARNING"], str]  # its kind in Blender, and its words

_ALONE = "Wait for the work under way, or press Esc to give it up"

under_way: Callable[[], None] | None = None  # gives up the work that goes on step by step


class Action(Operator):
    """One undo step that ends in a report: done, done in part, or a sentence that says what to mend."""

    bl_options: ClassVar = {"REGISTER", "UNDO"}
    act: Callable[[Context], Report]
    is_chosen = True  # whether all is known that it asks for

    @classmethod
    def poll(cls, context: Context) -> bool:
        words = cls.lacking(context)
        if words:
            cls.poll_message_set(words)
        return not words

    @classmethod
    def lacking(cls, _context: Context) -> str:
        """What it waits for, as a sentence that says what to do; "" where it can be done."""
        return _ALONE if under_way is not None else ""

    def execute(self, context: Context) -> Ending:
        disk.look()
        return self.reported(lambda: self.act(context))

    def reported(self, act: Callable[[], Report]) -> Ending:
        try:
            kind, words = act()
        except PlaywornError as problem:
            self.report({"ERROR"}, str(problem))
            return {"CANCELLED"}
        self.report({kind}, words)
        return {"FINISHED"}


class OnBuild(Action):
    """An action on the chosen build."""

    @classmethod
    def lacking(cls, context: Context) -> str:
        return super().lacking(context) or (
            "" if context.scene.playworn.build else "Choose a build or bring one in first"
        )
