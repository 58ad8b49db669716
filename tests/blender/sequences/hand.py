"""Who chooses: what an action may be done to, and how much of it, drawn from a seed or by Hypothesis."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random
from typing import Any, Protocol, TypeVar

from hypothesis import strategies as st

T = TypeVar("T")


class Hand(Protocol):
    """Whoever chooses."""

    def pick(self, among: Sequence[T]) -> T:
        """One of these; Nothing where there is none."""
        ...

    def number(self, least: float, most: float) -> float:
        """To three digits."""
        ...


class Nothing(Exception):
    """There is nothing here that this could be done to."""


class Seeded:
    """Chooses by a seed."""

    def __init__(self, seed: int) -> None:
        self._random = Random(seed)

    def pick(self, among: Sequence[T]) -> T:
        if not among:
            raise Nothing
        return among[self._random.randrange(len(among))]

    def number(self, least: float, most: float) -> float:
        return round(self._random.uniform(least, most), 3)


class Drawn:
    """Chooses as Hypothesis draws, which then shrinks what fails."""

    def __init__(self, draw: Callable[[st.SearchStrategy], Any]) -> None:
        self._draw = draw

    def pick(self, among: Sequence[T]) -> T:
        if not among:
            raise Nothing
        return among[self._draw(st.integers(0, len(among) - 1))]

    def number(self, least: float, most: float) -> float:
        return self._draw(st.integers(round(1000 * least), round(1000 * most))) / 1000


@dataclass(frozen=True)
class Action:
    """Something that is done to the open file, with what has to be chosen for it."""

    name: str
    chosen: tuple[Callable[[Hand], Any], ...]
    do: Callable[..., None]

    def drawn(self, hand: Hand) -> list:
        """The action as it is written down: its name and what was chosen, plain values all."""
        return [self.name, *(choose(hand) for choose in self.chosen)]


class Actions(dict[str, Action]):
    """Actions by name."""

    def __call__(self, *chosen: Callable[[Hand], Any]) -> Callable:
        """Takes a function in as an action, and says how its arguments are chosen."""

        def taken(do: Callable[..., None]) -> Callable[..., None]:
            name = do.__name__.strip("_")
            self[name] = Action(name, chosen, do)
            return do

        return taken
