"""The ladder of attempts at what the exact check does not find kept, from the cheapest to the last."""

from dataclasses import dataclass

SWEEPS = 9  # of the first solve: brings the objective within 0.1 % of the optimum at a looseness of 1
ENOUGH = 100  # sweeps over all contacts, attempts together, after which bricks stay near where they stand

NONE, STUCK, ALL = range(3)  # contacts that are not kept: those hardly nearer to their limits than before, and all


@dataclass(frozen=True)
class Attempt:
    """One more solve of the bricks around contacts that are not kept, all others staying as they are."""

    sweeps: int  # over the contacts of these bricks
    hops: int  # contacts from one that is not kept to the farthest of these bricks: ever more can give way
    joins: int = NONE  # whose bricks go as one from now on
    stays: bool = False  # whether these bricks want to be where they stand by now, and no more what they drew
    share: float = 1.0  # of their own draws that these bricks want: the lean that all share stays


_LAST = (
    *(Attempt(12, 4, STUCK, stays=True),) * 3,
    *(Attempt(12, 6, ALL, stays=True),) * 6,
    Attempt(18, 8, ALL, share=0.0),
)
_PLAIN = (
    Attempt(6, 2),  # keeps 15 of 16 at a looseness of 1, two in three at 2
    Attempt(18, 3),
    Attempt(36, 4),  # the last in plain builds; one in 20 is left in odd ones and around pins
    Attempt(36, 5, STUCK),  # what is not nearer by now contradicts itself
    Attempt(36, 6, STUCK),
    Attempt(72, 7, STUCK),
    Attempt(72, 8, STUCK),
    *_LAST,
)
_ODD = (  # near bricks that do not fit: what they drew is out of their reach
    Attempt(6, 2),
    Attempt(18, 3),
    *(Attempt(12, 4, stays=True),) * 2,
    *(Attempt(12, 4, STUCK, stays=True),) * 3,
    *_LAST,
)
ATTEMPTS = tuple(zip(_PLAIN, _ODD, strict=True))
