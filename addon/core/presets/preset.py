"""A preset: a named set of fit and wear values, kept as JSON.

Every field carries its own rule, so that reading, the panel and the guide all tell the same ranges and units.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field, fields, is_dataclass, replace
from typing import Any, NamedTuple, cast

from .. import strict_json
from ..errors import PresetProblem
from ..wear.layers import LAYERS, Wear
from ..wear.story import Story
from . import rules
from .migration import FORMAT, migrated
from .rules import NAME, NOTE, RESERVED, TAGS, Number, number

LARGEST = 65_536  # characters; a preset of this format needs about 900


@dataclass(frozen=True)
class Fit:
    """How far a brick may sit from where the export put it; a looseness of 1 uses these limits as they are.

    A limit that a preset does not name is 0.
    """

    shift_mm: float = field(
        default=0.0, metadata=number(0.0, 0.3, "mm", "Sideways, along each of the build's two level axes")
    )
    lift_mm: float = field(default=0.0, metadata=number(0.0, 0.3, "mm", "Up off the seat, never down into it"))
    twist_deg: float = field(
        default=0.0,
        metadata=number(0.0, 10.0, "°", "About the upright axis; long bricks turn less, their studs hold them"),
    )
    tilt_deg: float = field(
        default=0.0,
        metadata=number(0.0, 2.0, "°", "Tipping about each level axis; long bricks tip less, their ends lift the same"),
    )
    clearance_mm: float = field(
        default=0.0,
        metadata=number(
            0.0, 0.3, "mm", "Gap left by the mould on each side face, added only where the export has none"
        ),
    )
    play_mm: float = field(default=0.0, metadata=number(0.0, 0.2, "mm", "How far a stud can move in its socket"))
    lean_mm: float = field(
        default=0.0,
        metadata=number(0.0, 0.5, "mm", "How far a tower 100 mm high leans at its top, as a standard deviation"),
    )
    neatness: float = field(
        default=0.0,
        metadata=number(0.0, 1.0, "", "Share of the bricks that are placed with care and use little of the limits"),
    )


class Unknown(NamedTuple):
    """A field that this version does not know, kept as it stood in the file."""

    path: tuple[str, ...]
    value: str  # as JSON


@dataclass(frozen=True)
class Preset:
    """A named look; what a preset does not name is clean, and sits where the export put it."""

    name: str = field(metadata={"rule": NAME})
    note: str = field(default="", metadata={"rule": NOTE})
    tags: tuple[str, ...] = field(default=(), kw_only=True, metadata={"rule": TAGS})
    fit: Fit = Fit()
    wear: Wear = field(default=Wear())
    story: Story = field(default=Story())
    unknown: tuple[Unknown, ...] = field(default=(), kw_only=True)

    @property
    def warnings(self) -> tuple[str, ...]:
        """A sentence for each field that is kept but does nothing."""
        return tuple(_told(each.path) for each in self.unknown)


def parse(text: str, where: str) -> Preset:
    """Reads a preset from JSON; `where` names its source in the sentence of the PresetProblem that a mistake raises."""
    if len(text) > LARGEST:
        raise PresetProblem(f"{where} holds more than {LARGEST} characters, too many for a preset: check the file")
    given = migrated(strict_json.read(text, where, "preset"), where)
    preset = replace(_record(Preset, given, "", where), unknown=tuple(_unknown(Preset, given, (), where)))
    if preset.unknown and len(dump(preset)) > LARGEST:  # what is read can be saved and read again
        raise PresetProblem(
            f"{_dotted(preset.unknown[0].path)} in {where} is no field of a preset, and the unknown takes more than "
            f"{LARGEST} characters to keep: take it out"
        )
    return preset


def dump(preset: Preset) -> str:
    """The preset as JSON in the order of its fields, what is unknown after them: the same preset, the same text."""
    values = {"format": FORMAT, **asdict(preset)}
    del values["unknown"]
    for path, value in preset.unknown:
        *outer, name = path
        record = values
        for step in outer:
            record = record[step]
        record[name] = json.loads(value)
    return json.dumps(values, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def changed(preset: Preset, changes: Mapping[str, float], where: str) -> Preset:
    """The preset with some values changed, each named by its path, such as fit.shift_mm; `where` names their source.

    Raises PresetProblem where there is no such value, or it is not allowed.
    """
    values, known = json.loads(dump(preset)), dict(numbers())
    for path, value in changes.items():
        if path not in known:
            raise PresetProblem(
                f"{where} names {strict_json.shown(path)}, which is no number of a preset: name one as fit.shift_mm"
            )
        *outer, name = path.split(".")
        record = values
        for step in outer:
            record = record[step]
        record[name] = value
    return parse(json.dumps(values, ensure_ascii=False), where)


def numbers() -> Iterator[tuple[str, Number]]:
    """Every number of a preset by its path, with its rule."""
    return rules.numbers(Preset)


def check_name(name: str) -> None:
    """Raises PresetProblem where a preset cannot be called `name`."""
    if NAME.read(name) is None:
        raise PresetProblem(f"a preset cannot be called {strict_json.shown(name)}: {NAME.wanted}")
    if name in RESERVED:
        raise PresetProblem(f'a preset cannot be called "{name}": Windows keeps that name for a device')


_LOOSENED = ("shift_mm", "lift_mm", "twist_deg", "tilt_deg", "lean_mm")  # mould and studs are what they are


def dialled(preset: Preset, looseness: float, wear: float, dials: Mapping[str, float] = {}) -> Preset:
    """The preset that looks with all dials at 1 as this one looks with them at `looseness` and `wear`, and with each
    layer at its own of the `dials`, 1 where none is named."""
    motions = {name: getattr(preset.fit, name) * looseness for name in _LOOSENED}
    layers = {}
    for layer, about in LAYERS.items():
        record = getattr(preset.wear, layer)
        share = wear * dials.get(layer, 1.0)
        layers[layer] = _within(record, {about.strength: getattr(record, about.strength) * share})
    return replace(preset, fit=_within(preset.fit, motions), wear=replace(preset.wear, **layers))


def left_over(preset: Preset, wear: float, dials: Mapping[str, float] = {}) -> dict[str, float]:
    """What stays for the dials of layers once a preset is `dialled`: its amounts end where their ranges do."""
    folded, left = dialled(preset, 1.0, wear, dials), {}
    for layer, about in LAYERS.items():
        wanted = getattr(getattr(preset.wear, layer), about.strength) * wear * dials.get(layer, 1.0)
        there = getattr(getattr(folded.wear, layer), about.strength)
        if wanted > there and not about.ends_as_declared:
            left[layer] = wanted / there
    return left


def strengthened(preset: Preset, shares: Mapping[str, float], rounding: float) -> Preset:
    """The preset with each layer's strength and its rounding multiplied, at most to the ends of their ranges."""
    layers = {}
    for layer, share in shares.items():
        record, strength = getattr(preset.wear, layer), LAYERS[layer].strength
        layers[layer] = _within(record, {strength: getattr(record, strength) * share})
    radius = {"rounding_mm": preset.wear.rounding_mm * rounding}
    return replace(preset, wear=_within(replace(preset.wear, **layers), radius))


def _within(record, values: dict[str, float]):
    highest = {f.name: f.metadata["rule"].high for f in fields(record) if f.name in values}
    return replace(record, **{name: min(value, highest[name]) for name, value in values.items()})


def known_fields(kind: type[Any]) -> list[Any]:
    """The fields of a record that stand in the file."""
    return [described for described in fields(kind) if described.name != "unknown"]


def _record(kind: type[Any], given: object, path: str, where: str) -> Any:
    if not isinstance(given, dict):
        raise PresetProblem(f"{path} is {strict_json.shown(given)} in {where}: give an object, in braces")
    return kind(**{f.name: _value(f, given, path, where) for f in known_fields(kind) if _stands(f, given, where)})


def _stands(described, given: dict[str, object], where: str) -> bool:
    """Whether the field stands in the record; what it does not name has its default, and a preset always a name."""
    if described.name not in given and described.metadata.get("rule") is NAME:
        raise PresetProblem(f"{described.name} is missing in {where}: {NAME.wanted}")
    return described.name in given


def _value(described, given: dict[str, object], path: str, where: str) -> Any:
    inner, kind, value = strict_json.join(path, described.name), described.type, given[described.name]
    if is_dataclass(kind):
        return _record(cast(type[Any], kind), value, inner, where)
    rule = described.metadata["rule"]
    read = rule.read(value)
    if read is None:
        raise PresetProblem(f"{inner} is {strict_json.shown(value)} in {where}: {rule.wanted}")
    return read


def _unknown(kind: type[Any], given: object, path: tuple[str, ...], where: str) -> Iterator[Unknown]:
    """What a record and the records in it hold beyond their fields; PresetProblem where JSON could not say it again."""
    if not isinstance(given, dict):
        return  # no record: told as that
    inner = {described.name: described.type for described in known_fields(kind)}
    for name, value in given.items():
        if name not in inner:
            strict_json.check_plain(name, _dotted((*path, name)), where)
            strict_json.check_plain(value, _dotted((*path, name)), where)
            yield Unknown((*path, name), json.dumps(value))
        elif is_dataclass(inner[name]):
            yield from _unknown(cast(type[Any], inner[name]), value, (*path, name), where)


def _told(path: tuple[str, ...]) -> str:
    kind: Any = Preset
    for step in path[:-1]:
        kind = next(described.type for described in fields(kind) if described.name == step)
    known = ", ".join(described.name for described in known_fields(kind))
    return f"{_dotted(path)} is no field of a preset: it is kept but does nothing (known here are {known})"


def _dotted(path: tuple[str, ...]) -> str:
    place = ""
    for name in path:
        place = strict_json.join(place, name)
    return place
