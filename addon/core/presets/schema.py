"""The JSON Schema of a preset (draft 2020-12), made from the rules of its fields."""

from typing import Any

from .migration import FORMAT
from .preset import Preset, known_fields
from .rules import NAME, Number, Tags, Text

_UNITS = {"": "share", "°": "degrees", "ΔE": "CIEDE2000 difference"}


def schema() -> dict[str, Any]:
    """What a preset of the present format may be. Fields beyond those named are allowed: they are kept, unused."""
    described = _record(Preset, Preset("schema"))
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:playworn:preset:{FORMAT}",
        "title": f"Playworn preset, format {FORMAT}",
        **described,
        "required": ["format", "name"],
        "properties": {
            "format": {"const": FORMAT, "description": "The format of the file"},
            **described["properties"],
        },
    }


def _record(kind: type[Any], clean: Any) -> dict[str, Any]:
    """An object with the fields of a record; the record `clean` gives their defaults."""
    properties = {}
    for each in known_fields(kind):
        default, rule = getattr(clean, each.name), each.metadata.get("rule")
        properties[each.name] = _rule(rule, default) if rule else _record(each.type, default)
    return {"type": "object", "properties": properties}


def _rule(rule: Number | Text | Tags, default: Any) -> dict[str, Any]:
    stated: dict[str, Any] = {} if rule is NAME else {"default": list(default) if isinstance(rule, Tags) else default}
    match rule:
        case Number():
            words = f"{rule.meaning}; {_UNITS.get(rule.unit, rule.unit)}"
            return {"description": words, "type": "number", "minimum": rule.low, "maximum": rule.high, **stated}
        case Text():
            return {"description": rule.meaning, **_words(rule), **stated}
    items = _words(rule.each)
    return {
        "description": rule.meaning, "type": "array", "items": items, "maxItems": rule.most, "uniqueItems": True,
        **stated,
    }  # fmt: skip


def _words(rule: Text) -> dict[str, Any]:
    # The end is told so that no dialect takes a last line break for nothing, as $ does in some.
    return {"type": "string", "maxLength": rule.most, "pattern": rf"^(?:{rule.pattern})(?![\s\S])"}
