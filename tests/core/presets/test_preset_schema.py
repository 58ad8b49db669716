"""The published schema against the reader of presets, with jsonschema as the outside judge of the first."""

import json
import random
from pathlib import Path

import jsonschema
import pytest

from addon.core.errors import PresetProblem
from addon.core.presets import preset as presets
from addon.core.presets.preset import Preset, numbers
from addon.core.presets.schema import schema

CHECKOUT = Path(__file__).resolve().parents[3]
PUBLISHED = CHECKOUT / "docs" / "preset.schema.json"
SHIPPED = sorted((CHECKOUT / "presets").glob("*.json"))
JUDGE = jsonschema.Draft202012Validator(json.loads(PUBLISHED.read_text("utf-8")))
MUTATIONS = 200


def test_what_is_published_is_what_the_rules_say():
    assert json.loads(PUBLISHED.read_text("utf-8")) == schema()


def test_it_is_a_schema():
    """Judged by the metaschema of draft 2020-12, which jsonschema brings."""
    jsonschema.Draft202012Validator.check_schema(schema())


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_every_shipped_preset_is_valid(path):
    JUDGE.validate(json.loads(path.read_text("utf-8")))


def test_every_field_is_described_with_range_and_default():
    clean = json.loads(presets.dump(Preset("clean")))
    for path, rule in numbers():
        described, value = schema(), clean
        for step in path.split("."):
            described, value = described["properties"][step], value[step]
        assert (described["minimum"], described["maximum"]) == (rule.low, rule.high)
        assert described["default"] == value
        assert rule.low <= value <= rule.high
        assert described["description"].startswith(rule.meaning)


def mutated(draw: random.Random) -> str:
    """The text of a shipped preset with one thing wrong."""
    tree = json.loads(draw.choice(SHIPPED).read_text("utf-8"))
    path, rule = draw.choice(list(numbers()))
    *outer, name = path.split(".")
    record = tree
    for step in outer:
        record = record[step]
    kind = draw.randrange(12)
    if kind == 0:
        record[name] = rule.high * draw.uniform(1.001, 1e9)
    elif kind == 1:
        record[name] = rule.low - draw.uniform(1e-6, 1e9)
    elif kind == 2:
        record[name] = draw.choice([None, True, False, "0.1", [], {}, [0.1]])
    elif kind == 3:
        record[name] = draw.choice([float("nan"), float("inf"), -float("inf")])
    elif kind == 4:
        part = draw.choice(["fit", "wear"])
        tree[part] = draw.choice([None, 3, "loose", [], True])
    elif kind == 5:
        tree["wear"][draw.choice(["scratches", "smudges", "dust", "rub", "tint", "fade", "finish"])] = draw.choice(
            [0, None, []]
        )
    elif kind == 6:
        tree["name"] = draw.choice(["", "Toy", "a b", "../a", "a" * 61, "a-", "-a", "a--b", "a\n", "ü", 3, None])
    elif kind == 7:
        tree["note"] = draw.choice(["x" * 301, "a\nb", "a\u202eb", "a\u2028b", "bell\a", 3, None, ["a"]])
    elif kind == 8:
        tree["tags"] = draw.choice(["a", ["A"], ["a", "a"], [1], ["a\n"], ["x" * 31], [f"t{n}" for n in range(13)], {}])
    elif kind == 9:
        tree["format"] = draw.choice([0, 3, 2.5, "2", True, None, [], -1])
    elif kind == 10:
        del tree[draw.choice(["name", "format"])]
    text = json.dumps(tree)
    if kind == 11:
        where = draw.randrange(1, len(text) - 1)
        text = draw.choice([text[:where], text + text[:1], text.replace(":", ";", 1), text.replace('"fit"', '"wear"')])
    return text


def is_valid(text: str) -> bool:
    """RFC 8259 first: no NaN, no infinity, no name twice; then the schema."""

    def refuse(what):
        raise ValueError(what)

    def members(pairs):
        return refuse("twice") if len(dict(pairs)) < len(pairs) else dict(pairs)

    try:
        return JUDGE.is_valid(json.loads(text, parse_constant=refuse, object_pairs_hook=members))
    except ValueError:
        return False


@pytest.mark.parametrize("number", range(MUTATIONS))
def test_a_mutated_preset_is_refused_by_both(number):
    text = mutated(random.Random(number))
    with pytest.raises(PresetProblem) as caught:
        presets.parse(text, "mutated.json")
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert "mutated.json" in sentence
    assert len(sentence) < 300
    assert not is_valid(text)


def test_both_keep_what_they_do_not_know():
    tree = json.loads(SHIPPED[0].read_text("utf-8"))
    tree["wear"]["dust"]["colour"] = "grey"
    assert is_valid(json.dumps(tree))
    assert presets.parse(json.dumps(tree), "x").warnings
