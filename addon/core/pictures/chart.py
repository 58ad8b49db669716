"""How the motions of each shot are spread, in pixels, as an SVG picture."""

from collections.abc import Iterable
from html import escape

import numpy as np

WIDTH, ROW, LEFT, TOP, BOTTOM = 760, 74, 190, 44, 46
LEAST_PX, MOST_PX, BINS = 0.003, 30.0, 48
STEPS = (0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0)
# Colour-blind people tell these apart.
INK, QUIET, BARS, MARK, WARN = (
    "#333333",
    "#767676",
    "#56b4e9",
    "#0072b2",
    "#d55e00",
)  # told apart by colour-blind people


def motions(shots: Iterable[tuple[str, np.ndarray]], warn_px: float) -> str:
    """A row for each shot (its name, motions (M,) in px of the bricks seen): shares over a logarithmic axis.

    The upright line is the median; from `warn_px` on, bars say that bricks are seen to sit off their studs.
    """
    rows = list(shots)
    height = TOP + ROW * len(rows) + BOTTOM
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" font-family="sans-serif" '
        f'font-size="12" fill="{INK}">',
        f'<rect width="{WIDTH}" height="{height}" fill="white"/>',
        '<text x="16" y="24" font-size="15" font-weight="bold">What the fit reads as</text>',
    ]
    for step in STEPS:
        x = _across(step)
        colour = QUIET if step == 1.0 else "#dddddd"
        parts.append(f'<line x1="{x:.1f}" y1="{TOP}" x2="{x:.1f}" y2="{height - BOTTOM}" stroke="{colour}"/>')
        parts.append(f'<text x="{x:.1f}" y="{height - BOTTOM + 18}" text-anchor="middle">{step:g}</text>')
    for number, (name, px) in enumerate(rows):
        parts += _row(TOP + ROW * (number + 1), name, px, warn_px)
    parts.append(f'<text x="{WIDTH - 20}" y="{height - 8}" text-anchor="end">motion in pixels, bricks seen</text>')
    return "\n".join([*parts, "</svg>"]) + "\n"


def _across(px: float) -> float:
    share = (np.log(px) - np.log(LEAST_PX)) / (np.log(MOST_PX) - np.log(LEAST_PX))
    return LEFT + (WIDTH - LEFT - 20) * float(np.clip(share, 0.0, 1.0))


def _row(foot: float, name: str, px: np.ndarray, warn_px: float) -> list[str]:
    edges = np.geomspace(LEAST_PX, MOST_PX, BINS + 1)
    counts, _ = np.histogram(np.clip(px, LEAST_PX, MOST_PX), edges)
    clean = "".join(letter if letter.isprintable() else "\ufffd" for letter in name)
    short = clean if len(clean) <= 24 else clean[:23] + "…"
    told = f"median {np.median(px):.2f} px, largest {px.max():.2f}" if len(px) else "no brick seen"
    parts = [
        f'<text x="16" y="{foot - 26}" font-weight="bold">{escape(short)}</text>',
        f'<text x="16" y="{foot - 10}" font-size="11" fill="{QUIET}">{told}</text>',
        f'<line x1="{LEFT}" y1="{foot}" x2="{WIDTH - 20}" y2="{foot}" stroke="{QUIET}"/>',
    ]
    for low, high, count in zip(edges[:-1], edges[1:], counts.tolist(), strict=True):
        if count:
            tall = (ROW - 16) * count / counts.max()
            left, colour = _across(low), WARN if low >= warn_px else BARS
            parts.append(
                f'<rect x="{left:.1f}" y="{foot - tall:.1f}" width="{_across(high) - left - 0.5:.1f}" '
                f'height="{tall:.1f}" fill="{colour}"/>'
            )
    if len(px):
        x = _across(max(float(np.median(px)), LEAST_PX))
        parts.append(
            f'<line x1="{x:.1f}" y1="{foot - ROW + 12}" x2="{x:.1f}" y2="{foot}" stroke="{MARK}" stroke-width="2"/>'
        )
    return parts
