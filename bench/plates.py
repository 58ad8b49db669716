"""How sharp plates are told to be whose blur is known: 0.5 to 10 px, clean, with noise, film grain, and as a JPEG.

    python bench/plates.py

Needs OpenCV, which draws and blurs them, beside what the tool needs.
"""

import sys
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon.core.shots.sharpness import sharpness  # noqa: E402  the checkout is no installed package
from tests.core.shots.test_sharpness import photographed  # noqa: E402

BLURS_PX = (0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
KINDS = ("clean", "noise", "grain", "jpeg")


def measure() -> None:
    print("blur px", *(f"{kind:>15}" for kind in KINDS))
    for blur in BLURS_PX:
        cells = []
        for kind in KINDS:
            found = sharpness(photographed(blur, kind))
            cells.append("none" if found is None else f"{found.blur_px:.2f} {found.blur_px / blur - 1.0:+.1%}")
        print(f"{blur:7}", *(f"{cell:>15}" for cell in cells), flush=True)


if __name__ == "__main__":
    measure()
