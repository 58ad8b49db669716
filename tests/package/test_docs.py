"""What the guide says must be so: fields, shipped values and links."""

import ast
import json
import re
from collections.abc import Iterable
from dataclasses import fields
from pathlib import Path

import pytest

from addon.core.presets.preset import Preset, numbers
from addon.core.shots.shot import NAMES
from addon.core.wear import names
from addon.core.wear.findings import Findings
from addon.core.wear.layers import LAYERS, PICTURES, SHARES

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


def test_every_layer_stands_in_the_guide_with_what_it_is():
    assert rows("Layers of the wear")[1:] == [[name, layer.meaning] for name, layer in LAYERS.items()]


def page(name: str) -> str:
    return (CHECKOUT / "docs" / f"{name}.md").read_text("utf-8")


def section(name: str, heading: str) -> str:
    """What stands under a heading of a page of the guide."""
    return page(name).split(f"\n## {heading}\n")[1].split("\n## ")[0]


def listed(words: Iterable[str]) -> str:
    *first, last = words
    return f"{', '.join(first)} and {last}"


def test_every_layer_stands_in_the_guide_with_its_units():
    _, _, *body = [
        line.strip("| ").split(" | ") for line in section("wear", "Wear").splitlines() if line.startswith("|")
    ]
    assert [row[0] for row in body] == ["rounding", *LAYERS]
    said = {"mm": "mm", "µm": "µm", "ΔE": "CIEDE2000", "": "share"}
    for layer, _, told in body:
        rules = [rule for path, rule in numbers() if path.split(".")[:2] in (["wear", layer], ["wear", f"{layer}_mm"])]
        sized = [rule for rule in rules if rule.unit] or rules
        assert all(said[rule.unit] in told for rule in sized), layer


def test_every_kind_of_picture_stands_in_the_guide_with_its_words_and_its_coarsest_texel():
    words = "; ".join(listed(each.words).replace(" and ", " or ") for each in PICTURES.values())
    assert re.search(rf"\b{re.escape(words)}\b", page("textures"))
    (coarse,) = [line for line in page("textures").splitlines() if line.startswith("| too coarse")]
    (kind, texel), *others = [(kind, f"{each.widest_texel_um:g}") for kind, each in PICTURES.items()]
    assert f"wider than {texel} µm draws {kind} wider" in coarse
    assert f"({', '.join(f'{kind} {texel}' for kind, texel in others)})" in coarse


def test_what_a_file_holds_for_shaders_stands_in_the_guide():
    lines = section("clear", "What a saved file holds").splitlines()
    rows = dict(line.strip("| ").split(" | ", 1) for line in lines if line.startswith("| "))
    on_bricks = (*names.SHARES_OF, names.OFFSET, names.TURN, names.LOT)
    placed = (*names.UNREACHED, *names.SHELTERED)
    assert f"{', '.join(f'`{name}`' for name in placed)} on each brick" in rows
    assert f"`{names.SPOT}` on each brick" in rows
    told = rows[f"{', '.join(f'`{name}`' for name in on_bricks)} on each brick"]
    assert f"its shares of {listed(SHARES)}, " in told
    assert f"`{names.WEAR}` on every scene that shows the build" in rows
    assert {name.replace(layer, "<layer>") for layer, name in names.MORE.items()} == {"playworn_more_<layer>"}
    assert "`playworn_more_<layer>` on the scene" in rows


def test_every_dial_of_a_shot_stands_in_the_guide():
    text = (CHECKOUT / "docs" / "shots.md").read_text("utf-8")
    assert f"{listed(f'`{name}`' for name in NAMES[:-1])} multiply" in text


def test_every_column_of_textures_stands_in_the_guide():
    told = [line.split(" | ")[0].strip("| ") for line in page("textures").splitlines() if line.startswith("|")]
    columns = [name for cell in told[2 : told.index("warning")] for name in cell.split(", ")]
    measures = [field.name.replace("_", " ") for field in fields(Findings)]
    assert columns == measures[:-1]
    assert measures[-1] == "warnings"


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.relative_to(CHECKOUT).as_posix())
def test_what_a_page_links_to_is_there(page):
    for target in re.findall(r"\]\(([^)#]+)[^)]*\)", page.read_text("utf-8")):
        if "://" not in target:
            assert (page.parent / target).is_file(), target


def anchors(page: Path) -> set[str]:
    """The names that GitHub gives to a page's headings: lower case, without marks, joined by hyphens."""
    headings = re.findall(r"^#+ (.+)$", page.read_text("utf-8"), flags=re.M)
    return {re.sub(r"[^\w\- ]", "", each.lower()).replace(" ", "-") for each in headings}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.relative_to(CHECKOUT).as_posix())
def test_what_a_link_points_at_within_a_page_is_a_heading(page):
    for target, anchor in re.findall(r"\]\(([^):]*)#([^)]+)\)", page.read_text("utf-8")):
        assert anchor in anchors(page.parent / target if target else page), f"{target}#{anchor}"


def test_every_page_is_found_from_the_guide():
    found = set(re.findall(r"\]\(([\w-]+\.md)\)", page("README")))
    assert found | {"README.md"} == {each.name for each in (CHECKOUT / "docs").glob("*.md")}


def said() -> str:
    """All words of the program: what is told between the values of a sentence, part by part."""
    sources = [ast.parse(path.read_text("utf-8")) for path in (CHECKOUT / "addon").rglob("*.py")]
    return "\n".join(
        node.value
        for source in sources
        for node in ast.walk(source)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    )


def test_what_the_page_on_trouble_quotes_is_said():
    words = said()
    told = [line.strip("| ").split(" | ")[0] for line in page("trouble").splitlines() if line.startswith("|")]
    quoted = [part.strip(" .") for cell in told for one in re.findall(r"\*([^*]+)\*", cell) for part in one.split("…")]
    assert len(quoted) > 20
    assert [part for part in quoted if part not in words] == []


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
