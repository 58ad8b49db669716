"""A place near which layers are stronger or weaker: what an artist says of a sphere in the scene."""

from dataclasses import dataclass

USUAL, WORN, CLEAN, MOST = 1.0, 3.0, 0.0, 10.0  # times what use brings all around


@dataclass(frozen=True)
class Place:
    """In its middle there is so many times of what use brings; at its rim as much as all around."""

    amount: float
    is_smooth: bool = True  # the way from the middle to the rim, else straight
