"""What pictures look like, told for a labelled set that none of our own stand-ins is in, as a confusion table.

Scratches, smudges, dust and patterns that are none of them are drawn here with OpenCV, Pillow and scipy; photographs
and other samples, all of them nothing that wears a brick, come from folders:

    python bench/looks.py [--others FOLDER …] [--seed N] [--list]

such as `skimage/data` of scikit-image's wheel, and the samples of OpenCV (Debian's package opencv-doc holds them).
"""

import argparse
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw
from scipy import ndimage

sys.path.insert(0, str(Path(__file__).parents[1]))

from addon.core.wear.findings import looks_like
from addon.core.wear.layers import PICTURES
from addon.core.wear.marks import OTHER
from addon.core.wear.texture import levels

SIDES = (512, 768, 1024)
LABELS = (*PICTURES, OTHER)
Draw = np.random.Generator
Drawn = Callable[[Draw, int], np.ndarray]


def hairlines(draw: Draw, side: int) -> np.ndarray:
    """Thin straight lines, mostly one way."""
    grey, way = np.zeros((side, side), np.uint8), draw.uniform(0.0, np.pi)
    for _ in range(draw.integers(60, 300)):
        _line(grey, draw, way + draw.normal(0.0, 0.25), 1, side)
    return grey / 255.0


def bold(draw: Draw, side: int) -> np.ndarray:
    """A few lines wide as a nail's scratch, soft-edged."""
    grey = np.zeros((side, side), np.uint8)
    for _ in range(draw.integers(6, 30)):
        _line(grey, draw, draw.uniform(0.0, np.pi), int(draw.integers(side // 128, side // 40)), side)
    return ndimage.gaussian_filter(grey / 255.0, side / draw.uniform(300.0, 900.0))


def crossed(draw: Draw, side: int) -> np.ndarray:
    """Lines of every width all ways."""
    grey = np.zeros((side, side), np.uint8)
    for _ in range(draw.integers(40, 150)):
        _line(grey, draw, draw.uniform(0.0, np.pi), int(draw.choice((1, 1, 2, 3, side // 200))), side)
    return grey / 255.0


def arcs(draw: Draw, side: int) -> np.ndarray:
    """Bent scratches, as of a cloth with grit in it."""
    picture = Image.new("L", (side, side))
    pen = ImageDraw.Draw(picture)
    for _ in range(draw.integers(40, 160)):
        radius, (x, y) = draw.uniform(0.1, 1.5) * side, draw.uniform(-0.5, 1.5, 2) * side
        begin = draw.uniform(0.0, 360.0)
        box = (x - radius, y - radius, x + radius, y + radius)
        pen.arc(box, begin, begin + draw.uniform(5.0, 60.0), int(draw.integers(90, 256)), int(draw.integers(1, 4)))
    return np.asarray(picture) / 255.0


def scuffs(draw: Draw, side: int) -> np.ndarray:
    """Bundles of close parallel lines on a faint haze."""
    grey = np.zeros((side, side), np.uint8)
    for _ in range(draw.integers(8, 25)):
        way, (x, y) = draw.uniform(0.0, np.pi), draw.uniform(0.0, side, 2)
        for _ in range(draw.integers(8, 30)):
            _line(grey, draw, way + draw.normal(0.0, 0.03), 1, side, draw.normal((x, y), side / 60.0), 0.2)
    return 0.9 * grey / 255.0 + 0.08 * _clouds(draw, side, 6.0)


def fingerprints(draw: Draw, side: int) -> np.ndarray:
    """Prints of ridges, each patch an oval of whorled waves; some smeared."""
    grey = np.zeros((side, side))
    for _ in range(draw.integers(4, 14)):
        up, right = np.mgrid[0:side, 0:side].astype(np.float32) - draw.uniform(0.0, side, 2)[:, None, None]
        ridge = side / draw.uniform(90.0, 160.0)
        bend = side * 0.02 * _clouds(draw, side, 5.0)
        waves = 0.5 + 0.5 * np.sin(2.0 * np.pi * (np.hypot(up, 0.7 * right) + bend) / ridge)
        oval = np.exp(-(((up / (0.11 * side)) ** 2 + (right / (0.08 * side)) ** 2) ** 2))
        grey = np.maximum(grey, oval * (0.3 + 0.7 * waves * draw.uniform(0.2, 1.0)) * draw.uniform(0.4, 1.0))
    return ndimage.gaussian_filter(grey, side / 1500.0)


def wipes(draw: Draw, side: int) -> np.ndarray:
    """Broad strokes of a cloth or a hand: noise drawn out along a way, in patches."""
    grey = np.zeros((side, side))
    for _ in range(draw.integers(2, 6)):
        streaks = _drawn_out(draw, side, 120.0, 8.0)
        patch = np.clip(3.0 * _clouds(draw, side, 3.0) - 1.5, 0.0, 1.0)
        grey = np.maximum(grey, streaks * patch * draw.uniform(0.4, 1.0))
    return grey


def blotches(draw: Draw, side: int) -> np.ndarray:
    """Soft spots of grease."""
    grey = np.zeros((side, side), np.float32)
    for _ in range(draw.integers(10, 60)):
        centre = tuple(int(each) for each in draw.uniform(0.0, side, 2))
        axes = tuple(int(each) for each in draw.uniform(0.02, 0.12, 2) * side)
        layer = np.zeros_like(grey)
        cv2.ellipse(layer, centre, axes, draw.uniform(0.0, 180.0), 0, 360, float(draw.uniform(0.2, 1.0)), -1)
        grey = np.maximum(grey, layer)
    return cv2.GaussianBlur(grey, (0, 0), side / draw.uniform(40.0, 120.0))


def streaks(draw: Draw, side: int) -> np.ndarray:
    """What a damp cloth leaves: long, soft, pale bands over half the picture."""
    patch = np.clip(2.5 * _clouds(draw, side, 2.0) - 1.0, 0.0, 1.0)
    return _drawn_out(draw, side, 60.0, 4.0) * patch + 0.03 * draw.random((side, side))


def specks(draw: Draw, side: int) -> np.ndarray:
    """Grains of a few pixels, few of them large."""
    grey = np.zeros((side, side), np.uint8)
    for _ in range(int(draw.uniform(0.0004, 0.004) * side * side)):
        at = tuple(int(each) for each in draw.integers(0, side, 2))
        cv2.circle(grey, at, int(draw.pareto(2.5) + 0.5), int(draw.integers(100, 256)), -1, cv2.LINE_AA)
    return grey / 255.0


def lint(draw: Draw, side: int) -> np.ndarray:
    """Specks, and short bent fibres among them."""
    grey = specks(draw, side)
    picture = Image.fromarray((255 * grey).astype(np.uint8))
    pen = ImageDraw.Draw(picture)
    for _ in range(draw.integers(10, 60)):
        steps = np.cumsum(draw.normal(0.0, 0.35, 12)) + draw.uniform(0.0, 2.0 * np.pi)
        along = np.cumsum(np.stack([np.cos(steps), np.sin(steps)], 1) * side / 250.0, 0) + draw.uniform(0, side, 2)
        pen.line([tuple(each) for each in along.tolist()], int(draw.integers(120, 256)), 1)
    return np.asarray(picture) / 255.0


def film(draw: Draw, side: int) -> np.ndarray:
    """Specks over a thin, uneven film."""
    return np.clip(0.9 * specks(draw, side) + draw.uniform(0.03, 0.12) * _clouds(draw, side, 4.0), 0.0, 1.0)


def powder(draw: Draw, side: int) -> np.ndarray:
    """Fine grains in drifts, none larger than another."""
    drift = np.clip(_clouds(draw, side, 4.0) - 0.2, 0.0, 1.0)
    grains = draw.random((side, side)) < draw.uniform(0.02, 0.06) * drift
    return ndimage.gaussian_filter(grains * draw.uniform(0.4, 1.0, (side, side)), 0.6)


def noise(draw: Draw, side: int) -> np.ndarray:
    return draw.random((side, side))


def checks(draw: Draw, side: int) -> np.ndarray:
    up, right = np.mgrid[0:side, 0:side] // int(side / draw.integers(6, 60))
    return ((up + right) % 2).astype(float)


def weave(draw: Draw, side: int) -> np.ndarray:
    """Threads over and under each other."""
    up, right = np.mgrid[0:side, 0:side] * (2.0 * np.pi * draw.integers(60, 140) / side)
    over = np.sin(up / 2.0) * np.sin(right / 2.0) > 0.0
    return np.where(over, np.abs(np.sin(up)), np.abs(np.sin(right))) * 0.8 + 0.1 * draw.random((side, side))


def masonry(draw: Draw, side: int) -> np.ndarray:
    """A wall of stones in pale joints."""
    rows = int(draw.integers(8, 20))
    high, wide = side / rows, 2.0 * side / rows
    up, right = np.mgrid[0:side, 0:side].astype(float)
    right += (up // high % 2) * wide / 2.0
    joint = (up % high < 0.12 * high) | (right % wide < 0.06 * wide)
    tone = draw.random((64, 64))[(up // high).astype(int) % 64, (right // wide).astype(int) % 64]
    return np.where(joint, 0.9, 0.2 + 0.4 * tone) + 0.05 * draw.random((side, side))


def tissue(draw: Draw, side: int) -> np.ndarray:
    """Grain of leather or stone: cells about random points."""
    points = draw.uniform(0.0, side, (int(draw.integers(1500, 6000)), 2)).astype(int)
    seeds = np.ones((side, side), bool)
    seeds[points[:, 0], points[:, 1]] = False
    return np.clip(ndimage.distance_transform_edt(seeds) / (side / 40.0), 0.0, 1.0)


DRAWN: dict[str, tuple[Drawn, ...]] = {
    "scratches": (hairlines, bold, crossed, arcs, scuffs),
    "smudges": (fingerprints, wipes, blotches, streaks),
    "dust": (specks, lint, film, powder),
    OTHER: (noise, checks, weave, masonry, tissue),
}
EACH = {"scratches": 10, "smudges": 12, "dust": 12, OTHER: 6}


def _line(
    grey: np.ndarray, draw: Draw, way: float, wide: int, side: int, at: np.ndarray | None = None, most: float = 0.6
) -> None:
    middle = draw.uniform(0.0, side, 2) if at is None else at
    half = 0.5 * side * draw.uniform(0.05, most) * np.array((np.cos(way), np.sin(way)))
    (x, y), (to_x, to_y) = (middle - half).astype(int).tolist(), (middle + half).astype(int).tolist()
    cv2.line(grey, (x, y), (to_x, to_y), int(draw.integers(90, 256)), max(wide, 1), cv2.LINE_AA)


def _clouds(draw: Draw, side: int, waves: float) -> np.ndarray:
    few = draw.random((int(3.0 * waves), int(3.0 * waves))).astype(np.float32)
    return _full(cv2.resize(few, (side, side), interpolation=cv2.INTER_CUBIC))


def _drawn_out(draw: Draw, side: int, across: float, along: float) -> np.ndarray:
    """Noise with so many waves across a way and along it."""
    few = draw.random((int(across), int(along))).astype(np.float32)
    turn = cv2.getRotationMatrix2D((side / 2.0, side / 2.0), draw.uniform(0.0, 180.0), 1.5)
    noise = cv2.resize(few, (side, side), interpolation=cv2.INTER_CUBIC)
    return _full(cv2.warpAffine(noise, turn, (side, side), borderMode=cv2.BORDER_REFLECT))


def _full(grey: np.ndarray) -> np.ndarray:
    return (grey - grey.min()) / max(float(np.ptp(grey)), 1e-9)


def drawn(seed: int) -> Iterator[tuple[str, str, np.ndarray]]:
    """Label, name and greys of each that is drawn: every other on a pale ground, with grain, some 8 bits deep."""
    for label, ways in DRAWN.items():
        for way in ways:
            for number in range(EACH[label]):
                draw = np.random.default_rng((seed, number, *way.__name__.encode()))
                grey = np.clip(way(draw, SIDES[number % 3]), 0.0, 1.0)
                grey = grey if number % 2 else draw.uniform(0.6, 1.0) * (1.0 - draw.uniform(0.4, 1.0) * grey)
                grey = grey + draw.uniform(0.0, 0.02) * draw.normal(size=grey.shape)
                yield label, f"{way.__name__} {number}", np.round(np.clip(grey, 0.0, 1.0) * 255.0) / 255.0


def photographed(folder: Path) -> Iterator[tuple[str, str, np.ndarray]]:
    """The samples of a folder and of those in it, as they are read by the tool: grey by Rec. 709."""
    for path in sorted(folder.rglob("*")):
        if path.suffix.lower() not in (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".webp", ".bmp", ".gif"):
            continue
        try:
            channels = np.asarray(Image.open(path).convert("RGB")) / 255.0
        except OSError as problem:
            print(f"left out: {problem}")
            continue
        if min(channels.shape[:2]) >= 64:
            yield OTHER, path.name, channels @ np.array((0.2126, 0.7152, 0.0722))


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--others", type=Path, nargs="*", default=[], metavar="FOLDER")
    options.add_argument("--seed", type=int, default=0)
    options.add_argument("--list", action="store_true", help="name each that is told wrongly")
    given = options.parse_args()
    counts: Counter[tuple[str, str]] = Counter()
    wrong: list[str] = []
    pictures = [*drawn(given.seed), *(each for folder in given.others for each in photographed(folder))]
    for label, name, grey in pictures:
        seen = looks_like(levels(grey).marks(grey[::-1].astype(np.float32)))
        counts[label, seen] += 1
        if seen != label:
            wrong.append(f"{label}: {name} looks like {seen}")
    print(f"{'is, looks like':16}" + "".join(f"{label:>11}" for label in LABELS))
    for label in LABELS:
        print(f"{label:16}" + "".join(f"{counts[label, seen]:11}" for seen in LABELS))
    print(f"{len(pictures) - len(wrong)} of {len(pictures)} told rightly, {1.0 - len(wrong) / len(pictures):.1%}")
    for line in wrong if given.list else ():
        print(line)


if __name__ == "__main__":
    main()
