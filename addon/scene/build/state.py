"""What a build was given, kept on its collection so that a file tells how it was made and can be made again."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field

import bpy

from ... import raw
from ...core.errors import PresetProblem
from ...core.presets import preset as presets
from ...core.presets.preset import Preset
from ...core.remembered import keeping
from ...core.wear.purpose import CHOICES, Chosen
from ...core.wear.quality import QUALITIES, SHADING, STANDARD
from ..fit.rest import number_of

MARK = "playworn"
FORMAT = 1
_NUMBER = (int, float)
_MOST = 1e6  # of any of the dials
_ALWAYS = {"seed": (int,), "looseness": _NUMBER, "wear": _NUMBER, "textures": (str,)}
_FIELDS: dict[str, tuple[type, ...]] = _ALWAYS | {
    "quality": (str,), "rounding": (str,), "pinned": (int,), "rolled": (int,), "budget": (*_NUMBER, type(None)),
    "layers": (dict,), "window_deg": (*_NUMBER, type(None)), "wall_deg": (*_NUMBER, type(None)),
    "uses": (dict,),
}  # fmt: skip


@dataclass(frozen=True)
class State:
    """The preset and dials that were applied to a build."""

    preset: Preset
    seed: int
    looseness: float
    wear: float
    textures: str  # folder as the artist gave it, "" for the stand-ins
    quality: str = STANDARD.name
    rounding: str = SHADING
    pinned: int = 0  # bricks
    rolled: int = 0  # re-rolls of all bricks
    budget: float | None = None  # sweeps that the fit could take, None for as many as it needed
    layers: Mapping[str, float] = field(default_factory=dict)  # dials over the preset's amounts; 1 where not named
    window_deg: float | None = None  # where light came from, in the build's own axes; None from everywhere
    wall_deg: float | None = None  # where a wall stood; None nowhere
    uses: Chosen = field(default_factory=dict)  # what pictures of the folder are for by hand, by file name


def remember(collection: bpy.types.Collection, state: State, mm: float | None = None) -> None:
    """Keeps it, with the scale that the build was read at, `mm` per unit of its space; that of before where it was not
    read."""
    raw.put(
        collection,
        MARK,
        json.dumps(
            {
                "format": FORMAT,
                "preset": json.loads(presets.dump(state.preset)),
                "seed": state.seed,
                "looseness": state.looseness,
                "wear": state.wear,
                "textures": state.textures,
                "quality": state.quality,
                "rounding": state.rounding,
                "pinned": state.pinned,
                "rolled": state.rolled,
                "budget": state.budget,
                "layers": dict(state.layers),
                "window_deg": state.window_deg,
                "wall_deg": state.wall_deg,
                "number": number(collection),
                "mm_per_unit": mm or mm_per_unit(collection),
            }
            | ({"uses": dict(state.uses)} if state.uses else {})
        ),
    )


def recall(collection: bpy.types.Collection) -> State | None:
    """What was applied to the build, None where nothing was; PresetProblem where a newer version did it."""
    return _state(raw.text(collection, MARK), collection.name) if MARK in collection else None


@keeping(64)
def _state(text: str, name: str) -> State:
    """Read once for as long as the text stays as it is: a panel asks for it at every redraw."""
    try:
        kept = raw.said(text)
        if kept["format"] > FORMAT:
            raise PresetProblem(
                f'the build "{name}" was made by a newer Playworn (format {kept["format"]}, '
                f"this one reads up to {FORMAT}): update the extension"
            )
        preset = presets.parse(json.dumps(kept["preset"], ensure_ascii=False), f'the build "{name}"')
        given = {field: kept[field] for field in _FIELDS if field in kept or field in _ALWAYS}
    except (ValueError, TypeError, KeyError):
        given = {}
    odd = [field for field, value in given.items() if type(value) not in _FIELDS[field]]
    wild = [value for value in given.values() if isinstance(value, float) and not 0 <= value <= _MOST]
    if not odd:
        wild += [value for value in given.get("layers", {}).values() if not _is_dial(value)]
        wild += [value for value in given.get("uses", {}).values() if value not in CHOICES]
    if not given or odd or wild or given.get("quality", STANDARD.name) not in QUALITIES:
        raise PresetProblem(f'what was put on the build "{name}" cannot be read: clear it, and apply a preset again')
    return State(preset, **given)


def _is_dial(value: object) -> bool:
    return isinstance(value, int | float) and 0 <= value <= _MOST


def number(collection: bpy.types.Collection) -> int:
    """By which the bricks of a build know it, whatever it is called and wherever they go."""
    kept = _kept(raw.text(collection, MARK))[0]
    taken = {_kept(raw.text(other, MARK))[0] for other in marked() if other != collection} if not kept else ()
    found = kept or number_of(collection.name_full)
    while found in taken:
        found += 1
    return found


def mm_per_unit(collection: bpy.types.Collection) -> float | None:
    """The scale that the build was read at when it was given this, per unit of the space it stands in."""
    return _kept(raw.text(collection, MARK))[1]


@keeping(64)
def _kept(text: str) -> tuple[int, float | None]:
    """The number and the scale; 0 and None where an earlier version wrote it, or another hand."""
    try:
        told = raw.said(text)
        found, mm = told.get("number"), told.get("mm_per_unit")
    except (ValueError, TypeError, AttributeError):
        return 0, None
    is_scale = isinstance(mm, float) and 0.0 < mm <= _MOST
    return found if type(found) is int and found > 0 else 0, mm if is_scale else None


def forget(collection: bpy.types.Collection) -> None:
    raw.drop(collection, MARK)


def text(collection: bpy.types.Collection) -> str:
    """What the build was given as it is kept, "" where nothing was: to tell one state from another."""
    return raw.text(collection, MARK)


def is_marked(collection: bpy.types.Collection) -> bool:
    return MARK in collection


def marked() -> list[bpy.types.Collection]:
    """Every build of the file that has a preset on it."""
    rooms = [*bpy.data.collections, *(scene.collection for scene in bpy.data.scenes)]
    return [room for room in rooms if is_marked(room)]
