"""What comes to light of a file while another process asks whether it is whole."""

import json
from dataclasses import dataclass

from ...core.exports.stated import Stated


@dataclass(frozen=True)
class Said:
    """What its materials state; and whether it is `plain`: put together from no other file, with nothing in it that a
    reader is known to pass over."""

    stated: Stated
    is_plain: bool = False

    def written(self) -> str:
        """In one line."""
        return json.dumps([{material: sorted(says) for material, says in self.stated.items()}, self.is_plain])

    @classmethod
    def read(cls, text: str) -> "Said | None":
        """Out of the last line of a text, before which a library may have had its say; None where it is another's."""
        try:
            stated, is_plain = json.loads(text.splitlines()[-1])
            return cls({material: frozenset(says) for material, says in stated.items()}, bool(is_plain))
        except (ValueError, IndexError, TypeError, AttributeError):
            return None
