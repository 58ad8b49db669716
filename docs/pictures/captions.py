"""Writes under a picture what it shows; makes the file of a large sheet small."""

from collections.abc import Sequence
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

PAPER, INK, FAINT = (237, 237, 237), (30, 30, 30), (95, 95, 95)
TEXT_PX, LINE_PX, MARGIN_PX = 14, 20, 8


def caption(picture: Path, lines: Sequence[str]) -> None:
    """Adds a strip of text below the picture in its file: the first line is its title."""
    with Image.open(picture) as photograph:
        width, height = photograph.size
        sheet = Image.new("RGB", (width, height + LINE_PX * len(lines) + 2 * MARGIN_PX), PAPER)
        sheet.paste(photograph.convert("RGB"), (0, 0))
    pen, font = ImageDraw.Draw(sheet), ImageFont.load_default(TEXT_PX)
    for row, line in enumerate(lines):
        at = (MARGIN_PX, height + MARGIN_PX + row * LINE_PX)
        pen.text(at, line, fill=FAINT if row else INK, font=font)
    sheet.save(picture, optimize=True)


def shrink(sheet: Path, path: Path) -> None:
    """Saves a large sheet as a JPEG, a quarter of the bytes."""
    with Image.open(sheet) as whole:
        whole.convert("RGB").save(path, quality=90, subsampling=0, optimize=True)
