"""A preset: a named set of fit and wear values, kept as JSON.

Every field carries its own rule, so that reading, the panel and the guide all tell the same ranges and units.
"""

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, asdict, dataclass, field, fields, is_dataclass, replace
from typing import Any, cast

from .errors import PresetProblem

FORMAT = 1
LARGEST = 65_536  # characters; a preset of this format needs about 900


@dataclass(frozen=True)
class Number:
    """A value between two limits, both allowed."""

    low: float
    high: float
    unit: str  # "mm", "µm", "°", or "" for a share
    meaning: str

    @property
    def wanted(self) -> str:
        return f"give a number from {self.low:g} to {self.high:g}"

    def accepts(self, value: object) -> bool:
        return isinstance(value, float) and self.low <= value <= self.high


@dataclass(frozen=True)
class Text:
    """Words on one line that match a pattern as a whole."""

    pattern: str
    wanted: str
    meaning: str

    def accepts(self, value: object) -> bool:
        return isinstance(value, str) and value.isprintable() and re.fullmatch(self.pattern, value) is not None


def number(low: float, high: float, unit: str, meaning: str) -> Mapping[str, Number]:
    return {"rule": Number(low, high, unit, meaning)}


NAME = Text(
    "(?!.{61})[a-z0-9]+(-[a-z0-9]+)*",
    "use at most 60 small letters a to z, digits and single dashes, as in harbour-day",
    "What the preset is called",
)
NOTE = Text(".{0,300}", "write at most 300 characters on one line", "What the preset looks like, in a sentence")


@dataclass(frozen=True)
class Fit:
    """How far a brick may sit from where the export put it; a looseness of 1 uses these limits as they are."""

    shift_mm: float = field(metadata=number(0.0, 0.3, "mm", "Sideways, along each of the build's two level axes"))
    lift_mm: float = field(metadata=number(0.0, 0.3, "mm", "Up off the seat, never down into it"))
    twist_deg: float = field(
        metadata=number(0.0, 10.0, "°", "About the upright axis; long bricks turn less, their studs hold them")
    )
    tilt_deg: float = field(
        metadata=number(0.0, 2.0, "°", "Tipping about each level axis; long bricks tip less, their ends lift the same")
    )
    clearance_mm: float = field(
        metadata=number(0.0, 0.3, "mm", "Gap left by the mould on each side face, added only where the export has none")
    )
    play_mm: float = field(metadata=number(0.0, 0.2, "mm", "How far a stud can move in its socket"))
    lean_mm: float = field(
        metadata=number(0.0, 0.5, "mm", "How far a tower 100 mm high leans at its top, as a standard deviation")
    )
    neatness: float = field(
        metadata=number(0.0, 1.0, "", "Share of the bricks that are placed with care and use little of the limits")
    )


@dataclass(frozen=True)
class Scratches:
    amount: float = field(metadata=number(0.0, 1.0, "", "From 0, clean, to 1, covered"))
    size_mm: float = field(metadata=number(1.0, 1000.0, "mm", "Real width of one repeat of the texture"))
    depth_um: float = field(metadata=number(0.0, 50.0, "µm", "Groove depth where the texture's marks are strongest"))


@dataclass(frozen=True)
class Smudges:
    amount: float = field(metadata=number(0.0, 1.0, "", "From 0, clean, to 1, covered"))
    size_mm: float = field(metadata=number(1.0, 1000.0, "mm", "Real width of one repeat of the texture"))


@dataclass(frozen=True)
class Dust:
    amount: float = field(metadata=number(0.0, 1.0, "", "From 0, clean, to 1, covered, on faces open to the sky"))
    size_mm: float = field(metadata=number(1.0, 1000.0, "mm", "Real width of one repeat of the texture"))


@dataclass(frozen=True)
class Rub:
    amount: float = field(
        metadata=number(
            0.0, 1.0, "", "From 0, fresh from the mould, to 1, edges rubbed through; as wide as the rounding"
        )
    )


@dataclass(frozen=True)
class Tint:
    delta_e: float = field(
        metadata=number(0.0, 5.0, "ΔE", "How far the widest colour lot differs from the material's colour, CIEDE2000")
    )


@dataclass(frozen=True)
class Fade:
    delta_e: float = field(
        metadata=number(0.0, 30.0, "ΔE", "How far light has changed the colour of the most faded bricks, CIEDE2000")
    )


@dataclass(frozen=True)
class Finish:
    amount: float = field(
        metadata=number(
            0.0, 1.0, "", "From 0, the export's own gloss and refraction, to 1, those of moulded plastic of its kind"
        )
    )


@dataclass(frozen=True)
class Wear:
    """The layers; one that a preset does not name is clean."""

    rounding_mm: float = field(metadata=number(0.0, 1.0, "mm", "Moulded edge radius"))
    scratches: Scratches
    smudges: Smudges
    dust: Dust = Dust(0.0, 30.0)
    rub: Rub = Rub(0.0)
    tint: Tint = Tint(0.0)
    fade: Fade = Fade(0.0)
    finish: Finish = Finish(0.0)


@dataclass(frozen=True)
class Preset:
    name: str = field(metadata={"rule": NAME})
    note: str = field(metadata={"rule": NOTE})
    fit: Fit
    wear: Wear


class Members(tuple):
    """A JSON object as the pairs that stand in the file, so that a key given twice can still be seen."""


def parse(text: str, where: str) -> Preset:
    """Reads a preset from JSON; `where` names its source in the sentence of the PresetProblem that a mistake raises."""
    if len(text) > LARGEST:
        raise PresetProblem(f"{where} holds more than {LARGEST} characters, too many for a preset: check the file")
    given = _members(_json(text, where), "", where)
    _check_format(given, where)
    del given["format"]
    return _record(Preset, given, "", where)


def dump(preset: Preset) -> str:
    """The preset as JSON in the order of its fields: the same preset always gives the same text."""
    return json.dumps({"format": FORMAT, **asdict(preset)}, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def changed(preset: Preset, changes: Mapping[str, float], where: str) -> Preset:
    """The preset with some values changed, each named by its path, such as fit.shift_mm; `where` names their source.

    Raises PresetProblem where there is no such value, or it is not allowed.
    """
    values = json.loads(dump(preset))
    for path, value in changes.items():
        *outer, name = path.split(".")
        record = values
        for step in outer:
            record = record.get(step) if isinstance(record, dict) else None
        if not isinstance(record, dict) or not isinstance(record.get(name), float):
            raise PresetProblem(
                f"{where} names {_shown(path)}, which is no number of a preset: name one as fit.shift_mm"
            )
        record[name] = value
    return parse(json.dumps(values), where)


def numbers(kind: type[Any] = Preset, path: str = "") -> Iterator[tuple[str, Number]]:
    """Every number of a preset by its path, with its rule."""
    for described in fields(kind):
        inner = _path(path, described.name)
        if is_dataclass(described.type):
            yield from numbers(cast(type[Any], described.type), inner)
        elif described.type is float:
            yield inner, described.metadata["rule"]


def check_name(name: str) -> None:
    """Raises PresetProblem where a preset cannot be called `name`."""
    if not NAME.accepts(name):
        raise PresetProblem(f"a preset cannot be called {_shown(name)}: {NAME.wanted}")


_LOOSENED = ("shift_mm", "lift_mm", "twist_deg", "tilt_deg", "lean_mm")  # mould and studs are what they are

_STRENGTHS = {
    "scratches": "amount",
    "smudges": "amount",
    "dust": "amount",
    "rub": "amount",
    "tint": "delta_e",
    "fade": "delta_e",
    "finish": "amount",
}
LAYERS = tuple(_STRENGTHS)


def dialled(preset: Preset, looseness: float, wear: float) -> Preset:
    """The preset that looks with both dials at 1 as this one looks with them at `looseness` and `wear`."""
    motions = {name: getattr(preset.fit, name) * looseness for name in _LOOSENED}
    layers = {}
    for layer, strength in _STRENGTHS.items():
        record = getattr(preset.wear, layer)
        layers[layer] = _within(record, {strength: getattr(record, strength) * wear})
    return replace(preset, fit=_within(preset.fit, motions), wear=replace(preset.wear, **layers))


def _within(record, values: dict[str, float]):
    rules = {f.name: f.metadata["rule"] for f in fields(record)}
    return replace(record, **{name: min(value, rules[name].high) for name, value in values.items()})


def _json(text: str, where: str) -> object:
    try:
        return json.loads(text, object_pairs_hook=Members, parse_int=float)
    except json.JSONDecodeError as problem:
        place = f"line {problem.lineno}, column {problem.colno}: {problem.msg}"
        raise PresetProblem(f"{where} is not JSON ({place}): mend that place or save the preset again") from None
    except RecursionError:
        raise PresetProblem(f"{where} is nested too deeply for a preset: check that it is the right file") from None


def _check_format(given: dict[str, object], where: str) -> None:
    made_by = given.get("format")
    if isinstance(made_by, float) and made_by > FORMAT:
        reads = f"format {made_by:g}, this one reads up to {FORMAT}"
        raise PresetProblem(f"{where} was made by a newer Playworn ({reads}): update the extension")
    if made_by != FORMAT or isinstance(made_by, bool):
        state = f"is {_shown(made_by)}" if "format" in given else "is missing"
        raise PresetProblem(f"format {state} in {where}: give {FORMAT}")


def _members(value: object, path: str, where: str) -> dict[str, object]:
    if not isinstance(value, Members):
        place = f"{path} is {_shown(value)} in {where}" if path else f"{where} holds {_shown(value)}, not a preset"
        raise PresetProblem(f"{place}: give an object, in braces")
    given: dict[str, object] = {}
    for name, member in value:
        if name in given:
            raise PresetProblem(f"{_path(path, name)} stands twice in {where}: keep one of the two")
        given[name] = member
    return given


def _record(kind: type[Any], given: dict[str, object], path: str, where: str) -> Any:
    names = [f.name for f in fields(kind)]
    for name in given:
        if name not in names:
            known = f"known here are {', '.join(names)}"
            raise PresetProblem(f"{_path(path, name)} in {where} is not a field of a preset: remove it ({known})")
    return kind(**{f.name: _value(f, given, path, where) for f in fields(kind)})


def _value(described, given: dict[str, object], path: str, where: str) -> Any:
    inner, kind = _path(path, described.name), described.type
    rule = described.metadata.get("rule")
    if described.name not in given and described.default is not MISSING:
        return described.default
    if described.name not in given:
        raise PresetProblem(f"{inner} is missing in {where}: {rule.wanted if rule else 'give an object, in braces'}")
    value = given[described.name]
    if isinstance(kind, type) and is_dataclass(kind):
        return _record(kind, _members(value, inner, where), inner, where)
    if not rule.accepts(value):
        raise PresetProblem(f"{inner} is {_shown(value)} in {where}: {rule.wanted}")
    return value


def _path(outer: str, name: str) -> str:
    name = name if re.fullmatch("[A-Za-z0-9_]{1,40}", name) else _shown(name)
    return f"{outer}.{name}" if outer else name


def _shown(value: object) -> str:
    match value:
        case Members():
            return "an object"
        case list():
            return "a list"
        case float() if value == value and abs(value) != float("inf"):
            return repr(value).removesuffix(".0")
        case str() if len(value) > 40:
            return json.dumps(value[:40]) + "…"
    return json.dumps(value)
