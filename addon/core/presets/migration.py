"""Presets of earlier formats brought to the present one, a step a format."""

from collections.abc import Callable
from typing import Any

from ..errors import PresetProblem
from ..strict_json import shown

FORMAT = 2

Given = dict[str, Any]  # a preset as its JSON holds it


def _tagged(given: Given) -> Given:
    """Format 2 has tags; what format 1 kept under that name, which it did not know, meant something else."""
    kept = {"tags of format 1": given["tags"]} if "tags" in given else {}
    return {**given, "tags": [], **kept}


_STEPS: dict[int, Callable[[Given], Given]] = {1: _tagged}  # from that format to the next


def migrated(given: Given, where: str) -> Given:
    """A preset in the present format, without the field that tells it; PresetProblem where it is of no known one."""
    made_by = given.get("format")
    if not isinstance(made_by, int | float) or isinstance(made_by, bool):
        made_by = 0
    if made_by > FORMAT:
        reads = f"format {made_by:g}, this one reads up to {FORMAT}"
        raise PresetProblem(f"{where} was made by a newer Playworn ({reads}): update the extension")
    if made_by != FORMAT and made_by not in _STEPS:
        state = f"is {shown(given['format'])}" if "format" in given else "is missing"
        raise PresetProblem(f"format {state} in {where}: give {FORMAT}")
    for step in range(int(made_by), FORMAT):
        given = _STEPS[step](given)
    return {name: value for name, value in given.items() if name != "format"}
