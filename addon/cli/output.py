"""What a command prints: one table or one JSON object on stdout, progress on stderr, nothing else."""

import json
import sys
from dataclasses import asdict, is_dataclass
from typing import Any


def progress(fraction: float, words: str) -> None:
    print(f"{round(100 * fraction):3d} %  {words}", file=sys.stderr, flush=True)


def show(answer: Any, as_json: bool) -> None:
    """Prints a report: a dataclass, a list of them, or a mapping."""
    told = plain(answer)
    if as_json:
        print(json.dumps(told, ensure_ascii=False, allow_nan=False))
    elif isinstance(told, str):
        print(told)
    elif isinstance(told, list):
        _print_table(told)
    else:
        _print_pairs(told)


def plain(answer: Any) -> Any:
    """A report as JSON knows it; numbers to six places."""
    if is_dataclass(answer) and not isinstance(answer, type):
        return {key: plain(value) for key, value in asdict(answer).items()}
    if hasattr(answer, "_asdict"):
        return plain(answer._asdict())
    if isinstance(answer, dict):
        return {key: plain(value) for key, value in answer.items()}
    if isinstance(answer, list | tuple):
        return [plain(value) for value in answer]
    if isinstance(answer, float):
        return round(answer, 6)
    return answer if isinstance(answer, str | int | bool | None) else str(answer)


def _print_pairs(pairs: dict[str, Any]) -> None:
    wide = max(map(len, pairs), default=0)
    for key, value in pairs.items():
        if isinstance(value, list) and value and isinstance(value[0], dict | str):
            print(f"{_words(key)}:")
            for entry in value:
                print("  " + (entry if isinstance(entry, str) else " ".join(map(_cell, entry.values()))))
        elif value not in ("", [], None):
            print(f"{_words(key):{wide}}  {_cell(value)}")


def _print_table(rows: list[dict[str, Any]]) -> None:
    if not rows:
        return
    table = [[_words(key) for key in rows[0]], *([_cell(value) for value in row.values()] for row in rows)]
    wide = [max(map(len, column)) for column in zip(*table, strict=True)]
    for row in table:
        print("  ".join(f"{cell:{width}}" for cell, width in zip(row, wide, strict=True)).rstrip())


def _words(key: str) -> str:
    return key.replace("_", " ")


def _cell(value: Any) -> str:
    if isinstance(value, list):
        return " x ".join(map(_cell, value))
    return f"{value:g}" if isinstance(value, float) else str(value)
