"""What the guide says must be so: fields, shipped values and links."""

import json
import re
from dataclasses import fields
from pathlib import Path

import pytest

from addon.core.presets.preset import Preset, numbers
from addon.core.wear.findings import Findings

CHECKOUT = Path(__file__).resolve().parents[2]
PAGES = sorted([*CHECKOUT.glob("*.md"), *(CHECKOUT / "docs").rglob("*.md")])
LARGEST_PICTURE = 1_500_000  # bytes: a read-me loads in a moment


def rows(heading: str) -> list[list[str]]:
    """Cells of the table under a heading of docs/presets.md, code marks taken off, without the rule under the head."""
    text = (CHECKOUT / "docs" / "presets.md").read_text("utf-8").split(f"## {heading}\n")[1].split("\n## ")[0]
    table = [line.strip("| ").split(" | ") for line in text.splitlines() if line.startswith("|")]
    return [[cell.strip("` ") for cell in row] for n, row in enumerate(table) if n != 1]


def test_every_field_stands_in_the_guide_with_its_unit_range_and_meaning():
    told = {name: rest for name, *rest in rows("Fields")[1:]}
    rules = dict(numbers())
    assert list(told) == list(rules)
    for name, (unit, reach, default, meaning) in told.items():
        low, high = map(float, reach.split(" to "))
        clean = Preset("clean")
        for step in name.split("."):
            clean = getattr(clean, step)
        assert float(default) == clean
        rule = rules[name]
        assert (unit.replace("share", ""), low, high, meaning) == (rule.unit, rule.low, rule.high, rule.meaning)


def test_the_values_in_the_guide_are_those_of_the_shipped_files():
    head, *body = rows("What the shipped ones give")
    assert sorted(head[1:]) == sorted(path.stem for path in (CHECKOUT / "presets").glob("*.json"))
    assert [row[0] for row in body] == [name for name, _ in numbers()]
    for column, preset in enumerate(head[1:], start=1):
        shipped = json.loads((CHECKOUT / "presets" / f"{preset}.json").read_text("utf-8"))
        for name, *_ in body:
            value = shipped
            for step in name.split("."):
                value = value[step]
            assert float(next(row[column] for row in body if row[0] == name)) == value


def test_every_column_of_textures_stands_in_the_guide():
    section = (CHECKOUT / "docs" / "README.md").read_text("utf-8").split("\n## Textures\n")[1].split("\n## ")[0]
    told = [line.split(" | ")[0].strip("| ") for line in section.splitlines() if line.startswith("|")]
    columns = [name for cell in told[2 : told.index("warning")] for name in cell.split(", ")]
    measures = [field.name.replace("_", " ") for field in fields(Findings)]
    assert columns == measures[:-1]
    assert measures[-1] == "warnings"


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.relative_to(CHECKOUT).as_posix())
def test_what_a_page_links_to_is_there(page):
    for target in re.findall(r"\]\(([^)#]+)[^)]*\)", page.read_text("utf-8")):
        if "://" not in target:
            assert (page.parent / target).is_file(), target


def test_every_command_in_the_pages_is_one():
    from addon.cli import commands  # local: it needs Blender

    known = set(commands.parser()._subparsers._group_actions[0].choices)
    for page in PAGES:
        said = re.findall(r"(?:python -m addon|--command playworn) +([a-z]+)", page.read_text("utf-8"))
        assert set(said) <= known, page.name


@pytest.mark.parametrize("picture", sorted((CHECKOUT / "docs").glob("*.*g")), ids=lambda path: path.name)
def test_pictures_are_small_and_shown(picture):
    assert picture.stat().st_size <= LARGEST_PICTURE
    assert any(picture.name in page.read_text("utf-8") for page in PAGES)


def test_every_shipped_preset_has_a_small_picture():
    presets = sorted((CHECKOUT / "presets").glob("*.json"))
    assert [path.with_suffix(".png") for path in presets] == sorted((CHECKOUT / "presets").glob("*.png"))
    assert all(path.with_suffix(".png").stat().st_size < 60_000 for path in presets)
