"""Where bricks touch: what kind of place each is, where it lies, and how they are held there."""

from dataclasses import dataclass

import numpy as np

# Studs hold; one stands on the other; a seam between two; edges or corners near; one lies in an opening of the other.
JOINT, REST, SIDE, CORNER, LODGED = range(5)


@dataclass(frozen=True)
class Contacts:
    """K places where two bricks touch or nearly do; b lies beyond a along the contact's normal.

    A contact's axes are x and y in the shared face and the normal. The first three of the frames are those of contacts
    along the build's x, y and z, which most share: kept for each contact, axes would take as much room as all the rest.
    """

    a: np.ndarray  # (K,) brick
    b: np.ndarray  # (K,) brick
    piece_a: np.ndarray  # (K,) box of its body, an index into `Bricks.pieces`
    piece_b: np.ndarray  # (K,)
    kind: np.ndarray  # (K,) JOINT, REST, SIDE, CORNER or LODGED
    frame: np.ndarray  # (K,) its axes, an index into `frames`
    place: np.ndarray  # (K, 3) middle of the shared face
    half: np.ndarray  # (K, 2) its half sizes
    gap: np.ndarray  # (K,) between the faces, or around what lies in an opening; negative where they overlap
    studs: np.ndarray  # (K,) studs that hold
    stud_middle: np.ndarray  # (K, 2) middle of those studs, from `place`
    stud_half: np.ndarray  # (K, 2) half span of their axes
    frames: np.ndarray  # (F, 3, 3) rows are a contact's axes in the build; one for each contact at an angle

    def __len__(self) -> int:
        return len(self.a)

    def of_kind(self, *kinds: int) -> "Contacts":
        return self.only(np.isin(self.kind, kinds))

    def only(self, chosen: np.ndarray) -> "Contacts":
        return Contacts(**{name: values[chosen] for name, values in self.columns.items()}, frames=self.frames)

    @property
    def columns(self) -> dict[str, np.ndarray]:
        """What is kept for each contact."""
        return {name: values for name, values in vars(self).items() if name != "frames"}

    @property
    def axes(self) -> np.ndarray:
        """(K, 3, 3) rows are each contact's axes in the build."""
        return self.frames[self.frame]

    @property
    def seats(self) -> np.ndarray:
        """(K,) which are joints or rests."""
        return (self.kind == JOINT) | (self.kind == REST)

    @property
    def held(self) -> np.ndarray:
        """(K,) where one brick moves in the other by its play alone."""
        return (self.kind == JOINT) | (self.kind == LODGED)

    @property
    def joints(self) -> np.ndarray:
        """(J, 2) bricks that studs hold together, or that one lies in the other, each pair once."""
        held = self.held
        return np.unique(np.stack([self.a[held], self.b[held]], axis=1), axis=0)
