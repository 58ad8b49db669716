"""Presets: what is read, what is refused and in which words."""

import json
from dataclasses import fields, is_dataclass, replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from addon.core import strict_json
from addon.core.errors import PresetProblem
from addon.core.presets import migration
from addon.core.presets import preset as presets
from addon.core.presets.preset import Preset, Unknown, known_fields, numbers
from addon.core.presets.rules import NAME, as_name
from addon.core.wear.layers import Fade
from tests.core.wear.by_hand import BY_HAND

SHIPPED = sorted((Path(__file__).parents[3] / "presets").glob("*.json"))
TOY_BOX = (Path(__file__).parents[3] / "presets" / "toy-box.json").read_text(encoding="utf-8")


def changed(path: str, value: object) -> str:
    """The shipped toy-box with one field set; json.dumps writes NaN and Infinity as a careless program would."""
    tree = json.loads(TOY_BOX)
    *outer, name = path.split(".")
    place = tree
    for step in outer:
        place = place[step]
    place[name] = value
    return json.dumps(tree)


def without(path: str) -> str:
    tree = json.loads(TOY_BOX)
    *outer, name = path.split(".")
    place = tree
    for step in outer:
        place = place[step]
    del place[name]
    return json.dumps(tree)


def refused(text: str) -> str:
    with pytest.raises(PresetProblem) as caught:
        presets.parse(text, "toy-box.json")
    sentence = str(caught.value)
    assert sentence.count("\n") == 0
    assert len(sentence) < 300
    assert "toy-box.json" in sentence
    return sentence


def strategy(kind):
    """Any preset that keeps the ranges which the fields state."""
    parts, words = {}, st.from_regex(r"[a-z0-9]{1,8}(-[a-z0-9]{1,8}){0,3}", fullmatch=True)
    for described in known_fields(kind):
        rule = described.metadata.get("rule")
        if is_dataclass(described.type):
            parts[described.name] = strategy(described.type)
        elif described.type is float:
            parts[described.name] = st.floats(rule.low, rule.high)
        elif described.name == "name":
            parts[described.name] = words
        elif described.name == "tags":
            parts[described.name] = st.lists(words.filter(lambda word: len(word) <= 30), max_size=12, unique=True).map(
                tuple
            )
        else:
            parts[described.name] = st.text(max_size=300).filter(str.isprintable)
    return st.builds(kind, **parts)


@given(strategy(Preset))
def test_what_is_written_reads_back_the_same(preset):
    text = presets.dump(preset)
    again = presets.parse(text, "round trip")
    assert again == preset
    assert presets.dump(again) == text


def test_the_text_keeps_the_order_of_the_fields_and_its_letters():
    text = presets.dump(replace(presets.parse(TOY_BOX, "toy-box.json"), note="Möwe, 3 µm"))
    assert "Möwe, 3 µm" in text
    assert list(json.loads(text)) == ["format", "name", "note", "tags", "fit", "wear", "story"]
    assert text.endswith("}\n")


def test_whole_numbers_are_numbers():
    assert presets.parse(changed("fit.twist_deg", 2), "x").fit.twist_deg == 2.0


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (-0.1, "-0.1"),
        (0.3000001, "0.3000001"),
        (float("nan"), "NaN"),
        (float("inf"), "Infinity"),
        (-float("inf"), "-Infinity"),
        (10**400, "Infinity"),
        ("0.07", '"0.07"'),
        (True, "true"),
        (None, "null"),
        ([0.07], "a list"),
        ({"mm": 0.07}, "an object"),
    ],
)
def test_a_wrong_number_is_told_with_its_path_and_range(value, shown):
    assert refused(changed("fit.shift_mm", value)) == (
        f"fit.shift_mm is {shown} in toy-box.json: give a number from 0 to 0.3"
    )


@pytest.mark.parametrize(("path", "rule"), list(numbers()))
def test_every_number_keeps_its_range(path, rule):
    for inside in (rule.low, rule.high):
        presets.parse(changed(path, inside), "toy-box.json")
    for outside in (rule.low - 1e-9, rule.high * (1 + 1e-9), float("nan")):
        assert refused(changed(path, outside)).startswith(f"{path} is ")
    *outer, name = path.split(".")
    clean = Preset("clean")
    read = presets.parse(without(path), "toy-box.json")
    for step in (*outer, name):
        clean, read = getattr(clean, step), getattr(read, step)
    assert read == clean


def test_there_are_rules_for_every_number():
    of_layers = sum(len(fields(each.record)) for each in BY_HAND.values())
    assert len(list(numbers())) == 8 + 1 + of_layers + 3  # of the fit, the rounding, the layers, the story
    assert all(rule.meaning and not rule.meaning.endswith(".") for _, rule in numbers())


@pytest.mark.parametrize("part", ["fit", "wear", "wear.scratches", "wear.smudges"])
def test_a_part_is_an_object_or_not_there_and_clean(part):
    read, clean = presets.parse(without(part), "toy-box.json"), Preset("clean")
    for step in part.split("."):
        read, clean = getattr(read, step), getattr(clean, step)
    assert read == clean
    assert refused(changed(part, 3)) == f"{part} is 3 in toy-box.json: give an object, in braces"
    assert refused(changed(part, [])) == f"{part} is a list in toy-box.json: give an object, in braces"


def test_a_preset_without_a_name_is_none():
    assert refused(without("name")).startswith("name is missing in toy-box.json: use at most 60 small letters")


def test_a_preset_that_names_nothing_is_clean_and_sits_where_the_export_put_it():
    bare = presets.parse('{"format": 2, "name": "bare"}', "bare.json")
    sizes = {f"wear.{kind}.size_mm": each.default_mm for kind, each in BY_HAND.items() if each.default_mm}
    for path, _ in numbers():
        value = bare
        for step in path.split("."):
            value = getattr(value, step)
        assert value == sizes.get(path, 0.0)


@pytest.mark.parametrize(
    "name", ["", "Toy Box", "toy_box", "../toy", "toy-", "-toy", "toy--box", "ü", "a" * 61, 7, None]
)
def test_a_name_is_small_letters_digits_and_dashes(name):
    assert refused(changed("name", name)).startswith("name is ")
    if isinstance(name, str):
        with pytest.raises(PresetProblem, match="cannot be called"):
            presets.check_name(name)


@given(st.text())
def test_what_is_typed_becomes_a_name_or_nothing(typed):
    name = as_name(typed)
    assert not name or NAME.read(name) == name
    assert as_name(name) == name


@pytest.mark.parametrize("note", ["two\nlines", "x" * 301, "\ud800", "bell\a", 3])
def test_a_note_is_one_line_of_text(note):
    assert refused(changed("note", note)).startswith("note is ")


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("wear.smudges.size", 3),
        ("look", {"deep": [1, 2.5, True, None, {"Möwe": "µ"}]}),
        ("fit.slack mm", 10**20),
        ("unknown", "a name of our own"),
        ("wear.rub.unknown", []),
    ],
)
def test_an_unknown_field_is_kept_in_its_place_and_told(path, value):
    text = changed(path, value)
    preset = presets.parse(text, "toy-box.json")
    again = presets.dump(preset)
    assert json.loads(again) == json.loads(text)
    assert presets.parse(again, "again") == preset
    assert presets.dump(replace(preset, note="other")) == again.replace(preset.note, "other")
    (warning,) = preset.warnings
    *outer, name = path.split(".")
    assert ".".join(outer) in warning
    assert name in warning
    assert "is kept but does nothing" in warning
    assert presets.parse(TOY_BOX, "toy-box.json").warnings == ()


def test_unknown_fields_go_along_with_dials_and_changes():
    preset = presets.parse(changed("fit.slack", 3), "toy-box.json")
    for other in (presets.dialled(preset, 0.5, 0.5), presets.changed(preset, {"fit.lift_mm": 0.01}, "--set")):
        assert other.unknown == preset.unknown == (Unknown(("fit", "slack"), "3"),)


@pytest.mark.parametrize(
    ("value", "sentence"),
    [
        (float("nan"), "fit.slack is NaN in toy-box.json: give a finite number"),
        ([0, {"x": -float("inf")}], "fit.slack[1].x is -Infinity in toy-box.json: give a finite number"),
        ("\ud83d", "fit.slack holds half of a character in toy-box.json: write it whole"),
    ],
)
def test_an_unknown_field_that_json_cannot_say_is_refused(value, sentence):
    assert refused(changed("fit.slack", value)) == sentence


def test_what_is_read_can_be_kept_and_read_again():
    """Saved on lines of their own, many small values take more room than in the file they came from."""
    fits = presets.parse(changed("look", [0] * 4_000), "x")
    assert presets.parse(presets.dump(fits), "x") == fits
    assert "take it out" in refused(changed("look", [0] * 15_000))


@pytest.mark.parametrize(
    "tags", [3, "old", ["Old"], ["a", "a"], ["x" * 31], [""], [1], [None], [["a"]], [f"n{n}" for n in range(13)]]
)
def test_tags_are_a_few_different_words(tags):
    assert refused(changed("tags", tags)).startswith("tags is ")
    assert presets.parse(changed("tags", ["one", "two-3"]), "x").tags == ("one", "two-3")


def test_a_preset_of_the_first_format_reads_as_before():
    """As the version that knew no tags wrote it, without a layer that it did not have yet."""
    tree = json.loads(TOY_BOX)
    del tree["tags"], tree["wear"]["fade"]
    read = presets.parse(json.dumps({**tree, "format": 1}), "old.json")
    now = presets.parse(TOY_BOX, "toy-box.json")
    assert read == replace(now, tags=(), wear=replace(now.wear, fade=Fade()))
    assert json.loads(presets.dump(read))["format"] == migration.FORMAT == 2
    odd = presets.parse(json.dumps({**tree, "format": 1, "tags": 3}), "old.json")
    assert [each.path for each in odd.unknown] == [("tags of format 1",)]


def test_there_is_a_step_from_every_format_to_the_present_one():
    for made_by in range(1, migration.FORMAT + 1):
        assert presets.parse(json.dumps({"format": made_by, "name": "old"}), "old.json") == Preset("old")


@pytest.mark.parametrize(
    ("twice", "path"),
    [
        (TOY_BOX.replace('"lift_mm"', '"shift_mm"'), "fit.shift_mm"),
        (TOY_BOX.replace('"note"', '"name"'), "name"),
        (TOY_BOX.replace('"format": 2', '"format": 2, "format": 2'), "format"),
    ],
)
def test_a_key_given_twice_is_told_with_its_path(twice, path):
    assert refused(twice) == f"{path} stands twice in toy-box.json: keep one of the two"


def test_a_newer_format_asks_for_an_update_before_anything_else():
    newer = json.dumps({"format": 3, "look": "something this version cannot know"})
    assert refused(newer) == (
        "toy-box.json was made by a newer Playworn (format 3, this one reads up to 2): update the extension"
    )


@pytest.mark.parametrize(("value", "shown"), [(0, "0"), (0.5, "0.5"), ("1", '"1"'), (True, "true"), (None, "null")])
def test_a_format_is_a_number_that_is_known(value, shown):
    assert refused(changed("format", value)) == f"format is {shown} in toy-box.json: give 2"
    assert refused(without("format")) == "format is missing in toy-box.json: give 2"


@pytest.mark.parametrize("text", ["", " ", "{", TOY_BOX[:-3], TOY_BOX.replace(":", "=", 1), "preset", "{'format': 1}"])
def test_what_is_not_json_is_told_with_its_place(text):
    assert refused(text).startswith("toy-box.json is not JSON (line ")


@pytest.mark.parametrize("text", ["[]", "1", '"toy-box"', "null", "NaN", "9" * 5000])
def test_what_is_no_object_is_no_preset(text):
    assert "not a preset" in refused(text)


def test_deep_nesting_and_size_have_an_end():
    assert "nested too deeply" in refused("[" * 60_000)
    assert "too many for a preset" in refused(" " * presets.LARGEST + TOY_BOX)


def test_the_path_to_what_is_nested_too_deeply_is_told():
    deep: object = 0
    for _ in range(strict_json.DEEPEST + 1):
        deep = [deep]
    assert refused(changed("wear.scratches.look", deep)).startswith(
        "toy-box.json is nested too deeply for a preset at wear.scratches.look: "
    )
    presets.parse(changed("look", "[{" * 99), "braces within words nest nothing")


def test_a_long_text_is_told_in_short():
    assert len(refused(changed("fit.shift_mm", "x" * 5000))) < 200
    assert len(refused(changed("x" * 5000, float("nan")))) < 200
    assert len(presets.parse(changed("x" * 5000, 1), "x").warnings[0]) < 200


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused_in_a_sentence(text):
    with pytest.raises(PresetProblem):
        presets.parse(text, "any")


@given(st.recursive(st.none() | st.booleans() | st.floats() | st.text(max_size=9), st.lists, max_leaves=4), st.data())
def test_any_value_in_any_place_is_read_or_refused_in_a_sentence(value, data):
    path = data.draw(st.sampled_from([path for path, _ in numbers()] + ["fit", "wear", "name", "note", "format"]))
    text = changed(path, value)
    try:
        preset = presets.parse(text, "any")
    except PresetProblem as problem:
        sentence = str(problem)
    else:
        sentence = ""
        assert presets.parse(presets.dump(preset), "any") == preset
    assert not sentence or path in sentence or "newer" in sentence


def test_a_layer_that_a_preset_does_not_name_is_clean():
    """Presets were saved before there were dust, rub, tint and fade."""
    tree = json.loads(TOY_BOX)
    for layer in ("dust", "rub", "tint", "fade"):
        del tree["wear"][layer]
    read = presets.parse(json.dumps(tree), "toy-box.json").wear
    assert (read.dust.amount, read.rub.amount, read.tint.delta_e, read.fade.delta_e) == (0.0, 0.0, 0.0, 0.0)
    whole = presets.parse(TOY_BOX, "toy-box.json").wear
    assert (read.rounding_mm, read.scratches, read.smudges) == (whole.rounding_mm, whole.scratches, whole.smudges)


def test_dials_folded_in_stay_in_range_and_leave_the_mould_alone():
    preset = presets.parse(TOY_BOX, "toy-box.json")
    double = presets.dialled(preset, looseness=2.0, wear=2.0)
    assert double.fit.shift_mm == pytest.approx(2.0 * preset.fit.shift_mm)
    assert double.fit.twist_deg == pytest.approx(2.0 * preset.fit.twist_deg)
    assert double.fit.lean_mm == pytest.approx(2.0 * preset.fit.lean_mm)
    assert (double.fit.clearance_mm, double.fit.play_mm) == (preset.fit.clearance_mm, preset.fit.play_mm)
    assert double.wear.scratches.amount == 1.0
    assert double.wear.scratches.depth_um == preset.wear.scratches.depth_um
    assert double.wear.rub.amount == 1.0
    assert double.wear.dust.amount == pytest.approx(2.0 * preset.wear.dust.amount)
    assert double.wear.dust.size_mm == preset.wear.dust.size_mm
    assert double.wear.tint.delta_e == pytest.approx(2.0 * preset.wear.tint.delta_e)
    assert double.wear.fade.delta_e == pytest.approx(2.0 * preset.wear.fade.delta_e)
    assert presets.dialled(preset, 1.0, 1.0) == preset
    left = presets.left_over(preset, 2.0)
    assert left["scratches"] == pytest.approx(2.0 * preset.wear.scratches.amount)
    assert left["rub"] == pytest.approx(2.0 * preset.wear.rub.amount)
    assert not {"dust", "tint", "fade", "finish"} & left.keys()
    assert presets.left_over(preset, 1.0) == {}
    none = presets.dialled(preset, 0.0, 0.0)
    assert (none.fit.shift_mm, none.fit.tilt_deg, none.wear.smudges.amount) == (0.0, 0.0, 0.0)
    assert presets.parse(presets.dump(double), "double") == double


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_presets_are_valid_and_written_as_the_tool_writes(path):
    text = path.read_text(encoding="utf-8")
    preset = presets.parse(text, path.name)
    assert preset.name == path.stem
    assert preset.note.endswith(".")
    assert presets.dump(preset) == text


def test_the_eight_are_there():
    assert [path.stem for path in SHIPPED] == [
        "attic",
        "display-shelf",
        "fresh",
        "rental-kit",
        "sun-window",
        "toy-box",
        "well-loved",
        "workbench",
    ]


# ISO 2768-1:1989, table 1, class f (fine), sizes over 6 up to 30 mm: permissible deviation ±0.1 mm. Bricks that still
# hold together cannot be looser than a machine shop's general class; this is a bound of sanity, not the trade's fit.
ISO_2768_FINE_6_TO_30_MM = 0.1


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_fits_stay_within_a_fine_general_tolerance(path):
    fit = presets.parse(path.read_text(encoding="utf-8"), path.name).fit
    for value in (fit.shift_mm, fit.lift_mm, fit.clearance_mm, fit.play_mm):
        assert 0.0 < value <= ISO_2768_FINE_6_TO_30_MM


def test_shipped_presets_differ_in_order_of_use():
    by_name = {path.stem: presets.parse(path.read_text(encoding="utf-8"), path.name) for path in SHIPPED}
    steps = [by_name[name] for name in ("fresh", "display-shelf", "well-loved", "toy-box")]
    for read in (
        lambda p: p.fit.shift_mm,
        lambda p: p.fit.lift_mm,
        lambda p: p.fit.twist_deg,
        lambda p: p.fit.tilt_deg,
        lambda p: p.wear.scratches.amount,
        lambda p: p.wear.smudges.amount,
        lambda p: p.wear.rub.amount,
        lambda p: p.wear.tint.delta_e,
    ):
        values = [read(step) for step in steps]
        assert values == sorted(values)
        assert len(set(values)) == len(values)


def test_values_changed_by_their_paths():
    preset = presets.parse(TOY_BOX, "toy-box.json")
    other = presets.changed(preset, {"fit.shift_mm": 0.08, "wear.scratches.amount": 0.25}, "--set")
    assert (other.fit.shift_mm, other.wear.scratches.amount) == (0.08, 0.25)
    assert presets.changed(other, {"fit.shift_mm": preset.fit.shift_mm}, "--set").fit == preset.fit
    assert presets.changed(preset, {}, "--set") == preset


@pytest.mark.parametrize(
    ("path", "value", "sentence"),
    [
        ("fit.shift_mm", 9.0, "fit.shift_mm is 9 in --set: give a number from 0 to 0.3"),
        ("fit.shift_mm", float("nan"), "fit.shift_mm is NaN in --set: give a number from 0 to 0.3"),
        ("fit.slack", 0.1, '--set names "fit.slack", which is no number of a preset: name one as fit.shift_mm'),
        ("fit", 0.1, '--set names "fit", which is no number of a preset: name one as fit.shift_mm'),
        ("name", 0.1, '--set names "name", which is no number of a preset: name one as fit.shift_mm'),
        (
            "fit.shift_mm.x",
            0.1,
            '--set names "fit.shift_mm.x", which is no number of a preset: name one as fit.shift_mm',
        ),
    ],
)
def test_a_change_that_cannot_be_made(path, value, sentence):
    with pytest.raises(PresetProblem) as problem:
        presets.changed(presets.parse(TOY_BOX, "toy-box.json"), {path: value}, "--set")
    assert str(problem.value) == sentence
