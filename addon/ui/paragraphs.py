"""Sentences in a panel, broken where its width ends."""

import textwrap
from typing import Literal

import bpy

from .context import Context

Icon = Literal["NONE", "INFO", "ERROR", "LOCKED"]

LETTER_PX = 5.75  # mean width of a letter of the interface at scale 1; the sidebar's width decides where text breaks
MARGIN_PX = 46
ICON_PX = 20


def paragraph(layout: bpy.types.UILayout, context: Context, text: str, icon: Icon = "NONE", wide: int = 0) -> None:
    """Lines of text that fit the sidebar, or what is `wide` pixels at scale 1; the icon stands before the first."""
    scale = context.preferences.system.ui_scale or 1.0  # 0 without a window
    width = wide * scale or (context.region.width if context.region else 280)
    taken = MARGIN_PX if icon == "NONE" else MARGIN_PX + ICON_PX
    letters = max(int((width / scale - taken) / LETTER_PX), 16)
    lines = layout.column(align=True)
    lines.scale_y = 0.8
    for number, line in enumerate(textwrap.wrap(text, letters)):
        lines.label(text=line, icon=icon if number == 0 or icon == "NONE" else "BLANK1")
    lines.separator(factor=0.6)
