"""Draws the charts of the fit: how far bricks of each size turn, how far towers lean, and how errors travel up them.

python docs/pictures/charts.py        writes docs/twist.svg, docs/lean.svg and docs/stackup.svg
"""

import sys
from pathlib import Path

import numpy as np

CHECKOUT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(CHECKOUT))

from addon.core.build.bricks import Bricks  # noqa: E402
from addon.core.fit import fit  # noqa: E402
from addon.core.parts import parts  # noqa: E402
from addon.core.presets import preset  # noqa: E402  the checkout is no installed package
from bench import stackup  # noqa: E402
from tests.core.builds import block, table  # noqa: E402

PRESETS = {"well-loved": "#0072b2", "toy-box": "#d55e00"}  # a pair that colour-blind people tell apart
SIZES = ((1, 1), (1, 2), (2, 2), (1, 4), (2, 3), (2, 4), (2, 6), (2, 8))
WAYS = ("#0072b2", "#009e73", "#d55e00", "#cc79a7")  # of four motions, told apart by colour-blind people
SAMPLES, SEEDS, SHOWN, COURSES = 200, 40, 4, 100
WIDTH, HEIGHT, LEFT, BOTTOM = 640, 320, 60, 50


def shipped(name: str) -> preset.Preset:
    return preset.parse((CHECKOUT / "presets" / f"{name}.json").read_text("utf-8"), name)


def twists(size: tuple[int, int], limits: preset.Fit) -> np.ndarray:
    """Turns in degrees of bricks of one size, each alone on a large one that holds all of its studs."""
    below, above = block(8, 8, 3), block(*size, 3)
    placed = [(each, (100.0 * n, 0.0, height)) for n in range(SAMPLES) for each, height in ((below, 0.0), (above, 9.6))]
    return np.degrees(fit.fitted(table(placed), limits, 1, 1.0).motions.turn[1::2, 2])


def leans(limits: preset.Fit) -> np.ndarray:
    """Sideways way in mm (SEEDS, COURSES) of every brick of a tower, in x."""
    tower: Bricks = table([(block(2, 2, 3), (0.0, 0.0, 9.6 * n)) for n in range(COURSES)])
    return np.array([fit.fitted(tower, limits, seed, 1.0).motions.shift[:, 0] for seed in range(SEEDS)])


class Chart:
    """A plot area with two axes; values go in, SVG comes out."""

    def __init__(self, title: str, across: str, most_x: float, most_y: float, least_y: float = 0.0):
        self.most_x, self.most_y, self.least_y = most_x, most_y, least_y
        self.parts = [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" font-family="sans-serif" '
            'font-size="12" fill="#333">',
            f'<rect width="{WIDTH}" height="{HEIGHT}" fill="white"/>',
            f'<text x="{LEFT}" y="22" font-size="14" font-weight="bold">{title}</text>',
            f'<text x="{WIDTH - 20}" y="{HEIGHT - 10}" text-anchor="end">{across}</text>',
        ]

    def at(self, x: float, y: float) -> tuple[float, float]:
        right, top = WIDTH - 20, 40
        return (
            round(LEFT + (right - LEFT) * x / self.most_x, 1),
            round(HEIGHT - BOTTOM - (HEIGHT - BOTTOM - top) * (y - self.least_y) / (self.most_y - self.least_y), 1),
        )

    def grid(self, steps: list[float], unit: str) -> None:
        for step in steps:
            (x0, y), (x1, _) = self.at(0, step), self.at(self.most_x, step)
            self.parts.append(f'<line x1="{x0}" y1="{y}" x2="{x1}" y2="{y}" stroke="#ddd"/>')
            self.parts.append(f'<text x="{x0 - 6}" y="{y + 4}" text-anchor="end">{step:g}{unit}</text>')

    def label(self, x: float, words: str) -> None:
        at, y = self.at(x, self.least_y)
        self.parts.append(f'<text x="{at}" y="{y + 18}" text-anchor="middle">{words}</text>')

    def bar(self, x: float, wide: float, low: float, high: float, colour: str, opacity: float) -> None:
        (left, top), (right, foot) = self.at(x - wide / 2, high), self.at(x + wide / 2, low)
        self.parts.append(
            f'<rect x="{left}" y="{top}" width="{right - left:.1f}" height="{foot - top:.1f}" fill="{colour}" '
            f'opacity="{opacity}"/>'
        )

    def line(self, xs: np.ndarray, ys: np.ndarray, colour: str, wide: float, dashes: str = "") -> None:
        points = " ".join("{},{}".format(*self.at(x, y)) for x, y in zip(xs, ys, strict=True))
        dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
        self.parts.append(f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="{wide}"{dashed}/>')

    def band(self, xs: np.ndarray, ys: np.ndarray, colour: str) -> None:
        """What lies within `ys` of zero."""
        across, either = np.concatenate([xs, xs[::-1]]), np.concatenate([ys, -ys[::-1]])
        points = " ".join("{},{}".format(*self.at(x, y)) for x, y in zip(across, either, strict=True))
        self.parts += [
            f'<polygon points="{points}" {fill}/>' for fill in ('fill="white"', f'fill="{colour}" opacity="0.3"')
        ]

    def legend(self, n: int, words: str, colour: str, x: int) -> None:
        self.parts.append(f'<rect x="{x}" y="{44 + 18 * n}" width="12" height="12" fill="{colour}"/>')
        self.parts.append(f'<text x="{x + 18}" y="{54 + 18 * n}">{words}</text>')

    def save(self, path: Path) -> None:
        path.write_text("\n".join([*self.parts, "</svg>"]) + "\n", "utf-8")


def draw_twists(path: Path) -> None:
    chart = Chart("How far bricks turn, by size", "studs", len(SIZES), 3.0)
    chart.grid([0, 1, 2, 3], "°")
    for n, (name, colour) in enumerate(PRESETS.items()):
        limits = shipped(name).fit
        chart.legend(n, f"{name}: sd; light: 9 of 10 turn less", colour, WIDTH - 280)
        for place, size in enumerate(SIZES):
            turns = twists(size, limits)
            x = place + 0.36 + 0.28 * n
            chart.bar(x, 0.24, 0.0, float(np.percentile(np.abs(turns), 90)), colour, 0.35)
            chart.bar(x, 0.24, 0.0, float(turns.std()), colour, 1.0)
    for place, size in enumerate(SIZES):
        chart.label(place + 0.5, "{}x{}".format(*size))
    chart.save(path)


def draw_leans(path: Path) -> None:
    height = parts.PLATE * 3 * np.arange(COURSES)
    chart = Chart("How far towers lean sideways, by height", "height in mm", float(height[-1]), 0.3, -0.3)
    chart.grid([-0.3, -0.2, -0.1, 0, 0.1, 0.2, 0.3], " mm")
    ways = {name: leans(shipped(name).fit) for name in PRESETS}
    for n, (name, colour) in reversed(list(enumerate(PRESETS.items()))):
        chart.band(height, ways[name].std(axis=0), colour)
        chart.legend(n, f"{name}: sd of {SEEDS} towers", colour, LEFT + 20)
    for way in ways["well-loved"][:SHOWN]:
        chart.line(height, way, PRESETS["well-loved"], 0.8)
    for each in range(0, int(height[-1]) + 1, 100):
        chart.label(each, str(each))
    chart.save(path)


def draw_stackup(path: Path) -> None:
    brick = np.arange(1, stackup.HEIGHT + 1)
    chart = Chart("How a tower's bricks go with its topmost, well-loved", "brick of the tower", stackup.HEIGHT, 1.0)
    chart.grid([0, 0.25, 0.5, 0.75, 1], "")
    motions, _ = stackup.towers((2, 2), stackup.shipped("well-loved"))
    for n, (name, (axis, _)) in enumerate(stackup.MOTIONS.items()):
        values = motions[..., axis]
        chart.line(brick, np.corrcoef(values.T)[-1], WAYS[n], 1.5)
        chart.line(brick, values.std(axis=0) / values[:, -1].std(), WAYS[n], 1.2, "2 3")
        chart.legend(n + 9, name.partition(",")[0], WAYS[n], WIDTH - 400)
    chart.line(brick, np.sqrt(brick / stackup.HEIGHT), "#333", 1.5, "7 4")
    for n, words in enumerate(
        ("line: correlation", "dots: spread, as a share of the topmost's", "dashes: the textbook's root of i / 40")
    ):
        chart.parts.append(f'<text x="{WIDTH - 290}" y="{216 + 18 * n}">{words}</text>')
    for each in range(0, stackup.HEIGHT + 1, 10):
        chart.label(each, str(each))
    chart.save(path)


if __name__ == "__main__":
    docs = CHECKOUT / "docs"
    draw_twists(docs / "twist.svg")
    draw_leans(docs / "lean.svg")
    draw_stackup(docs / "stackup.svg")
