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
    def poll(cls, _context: Context) -> bool:
        if under_way is not None:
            cls.poll_message_set(_ALONE)
        return under_way is None

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
    def poll(cls, context: Context) -> bool:
        if not super().poll(context):
            return False
        if context.scene.playworn.build is None:
            cls.poll_message_set("Choose a build or bring one in first")
            return False
        return True
