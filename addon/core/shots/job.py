"""A job for any farm that speaks Open Job Description (2023-09): a task for some frames of a shot.

check ─▶ render, a task a shot and chunk ─▶ whole
"""

import json
from collections.abc import Iterator, Sequence
from typing import Any

from ..errors import ShotProblem
from ..wear.layers import LAYERS
from .shot import Shot

MOST_TASKS = 1024  # values that a task parameter may list, by the specification
_BLENDER = ["--background", "--python-exit-code", "1", "--python", "{{Task.File.Script}}", "--"]
_DIALS = ("wear", *LAYERS)


def chunks(shots: Sequence[Shot], size: int) -> list[tuple[Shot, str]]:
    """Frames of shots in parts of so many, each told as first..last; ShotProblem where there are too many parts."""
    found = [
        (shot, f"{first}..{min(first + size - 1, shot.last)}")
        for shot in shots
        for first in range(shot.first, shot.last + 1, size)
    ]
    if len(found) > MOST_TASKS:
        raise ShotProblem(
            f"{len(found)} tasks are more than the {MOST_TASKS} of a job: give each more frames, or name a shot"
        )
    return found


def template(name: str, beside: str, shots: Sequence[Shot], size: int, script: str) -> dict[str, Any]:
    """The job that renders all frames of some shots out of a file by a script, in tasks of so many frames.

    `beside`: the file's place below the job's own, "" where it lies elsewhere: then each run has to say where.
    """
    for word in (each for shot in shots for each in (shot.name, shot.camera)):
        if "{{" in word:
            raise ShotProblem(f'"{word}" holds "{{{{", which a job takes for a parameter: give it another name')
    parts = chunks(shots, size)
    whole = [f"{shot.name}:{shot.first}..{shot.last}" for shot in shots]
    dials = [f"{dial}={{{{Param.{dial.capitalize()}}}}}" for dial in _DIALS]
    task = ["{{Task.Param.Shot}}", "{{Task.Param.Camera}}", "{{Task.Param.Frames}}"]
    lists = {
        "Shot": [shot.name for shot, _ in parts],
        "Camera": [shot.camera for shot, _ in parts],
        "Frames": [frames for _, frames in parts],
    }
    return {
        "specificationVersion": "jobtemplate-2023-09",
        "name": name.replace("{{", "{")[:64],
        "parameterDefinitions": [*_parameters(beside)],
        "steps": [
            {"name": "Check", **_runs(script, ["check", "{{Param.File}}"])},
            {
                "name": "Render",
                "dependencies": [{"dependsOn": "Check"}],
                "parameterSpace": {
                    "taskParameterDefinitions": [
                        {"name": key, "type": "STRING", "range": values} for key, values in lists.items()
                    ],
                    "combination": f"({', '.join(lists)})",
                },
                **_runs(script, ["render", "{{Param.File}}", "{{Param.Folder}}", *task, *dials]),
            },
            {
                "name": "Whole",
                "dependencies": [{"dependsOn": "Render"}],
                **_runs(script, ["whole", "{{Param.Folder}}", *whole]),
            },
        ],
    }


def text(value: Any, indent: int = 0) -> str:
    """Plain values as YAML: texts quoted as JSON does, those of several lines as they are."""
    return "\n".join(_lines(value, " " * indent)) + "\n"


def _parameters(beside: str) -> Iterator[dict[str, Any]]:
    default = {"default": beside} if beside else {}
    yield {"name": "File", "type": "PATH", "objectType": "FILE", "dataFlow": "IN", **default}
    yield {"name": "Folder", "type": "PATH", "objectType": "DIRECTORY", "dataFlow": "OUT", "default": "frames"}
    yield {"name": "Blender", "type": "STRING", "default": "blender", "description": "The program"}
    for dial in _DIALS:
        meaning = f"Times {'all wear' if dial == 'wear' else dial} as the file has it"
        yield {
            "name": dial.capitalize(), "type": "FLOAT", "default": 1.0, "minValue": 0.0, "maxValue": 2.0,
            "description": meaning,
        }  # fmt: skip


def _runs(script: str, arguments: list[str]) -> dict[str, Any]:
    return {
        "script": {
            "embeddedFiles": [{"name": "Script", "type": "TEXT", "filename": "task.py", "data": script}],
            "actions": {"onRun": {"command": "{{Param.Blender}}", "args": [*_BLENDER, *arguments]}},
        }
    }


def _lines(value: Any, left: str) -> Iterator[str]:
    entries = value.items() if isinstance(value, dict) else ((None, each) for each in value)
    for key, each in entries:
        head = "-" if key is None else f"{key}:"
        if isinstance(each, str) and "\n" in each:
            yield f"{left}{head} |"
            yield from (f"{left}  {line}".rstrip() for line in each.rstrip("\n").split("\n"))
        elif isinstance(each, dict | list):
            inner = list(_lines(each, f"{left}  "))
            if key is None:
                yield f"{left}- {inner[0].strip()}"
                yield from inner[1:]
            else:
                yield f"{left}{head}"
                yield from inner
        else:
            yield f"{left}{head} {json.dumps(each, ensure_ascii=False)}"
