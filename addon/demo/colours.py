"""The colours the lighthouse is moulded in: linear RGB picked by eye, names in plain English."""

from typing import NamedTuple


class Colour(NamedTuple):
    """What an export tells about a plastic."""

    rgb: tuple[float, float, float]  # linear, 0..1
    clear: bool = False  # transparent plastic


ROUGHNESS = 0.16  # moulded gloss
INDEX_OF_REFRACTION = 1.54  # of ABS and its clear cousins; from memory

COLOURS: dict[str, Colour] = {
    "chalk white": Colour((0.78, 0.76, 0.70)),
    "signal red": Colour((0.50, 0.017, 0.012)),
    "cream": Colour((0.72, 0.55, 0.30)),
    "slate": Colour((0.045, 0.062, 0.085)),
    "pale stone": Colour((0.38, 0.38, 0.37)),
    "stone": Colour((0.16, 0.165, 0.17)),
    "wet stone": Colour((0.055, 0.06, 0.065)),
    "oak": Colour((0.19, 0.085, 0.032)),
    "driftwood": Colour((0.34, 0.25, 0.16)),
    "moss": Colour((0.10, 0.19, 0.035)),
    "deep sea": Colour((0.008, 0.045, 0.14)),
    "sea": Colour((0.012, 0.12, 0.30)),
    "lagoon": Colour((0.015, 0.20, 0.36)),
    "door teal": Colour((0.006, 0.20, 0.19)),
    "mustard": Colour((0.68, 0.30, 0.012)),
    "clear water": Colour((0.30, 0.68, 0.86), clear=True),
    "clear pane": Colour((0.86, 0.92, 0.95), clear=True),
    "lamp amber": Colour((0.95, 0.52, 0.06), clear=True),
}
