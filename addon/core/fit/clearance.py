"""What a mould leaves off the walls of bricks, and where they touch then."""

import numpy as np

from ..build import openings
from ..build.bricks import Bricks
from ..build.contacts import contacts
from ..build.touching import Contacts
from ..remembered import digest, remembered
from ..sizes import TRADE

_NOISE = 1e-4  # half pitches by which an export rounds a body that has no clearance


def met(bricks: Bricks, clearance_mm: float) -> tuple[np.ndarray, Contacts, bytes]:
    """How bricks shrink (N, 3) by the clearance, where they touch then, and what tells that from all other places."""
    shrink = shrinkage(bricks, clearance_mm)
    place = bricks.told + digest(shrink)
    touching: Contacts = remembered("contacts", place, lambda: contacts(bricks, shrink))
    return shrink, touching, place


def shrinkage(bricks: Bricks, clearance_mm: float) -> np.ndarray:
    """Factors (N, 3) along the part's axes that leave `clearance_mm` on each side of its walls, where the export leaves
    less; a part's walls are those around its stud axis, however the brick lies. What holds a pin, or is one, stays as
    it is across the pin."""
    size = 2.0 * bricks.half_in_part
    missing = np.maximum(clearance_mm - _clearance_in_export(size), 0.0)
    return np.where(bricks.is_wall & ~openings.across(bricks), (size - 2.0 * missing) / size, 1.0)


def _clearance_in_export(size: np.ndarray) -> np.ndarray:
    """What the export leaves on each side of a body of this size: the rest to a whole number of half pitches."""
    half_pitch = TRADE.half_pitch
    return 0.5 * (np.ceil(size / half_pitch - _NOISE) * half_pitch - size)
