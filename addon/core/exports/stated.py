"""What an export states of how its materials shade, and the sentences about what it leaves out."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from ..wear import kinds

ROUGHNESS, METALLIC, IOR, TRANSMISSION = "roughness", "metallic", "ior", "transmission"
SPECULAR = "specular"  # a share of the mirror that index and angle give; no file has to know of it
_TOLD = {ROUGHNESS: "gloss", METALLIC: "metal", IOR: "refraction"}  # that bricks are opaque goes without saying

Stated = Mapping[str, frozenset[str]]  # name of a material in the file -> what it states of the above

_METAL = 0.5
_MATT = 0.5  # what Blender gives a new material; moulded plastic is glossier; common practice, no published source


@dataclass(frozen=True)
class Surface:
    """A material's values as they stand; None where a picture or nodes give them."""

    roughness: float | None
    metallic: float | None


def moulded(kind: str) -> dict[str, float]:
    """New plastic's value of each field, for a material of this kind."""
    plastic = kinds.MOULDED[kind]
    return {
        ROUGHNESS: plastic.roughness,
        METALLIC: 0.0,
        IOR: plastic.index_of_refraction,
        TRANSMISSION: 0.0,
        SPECULAR: 0.5,
    }


def taken(left_out: Collection[frozenset[str]]) -> str:
    """The sentence about what was taken from plastic, "" for nothing; `left_out` has what each material lacks."""
    counts = {word: sum(field in each for each in left_out) for field, word in _TOLD.items()}
    groups: dict[int, list[str]] = {}
    for word, count in counts.items():
        groups.setdefault(count, []).append(word)
    told = [f"{_listed(words)} of {_of(count, len(left_out))}" for count, words in groups.items() if count]
    if not told:
        return ""
    return f"Not stated by the export and taken from moulded plastic: {'; '.join(told)}."


def seen_through(colour: tuple[float, ...], opacity: float) -> tuple[float, ...]:
    """The linear colour (3,) of clear plastic through which white looks as through the two faces of a body that are of
    a colour (3,) and opaque by that share."""
    return tuple((1.0 - opacity + opacity * each) ** 2 for each in colour)


def made_clear(number: int, total: int) -> str:
    """The sentence about how many materials an export made see-through, "" for none."""
    if not number:
        return ""
    return (
        f"See-through by the export and taken for clear moulded plastic: {_of(number, total)}. "
        "With Keep Alpha As It Is (--keep-alpha) they stay as exported."
    )


def unlike_plastic(surfaces: Collection[Surface], by: str) -> tuple[str, ...]:
    """A sentence where a whole build is metal, and one where all of it is matt; `by` says whose word that is."""
    if not surfaces:
        return ()
    many = _of(len(surfaces), len(surfaces))
    lines = []
    if all(each.metallic is not None and each.metallic >= _METAL for each in surfaces):
        lines.append(f"Metal by {by}: {many}. If the bricks are plastic, set Metallic to 0 there.")
    if all(each.roughness is not None and each.roughness > _MATT for each in surfaces):
        dullest = min(each.roughness or 0.0 for each in surfaces)
        lines.append(f"Matt by {by}: {many}, roughness {dullest:.2g} or more. The finish of a preset brings the gloss.")
    return tuple(lines)


def _of(count: int, total: int) -> str:
    if count < total:
        return f"{count} of {total} materials"
    return "the one material" if total == 1 else f"all {total} materials"


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
