"""Whether the wear of a file knows of a window."""

from . import refill
from .groups import light


def lay(falls: bool) -> None:
    """Lets all wear of the file ask what of a window's light each brick gets, or not; it is not put in anew."""
    refill.lay(light.KIND, light.falls, light.fill, falls)
