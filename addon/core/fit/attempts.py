"""The ladder of attempts at what the exact check does not find kept, from the cheapest to the last."""

from dataclasses import dataclass

SWEEPS = 9  # of the first solve: brings the objective within 0.1 % of the optimum at a looseness of 1
ENOUGH = 100  # sweeps over all contacts, attempts together, after which all that is left is given up

# What an attempt gives up of the contacts that are not kept: the two bricks go as one from then on.
NONE, STUCK, MISFIT, ALL = range(4)  # those hardly nearer to their limits; those that do not fit in the export; all


@dataclass(frozen=True)
class Attempt:
    """One more solve of the bricks around contacts that are not kept, all others staying as they are."""

    sweeps: int  # over the contacts of these bricks
    hops: int  # contacts from one that is not kept to the farthest of these bricks: ever more can give way
    gives_up: int
    sweeps_at_misfits: int  # where nothing else is left
    gives_up_at_misfits: int
    share: float = 1.0  # of their own draws that these bricks want: the lean that all share stays


ATTEMPTS = (
    Attempt(6, 2, NONE, 6, NONE),  # keeps 15 of 16 at a looseness of 1, two in three at 2
    Attempt(18, 3, NONE, 18, NONE),
    Attempt(36, 4, NONE, 18, MISFIT),  # the last in plain builds; one in 20 is left in odd ones and around pins
    Attempt(36, 5, STUCK, 12, ALL),  # what is not nearer by now contradicts itself
    Attempt(36, 6, STUCK, 12, ALL),
    Attempt(72, 7, STUCK, 12, ALL),
    Attempt(72, 8, STUCK, 12, ALL),
    Attempt(18, 6, ALL, 18, ALL),
    *(Attempt(6, 6, ALL, 6, ALL),) * 9,  # what goes as one pushes others
    Attempt(18, 8, ALL, 18, ALL, share=0.0),
)
