"""The ladder of attempts at what the exact check does not find kept, from the cheapest to the last."""

from dataclasses import dataclass

SWEEPS = 9  # of the first solve: brings the objective within 0.1 % of the optimum at a looseness of 1
ENOUGH = 200  # sweeps over all contacts, attempts together, after which bricks want less: small builds take no more


@dataclass(frozen=True)
class Attempt:
    """One more solve of the bricks around contacts that are not kept, all others staying as they are."""

    sweeps: int  # over the contacts of these bricks
    hops: int  # contacts from one that is not kept to the farthest of these bricks: ever more can give way
    share: float = 1.0  # of their own draws that these bricks want: the lean that all share stays
    joins: bool = True  # whether two bricks that hardly come nearer to their limits go as one from then on


ATTEMPTS = (
    Attempt(sweeps=6, hops=2, joins=False),  # keeps 15 of 16 at a looseness of 1, two in three at 2
    Attempt(18, 3, joins=False),
    Attempt(36, 4, joins=False),  # the last in plain builds; one in 20 is left in odd ones and around pins
    Attempt(36, 5),  # what is not nearer by now contradicts itself, such as two bricks in one place
    Attempt(36, 6),
    Attempt(72, 7),
    Attempt(72, 8),
    Attempt(144, 9),
    Attempt(144, 10),
    Attempt(36, 11, share=0.5),  # limits contradict each other here, so less will do: a few sweeps are enough
    Attempt(36, 12, share=0.25),
    Attempt(36, 13, share=0.125),
    Attempt(36, 14, share=0.0),
)
