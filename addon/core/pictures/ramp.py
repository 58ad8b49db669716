"""Colours for numbers, dark blue to yellow: equal steps look equal, to any eye and in a grey print.

Cividis: Nuñez, Anderton, Renslow, "Optimizing colormaps with consideration for color vision deficiency to enable
accurate interpretation of scientific data", PLOS ONE 13(7), 2018; nine of its 256 colours, and straight lines between.
"""

import numpy as np

_STOPS = ((0, "00224e"), (22, "003171"), (35, "203a6f"), (53, "38476c"), (152, "938e78"), (203, "c7b767"),
          (234, "e9d34e"), (251, "fde334"), (255, "fee838"))  # fmt: skip
_SHARES = np.array([number for number, _ in _STOPS]) / 255.0
_COLOURS = np.array([tuple(bytes.fromhex(colour)) for _, colour in _STOPS]) / 255.0


def colours(share: np.ndarray) -> np.ndarray:
    """sRGB (..., 3) of shares (...) from 0 to 1; what lies beyond has the colour of the end."""
    return np.stack([np.interp(share, _SHARES, channel) for channel in _COLOURS.T], axis=-1)
