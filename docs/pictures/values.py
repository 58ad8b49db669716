"""Fills the tables of docs/presets.md: every value of a preset as its rule tells it, and what the shipped ones give.

python docs/pictures/values.py      docs/presets.md, and docs/preset.schema.json from the same rules; shipped presets
                                    get the fields that they do not name yet, at their defaults
"""

import json
import re
import sys
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(CHECKOUT))

from addon.core.presets import preset, schema  # noqa: E402  the checkout is no installed package

SHIPPED = (
    "fresh",
    "display-shelf",
    "well-loved",
    "toy-box",
    "attic",
    "sun-window",
    "workbench",
    "rental-kit",
)


def shipped(name: str) -> preset.Preset:
    return preset.parse((CHECKOUT / "presets" / f"{name}.json").read_text("utf-8"), name)


def value(of: object, path: str) -> float:
    for step in path.split("."):
        of = getattr(of, step)
    return of


def table(*rows: tuple[str, ...]) -> str:
    head, *body = rows
    return "\n".join(f"| {' | '.join(row)} |" for row in (head, ("---",) * len(head), *body))


def tables() -> dict[str, str]:
    """The tables of the page by name."""
    presets, rules = [shipped(name) for name in SHIPPED], dict(preset.numbers())
    return {
        "notes": table(
            ("preset", "what it looks like", "tags"),
            *((f"`{each.name}`", each.note, ", ".join(each.tags)) for each in presets),
        ),
        "fields": table(
            ("field", "unit", "range", "default", "what it is"),
            *(
                (
                    f"`{path}`",
                    rule.unit or "share",
                    f"{rule.low:g} to {rule.high:g}",
                    f"{value(preset.Preset('clean'), path):g}",
                    rule.meaning,
                )
                for path, rule in rules.items()
            ),
        ),
        "values": table(
            ("field", *(f"`{name}`" for name in SHIPPED)),
            *((f"`{path}`", *(f"{value(each, path):g}" for each in presets)) for path in rules),
        ),
    }


def filled(page: str) -> str:
    """The page with each table new between <!-- its name --> and <!-- end -->."""
    for name, made in tables().items():
        page = re.sub(
            f"(<!-- {name} -->\n\n).*?(\n\n<!-- end -->)",
            lambda mark, made=made: mark[1] + made + mark[2],
            page,
            flags=re.S,
        )
    return page


if __name__ == "__main__":
    for each in map(shipped, SHIPPED):
        (CHECKOUT / "presets" / f"{each.name}.json").write_text(preset.dump(each), "utf-8")
    guide = CHECKOUT / "docs" / "presets.md"
    guide.write_text(filled(guide.read_text("utf-8")), "utf-8")
    published = json.dumps(schema.schema(), indent=2, ensure_ascii=False) + "\n"
    (CHECKOUT / "docs" / "preset.schema.json").write_text(published, "utf-8")
