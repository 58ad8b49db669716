"""Colours as an eye tells them apart: linear RGB to CIELAB and back, and the CIEDE2000 difference between two.

RGB is linear, with the primaries and the white (D65) of Rec. 709 and sRGB, as Blender's own colours are. Powers and
angles come from the machine's mathematical library: equal everywhere but for the last digits.
"""

import numpy as np

# IEC 61966-2-1: linear sRGB to XYZ. Its row sums are the white, so that greys come out without a hue.
_TO_XYZ = np.array(((0.4124, 0.3576, 0.1805), (0.2126, 0.7152, 0.0722), (0.0193, 0.1192, 0.9505)))
_FROM_XYZ = np.linalg.inv(_TO_XYZ)
_WHITE = _TO_XYZ.sum(axis=1)
_CUT = 6.0 / 29.0  # CIE 15: below its cube, CIELAB's cube root is a straight line
_FULL = 25.0**7  # CIEDE2000 weighs chroma against 25
_HALF = 180.0 + 1e-9  # degrees; hues that lie opposite must not fall to either side by rounding


def decoded(srgb: np.ndarray) -> np.ndarray:
    """Linear values of sRGB ones, both 0 to 1 (IEC 61966-2-1)."""
    srgb = np.asarray(srgb, np.float64)
    return np.where(srgb <= 0.04045, srgb / 12.92, ((np.maximum(srgb, 0.04045) + 0.055) / 1.055) ** 2.4)


def encoded(linear: np.ndarray) -> np.ndarray:
    """sRGB values of linear ones, both 0 to 1 (IEC 61966-2-1)."""
    linear = np.asarray(linear, np.float64)
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 0.0031308) ** (1.0 / 2.4) - 0.055)


def luminance(rgb: np.ndarray) -> np.ndarray:
    """Relative luminance (...) of linear colours (..., 3), 1 for white."""
    return np.asarray(rgb, np.float64) @ _TO_XYZ[1]


def lab(rgb: np.ndarray) -> np.ndarray:
    """CIELAB (..., 3) under D65 of linear colours (..., 3)."""
    share = np.asarray(rgb, np.float64) @ _TO_XYZ.T / _WHITE
    x, y, z = np.moveaxis(np.where(share > _CUT**3, np.cbrt(share), share / (3.0 * _CUT**2) + 4.0 / 29.0), -1, 0)
    return np.stack((116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)), axis=-1)


def rgb(lab: np.ndarray) -> np.ndarray:
    """Linear colours (..., 3) of CIELAB ones under D65; outside 0 to 1 where no screen can show them."""
    light, red, yellow = np.moveaxis(np.asarray(lab, np.float64), -1, 0)
    y = (light + 16.0) / 116.0
    root = np.stack((y + red / 500.0, y, y - yellow / 200.0), axis=-1)
    share = np.where(root > _CUT, root**3, 3.0 * _CUT**2 * (root - 4.0 / 29.0))
    return (share * _WHITE) @ _FROM_XYZ.T


def difference(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """CIEDE2000 between CIELAB colours (..., 3): about 1 is the least that an untrained eye sees.

    Sharma, Wu, Dalal: The CIEDE2000 color-difference formula, Color Research and Application 30 (1), 2005.
    """
    l1, a1, b1 = np.moveaxis(np.asarray(first, np.float64), -1, 0)
    l2, a2, b2 = np.moveaxis(np.asarray(second, np.float64), -1, 0)
    stretch = 1.5 - 0.5 * _saturation((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2.0)
    c1, c2 = np.hypot(stretch * a1, b1), np.hypot(stretch * a2, b2)
    h1, h2 = (np.degrees(np.arctan2(b, stretch * a)) % 360.0 for a, b in ((a1, b1), (a2, b2)))
    grey = c1 * c2 == 0.0

    turn = np.where(grey, 0.0, h2 - h1)
    turn = turn - np.where(turn > _HALF, 360.0, 0.0) + np.where(turn < -_HALF, 360.0, 0.0)
    lightness, chroma = l2 - l1, c2 - c1
    hue = 2.0 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2.0))

    mean_l, mean_c = (l1 + l2) / 2.0, (c1 + c2) / 2.0
    apart = np.where(np.abs(h1 - h2) <= _HALF, 0.0, np.where(h1 + h2 < 360.0, 360.0, -360.0))
    mean_h = np.where(grey, h1 + h2, (h1 + h2 + apart) / 2.0)

    t = 1.0 - 0.17 * _cos(mean_h - 30.0) + 0.24 * _cos(2.0 * mean_h)
    t += 0.32 * _cos(3.0 * mean_h + 6.0) - 0.20 * _cos(4.0 * mean_h - 63.0)
    off = (mean_l - 50.0) ** 2
    lightness = lightness / (1.0 + 0.015 * off / np.sqrt(20.0 + off))
    chroma = chroma / (1.0 + 0.045 * mean_c)
    hue = hue / (1.0 + 0.015 * mean_c * t)
    blue = np.radians(60.0 * np.exp(-(((mean_h - 275.0) / 25.0) ** 2)))
    twist = -2.0 * _saturation(mean_c) * np.sin(blue)
    return np.sqrt(lightness**2 + chroma**2 + hue**2 + twist * chroma * hue)


def _saturation(chroma: np.ndarray) -> np.ndarray:
    return np.sqrt(chroma**7 / (chroma**7 + _FULL))


def _cos(degrees: np.ndarray) -> np.ndarray:
    return np.cos(np.radians(degrees))
