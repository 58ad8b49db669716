"""What a command prints: one JSON object or aligned words on stdout, progress on stderr, nothing else."""

import json
import sys
from contextlib import suppress
from dataclasses import asdict, dataclass, is_dataclass
from math import isfinite
from pathlib import Path
from typing import Any

from .. import stdout
from ..core.errors import FileProblem

NAMED = 5  # objects named for each reason before the rest is counted
_UNITS = {"mm": " mm", "um": " µm", "px": " px", "deg": "°"}  # last word of a key -> what follows its value
_LABELS = {
    "skipped": "left alone",
    "left_out": "no bricks",
    "calmed": "bricks held calmer than asked",
    "least_share": "least share of the motion asked for",
    "spent": "budget spent",
    "held_back": "bricks held back by the budget",
    "as_one": "bricks that move as one with another",
    "heaped": "bricks that stay, lying in several others",
    "cut": "places beyond the limits",
    "cuts": "cuts in the export",
    "tight": "share of joints at their play",
    "takes": "takes looseness up to",
}


@dataclass(frozen=True)
class Partly:
    """The answer of a command that could do only part of its work, and what stood in its way."""

    done: Any
    problem: str


def say(words: object) -> None:
    """Says something beside the answer; the work goes on where nobody listens."""
    with suppress(OSError):
        print(words, file=sys.stderr, flush=True)


def progress(fraction: float, words: str) -> None:
    say(f"{round(100 * fraction):3d} %  {words}")


def warn(words: str) -> None:
    """Says what was done all the same but may not be what was meant."""
    say(f"warning: {words}")


def show(answer: Any, as_json: bool) -> None:
    """Prints a report, a dataclass or a mapping; FileProblem where there is no room for it."""
    told = plain(answer)
    send((_json(told) if as_json else "\n".join(_lines(told))) + "\n")


def send(words: str = "") -> None:
    """Sees words on their way to standard output; FileProblem where there is no room for them."""
    if problem := stdout.tell(words):
        raise FileProblem(
            f"what was asked for is done, but the answer cannot be written ({problem}): "
            "send standard output to where there is room"
        )


def _json(told: Any) -> str:
    """In the letters themselves where standard output knows them all."""
    words = json.dumps(told, ensure_ascii=False, allow_nan=False)
    try:
        words.encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        return json.dumps(told, allow_nan=False)
    return words


def with_file(told: Any, path: Path) -> dict[str, Any]:
    """A report and the file that it led to."""
    return {**plain(told), "file": str(path)}


def plain(answer: Any) -> Any:
    """A report as JSON knows it; numbers to six places, nothing for what is no number."""
    if is_dataclass(answer) and not isinstance(answer, type):
        return {key: plain(value) for key, value in asdict(answer).items()}
    if told := getattr(answer, "_asdict", None):
        return plain(told())
    if isinstance(answer, dict):
        return {key: plain(value) for key, value in answer.items()}
    if isinstance(answer, list | tuple):
        return [plain(value) for value in answer]
    if isinstance(answer, float):
        return round(answer, 6) if isfinite(answer) else None
    return answer if isinstance(answer, str | int | bool | None) else str(answer)


def _lines(told: dict[str, Any]) -> list[str]:
    """A table where there is nothing but one; else a line for each value, then a section for each list and mapping."""
    if len(told) == 1 and _is_table(only := next(iter(told.values()))):
        return _table(only)
    single = {key: value for key, value in told.items() if not _is_section(value)}
    wide = max((len(_label(key)) for key in single), default=0)
    lines = [f"{_label(key):{wide}}  {_valued(key, value)}" for key, value in single.items()]
    for key, value in told.items():
        if _is_section(value) and value:
            lines += [f"{_label(key)}:", *(f"  {line}" for line in _section(value))]
    return lines


def _is_section(value: Any) -> bool:
    return isinstance(value, dict) or (isinstance(value, list) and not (value and isinstance(value[0], int | float)))


def _is_table(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], dict)


def _section(value: Any) -> list[str]:
    if isinstance(value, dict):
        return _lines(value)
    if not _is_table(value):
        return value
    return _by_reason(value) if set(value[0]) == {"object", "reason"} else _table(value)


def _by_reason(skipped: list[dict[str, str]]) -> list[str]:
    objects: dict[str, list[str]] = {}
    for each in skipped:
        objects.setdefault(each["reason"], []).append(each["object"])
    return [f"{_named(names)} {reason}" for reason, names in objects.items()]


def _named(names: list[str]) -> str:
    return ", ".join(names[:NAMED]) + (f" and {len(names) - NAMED} more:" if len(names) > NAMED else ":")


def _table(rows: list[dict[str, Any]]) -> list[str]:
    """A line for each; what is wrong with it, in sentences, follows below."""
    notes = [f"{next(iter(row.values()))}: {note}" for row in rows for note in row.get("warnings", ())]
    rows = [{key: value for key, value in row.items() if key != "warnings"} for row in rows]
    table = [[key.replace("_", " ") for key in rows[0]], *([_cell(value) for value in row.values()] for row in rows)]
    wide = [max(map(len, column)) for column in zip(*table, strict=True)]
    return [
        "  ".join(f"{cell:{width}}" for cell, width in zip(row, wide, strict=True)).rstrip() for row in table
    ] + notes


def _label(key: str) -> str:
    if "." in key:  # a file's name
        return key
    words = key.split("_")
    return _LABELS.get(key) or " ".join(words[:-1] if words[-1] in _UNITS else words)


def _valued(key: str, value: Any) -> str:
    return _cell(value) + _UNITS.get(key.rpartition("_")[2], "") if value != "" else "none"


def _cell(value: Any) -> str:
    if isinstance(value, list):
        return (", " if value and isinstance(value[0], str) else " x ").join(map(_cell, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value is None:
        return "-"
    return f"{round(value, 3):g}" if isinstance(value, float) else str(value)
