"""What the tool tells about its work: plain values, ready for a sentence, a table or JSON."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Skipped:
    """Something left as it was, and why."""

    object: str
    reason: str
