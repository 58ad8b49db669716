"""JSON read strictly (RFC 8259 and no more): what is wrong is told with the path to it, in one sentence."""

import json
import re
from collections.abc import Callable
from math import isfinite
from typing import Any

from .errors import PresetProblem

DEEPEST = 16  # levels of braces and brackets; a preset has three
_LONGEST_WHOLE = 300  # digits: beyond it no double comes near
_TOKEN = re.compile(r'("(?:[^"\\]|\\.)*")\s*(:?)|([\[{])|([\]}])', re.DOTALL)


class _Members(tuple):
    """A JSON object as the pairs that stand in the text, so that a key given twice can still be seen."""


def read(text: str, where: str, kind: str) -> dict[str, Any]:
    """The JSON object in a text; `where` names its source and `kind` what it should hold, as in "preset".

    Raises PresetProblem where the text is no JSON, nests deeper than DEEPEST, gives a key twice or holds no object.
    Numbers may still be NaN or infinite: `check_plain` finds them.
    """
    _check_depth(text, where, kind)
    try:
        given = json.loads(text, object_pairs_hook=_Members, parse_int=_whole)
    except json.JSONDecodeError as problem:
        place = f"line {problem.lineno}, column {problem.colno}: {problem.msg}"
        raise PresetProblem(f"{where} is not JSON ({place}): mend that place or save the {kind} again") from None
    if not isinstance(given, _Members):
        raise PresetProblem(f"{where} holds {shown(given)}, not a {kind}: give an object, in braces")
    return _untangled(given, "", where)


def check_plain(value: Any, path: str, where: str) -> None:
    """Raises PresetProblem where a value holds what JSON cannot say: NaN, an infinity, half of a character."""

    def check(value: Any, path: str) -> None:
        if isinstance(value, float) and not isfinite(value):
            raise PresetProblem(f"{path} is {shown(value)} in {where}: give a finite number")
        if isinstance(value, str) and any("\ud800" <= letter <= "\udfff" for letter in value):
            raise PresetProblem(f"{path} holds half of a character in {where}: write it whole")
        if isinstance(value, dict):
            for name in value:
                check(name, join(path, name))

    _each(value, path, check)


def shown(value: Any) -> str:
    """A value in few words, for a sentence."""
    match value:
        case dict() | _Members():
            return "an object"
        case list():
            return "a list"
        case float() if isfinite(value):
            return repr(value).removesuffix(".0")
        case int() if abs(value) > 10**15:
            return f"{value:g}"
        case str() if len(value) > 40:
            return json.dumps(value[:40]) + "…"
    return json.dumps(value)


def join(outer: str, name: str) -> str:
    """The path to a member of an object at a path."""
    name = name if re.fullmatch("[A-Za-z0-9_]{1,40}", name) else shown(name)
    return f"{outer}.{name}" if outer else name


def _whole(digits: str) -> int | float:
    return int(digits) if len(digits) <= _LONGEST_WHOLE else float(digits)


def _each(value: Any, path: str, do: Callable[[Any, str], None]) -> None:
    do(value, path)
    if isinstance(value, dict):
        for name, member in value.items():
            _each(member, join(path, name), do)
    elif isinstance(value, list):
        for number, member in enumerate(value):
            _each(member, f"{path}[{number}]", do)


def _untangled(value: Any, path: str, where: str) -> Any:
    if isinstance(value, list):
        return [_untangled(member, f"{path}[{number}]", where) for number, member in enumerate(value)]
    if not isinstance(value, _Members):
        return value
    given: dict[str, Any] = {}
    for name, member in value:
        inner = join(path, name)
        if name in given:
            raise PresetProblem(f"{inner} stands twice in {where}: keep one of the two")
        given[name] = _untangled(member, inner, where)
    return given


def _check_depth(text: str, where: str, kind: str) -> None:
    """Before the text is parsed: parsers of Python run out of stack, and then cannot tell where."""
    path: list[str] = []
    key = ""
    for word, colon, opens, closes in _TOKEN.findall(text):
        if word and colon:
            key = word[1:-1]
        elif opens:
            path.append(key)
            key = ""
            if len(path) > DEEPEST:
                place = ""
                for name in filter(None, path[:5]):
                    place = join(place, name)
                raise PresetProblem(
                    f"{where} is nested too deeply for a {kind}{f' at {place}' if place else ''}: "
                    f"take away what lies deeper than {DEEPEST} levels"
                )
        elif closes and path:
            path.pop()
