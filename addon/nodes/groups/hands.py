"""The step that layers share which hands leave: more on some bricks of a build, less on others."""

from ..builder import Builder


def from_many_hands(b: Builder, clip: bool = False):
    """The group's Amount as the brick's Luck has it."""
    with b.frame("Used bricks come from many hands: some have 0.4 of the amount, some 1.6"):
        share = b.math("ADD", b.math("MULTIPLY", b.input("Luck"), 1.2), 0.4)
        return b.math("MULTIPLY", b.input("Amount"), share, "Amount on this brick", clip=clip)
