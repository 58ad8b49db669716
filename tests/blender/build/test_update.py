"""The next version of an export in the place of the one before: what stays to the bit, what follows, what is lost."""

import json
from itertools import groupby
from pathlib import Path

import bpy
import numpy as np
import pytest

from addon import cli, compat, usecases
from addon.core.build.contacts import contacts
from addon.core.errors import Cancelled, FileProblem, PlaywornError
from addon.core.fit.refit import REACH
from addon.scene import files
from addon.scene.build import aside, builds, looks, pins, rolls, sign
from addon.scene.build.build import read
from addon.scene.wear import stamps
from bench.next_version import touched_up
from bench.ways import layouts
from bench.ways.parts import Style
from bench.ways.workshop import COLOURS
from tests.blender import scenes
from tests.blender.build import versions
from tests.blender.build.versions import BUILD, CHANGED, COUNT, TRUTH
from tests.core import versions as truths

OTHER, INCH = Style(facets=18), 25.4


@pytest.fixture(autouse=True)
def registered(extension):
    """The record of the bricks' own deltas is a registered property."""


def bricks(room) -> list[bpy.types.Object]:
    return [thing for thing in room.objects if thing.type == "MESH"]


def names(room) -> set[str]:
    return {thing.name for thing in bricks(room)}


def pairs(room) -> set[tuple[str, str]]:
    table = read(room).bricks
    met = contacts(table)
    return {(table.names[a], table.names[b]) for a, b in zip(met.a.tolist(), met.b.tolist(), strict=True)}


def near(hops: int, changed: set[str], *touching: set[tuple[str, str]]) -> set[str]:
    """What is within reach of some bricks, by their names: an independent walk over what touches."""
    beside: dict[str, set[str]] = {}
    for a, b in set().union(*touching):
        beside.setdefault(a, set()).add(b)
        beside.setdefault(b, set()).add(a)
    found = set(changed)
    for _ in range(hops):
        found |= {other for one in found for other in beside.get(one, ())}
    return found


def update(room, path):
    return usecases.update(room, path)[0]


SAME = {
    "origin": (truths.moved(BUILD, (37.3, 0, 0)), {}),
    "pitch": (truths.moved(BUILD, (8, 0, 0)), {}),
    "turned": (truths.moved(BUILD, (0, 0, 0), 90), {}),
    "z up": (BUILD, {"y_up": False}),
    "sides": (BUILD, {"style": OTHER}),
    "unit": (BUILD, {"unit_mm": INCH}),
    "order and noise": (BUILD, {"layout": versions.noisy}),
    "copies": (BUILD, {"layout": layouts.copied}),
    "renamed": (BUILD, {"layout": versions.renamed}),
}


@pytest.mark.shared_out
@pytest.mark.parametrize("case", SAME)
def test_the_same_bricks_written_otherwise_stay_to_the_bit(room, folder, case):
    build, how = SAME[case]
    before = versions.all_of(bricks(room))
    blocks = {kind: len(getattr(bpy.data, kind)) for kind in ("objects", "meshes", "materials", "collections")}
    told = update(room, versions.export(folder, "next", build, **how))
    assert told.kept == told.bricks == COUNT
    assert versions.all_of(bricks(room)) == before
    assert blocks == {kind: len(getattr(bpy.data, kind)) for kind in blocks}


ANOTHER = {
    "5 % changed": (CHANGED, {}, 3.2, TRUTH),
    "upper half": (truths.lifted(BUILD, 30.0), {}, 30.0, list(range(COUNT))),
    "recoloured": (versions.recoloured(BUILD), {}, 1e9, list(range(COUNT))),
    "all": (
        truths.moved(versions.recoloured(truths.lifted(CHANGED, 30.0)), (37.3, -8, 0), 90),
        {"layout": versions.noisy, "style": OTHER, "unit_mm": INCH, "y_up": False},
        30.0,
        TRUTH,
    ),
}


@pytest.mark.parametrize("case", ANOTHER)
def test_only_what_is_near_a_change_sits_otherwise_and_back_is_version_1(room, folder, first, case):
    build, how, _, truth = ANOTHER[case]
    before, sat, touched = versions.all_of(bricks(room)), versions.all_of(bricks(room), versions.sat), pairs(room)
    places = {thing.name: np.array(thing.location) for thing in bricks(room)}
    path = versions.export(folder, "next", build, **how)
    told = update(room, path)
    assert told.bricks == len(build)
    assert told.cut == 0
    now, after = versions.all_of(bricks(room), versions.sat), pairs(room)
    went = {thing.name: np.array(thing.location) - places[thing.name] for thing in bricks(room) if thing.name in places}
    if case == "upper half":  # a section takes its stances along: those that must give way are few
        assert sum(sat[name] == now[name] for name in sat) > 0.8 * COUNT
    changed = set(sat) ^ set(now)
    changed |= {each.object for each in told.changes if each.reason.startswith("went") and "3.2 mm" not in each.reason}
    for a, b in touched | after:
        if a in went and b in went and np.abs(went[a] - went[b]).max() > 1e-4:
            changed |= {a, b}
    far = set(sat) & set(now) - near(max(told.reach, REACH), changed, touched, after)
    if "recoloured" in case:
        assert far == set(sat)
    assert {name for name in far if sat[name] != now[name]} == set()
    checked = usecases.check(room)
    assert checked.max_interference_mm < 1e-6
    assert checked.max_play_mm <= scenes.PRESET.fit.play_mm + 1e-6
    kept = {TRUTH.index(n) for n in range(COUNT) if n in truth} if truth is TRUTH else set(range(COUNT))
    assert len(names(room)) == len(build)
    assert len(kept) <= len(build)
    once = versions.all_of(bricks(room))
    assert update(room, path).kept == len(build)
    assert versions.all_of(bricks(room)) == once
    update(room, first)
    assert versions.all_of(bricks(room)) == before
    assert aside.room_of(room) is None


def test_far_bricks_are_most_where_little_changed(room, folder):
    out = next(thing for thing in bricks(room) if thing.name.startswith("slope"))
    sat = versions.all_of(bricks(room), versions.sat)
    number = int(out.name.split()[-1])
    told = update(room, versions.export(folder, "next", BUILD[:number] + BUILD[number + 1 :]))
    now = versions.all_of(bricks(room), versions.sat)
    assert told.removed == 1
    assert sum(sat[name] == now[name] for name in now) > 0.8 * COUNT


def test_what_the_artist_did_stays(room, folder):
    things = sorted(bricks(room), key=lambda thing: thing.name)
    named, pinned, rolled, nudged, animated, shaped, pushed = things[10:17]
    pushed.location.z += 0.0005
    pushed.rotation_euler.z += 0.1
    touched_up([named, pinned, rolled, nudged, animated, shaped])
    material = named.data.materials[0]
    material.diffuse_color = (0.1, 0.2, 0.3, 1.0)
    cameras = bpy.data.objects.new("camera", bpy.data.cameras.new("camera"))
    bpy.context.scene.collection.objects.link(cameras)
    usecases.apply(room, scenes.PRESET, usecases.Dials(seed=3))
    bpy.context.scene.frame_set(1)  # what is animated stands where its curves say
    before = versions.all_of(bricks(room))
    told = update(room, versions.export(folder, "next", truths.moved(BUILD, (37.3, 0, 0), 90)))
    bpy.context.scene.frame_set(1)
    assert told.kept == COUNT
    assert versions.all_of(bricks(room)) == before
    assert named.name == "the artist's"
    assert pins.is_pinned(pinned)
    assert rolled[rolls.ROLL] == 1
    assert animated.animation_data.action.fcurves if hasattr(animated.animation_data.action, "fcurves") else True
    assert shaped.modifiers[0].name == "artist"
    assert tuple(material.diffuse_color) == pytest.approx((0.1, 0.2, 0.3, 1.0))


def test_what_crosses_seams_stays_on_a_brick_that_moved(room, folder):
    def spots():
        return {thing.name: list(thing[stamps.SPOT]) for thing in bricks(room)}

    before = spots()
    update(room, versions.export(folder, "next", truths.moved(truths.lifted(BUILD, 30.0), (8, 0, 0), 90)))
    assert spots() == before
    usecases.apply(room, scenes.PRESET, usecases.Dials(seed=3))
    assert spots() == {name: pytest.approx(spot, abs=2e-3) for name, spot in before.items()}


def test_a_removed_brick_waits_hidden_with_all_that_is_on_it(room, folder, first):
    thing = next(thing for thing in bricks(room) if thing.name.startswith("brick-2-1"))
    number = int(thing.name.split()[-1])
    thing.name = "mine"
    thing.modifiers.new("artist", "BEVEL")
    told = update(room, versions.export(folder, "next", BUILD[:number] + BUILD[number + 1 :]))
    assert told.removed == 1
    waits = aside.room_of(room)
    assert [each.name for each in waits.objects] == ["mine"]
    assert waits.hide_render
    assert waits.hide_viewport
    assert waits not in builds.builds(bpy.context.scene)
    assert waits not in builds.all_builds(bpy.context.scene)
    update(room, first)
    assert thing.name in room.objects
    assert thing.modifiers
    assert aside.room_of(room) is None


def test_what_an_update_brought_and_the_next_takes_away_is_gone_unless_it_was_touched(room, folder, first):
    path = versions.export(folder, "next", CHANGED)
    update(room, path)
    added = [thing for thing in bricks(room) if sign.ADDED in thing]
    assert len(added) > 1
    pins.pin(added[:1])
    update(room, first)
    assert [thing[pins.PINNED] for thing in aside.waiting(room)] == [True]


def test_clear_after_an_update_leaves_nothing_of_how_bricks_sat(room, folder):
    update(room, versions.export(folder, "next", CHANGED))
    usecases.clear(room)
    names = {key for block in (room, *room.objects) for key in block.keys()}  # noqa: SIM118  these are no dicts
    assert not [name for name in names if name.startswith("playworn_stances")]


def test_new_bricks_take_meshes_materials_and_wear_of_those_like_them(room, folder):
    before = set(bpy.data.materials)
    update(room, versions.export(folder, "next", CHANGED))
    added = [thing for thing in bricks(room) if sign.ADDED in thing]
    assert added
    assert set(bpy.data.materials) == before
    assert all("playworn_share" in thing for thing in added)
    assert all(thing.data.users > 1 for thing in added)


def test_a_new_colour_comes_in_worn(room, folder):
    build = [b if n % 17 else truths.replace(b, colour="smoke") for n, b in enumerate(BUILD)]
    worn = {thing.name for thing in bpy.data.materials}
    told = update(room, versions.export(folder, "next", build))
    assert told.recoloured
    new = [one for one in bpy.data.materials if one.name not in worn]
    trees = [one.node_tree for one in bpy.data.materials if one.node_tree and one.name.startswith("smoke")]
    assert trees
    assert all(any(node.type == "GROUP" for node in tree.nodes) for tree in trees)
    assert len(new) <= 1


def test_a_new_colour_comes_in_where_no_picture_is_in_the_file(room, folder, monkeypatch):
    for image in list(bpy.data.images):
        bpy.data.images.remove(image)
    monkeypatch.setitem(COLOURS, "plum", (0.55, 0.1, 0.5, 1.0))
    monkeypatch.setattr(layouts, "NAMES", list(COLOURS))
    build = [truths.replace(b, colour="plum") if b.colour == "slate" else b for b in BUILD]
    assert update(room, versions.export(folder, "next", build)).recoloured
    assert not [image.name for image in bpy.data.images if not image.users]


def test_a_material_given_by_hand_stays_where_the_export_recolours(room, folder):
    own = bpy.data.materials.new("by hand")
    compat.node_tree(own)  # without nodes 4.5 shows a stand-in
    thing = bricks(room)[20]
    number = int(thing.name.split()[-1])
    thing.material_slots[0].link = "OBJECT"
    thing.material_slots[0].material = own
    other = "rust" if BUILD[number].colour != "rust" else "teal"
    build = [truths.replace(b, colour=other) if n == number else b for n, b in enumerate(BUILD)]
    told = update(room, versions.export(folder, "next", build))
    assert thing.material_slots[0].material == own
    assert any("given by hand" in each.reason for each in told.skipped)


def test_a_look_that_was_changed_in_blender_is_no_recolouring(room, first):
    for material in {one for thing in bricks(room) for one in thing.data.materials}:
        material.name = f"{material.name} of the artist"
    told = update(room, first)
    assert told.kept == COUNT
    assert all(looks.LOOK in thing for thing in bricks(room))


@pytest.mark.parametrize("worn", [False, True])
def test_bricks_without_a_slot_stay_without_one_where_nobody_kept_what_they_looked_like(folder, first, worn):
    files.new()
    room = usecases.bring_in(first)
    for thing in bricks(room):
        del thing[looks.LOOK]
        thing.data.materials.clear()
    if worn:
        usecases.apply(room, usecases.find_preset("well-loved"), usecases.Dials(seed=3))
    told = update(room, first)
    assert {each.reason for each in told.skipped} == {
        "was recoloured in the export, and has other slots there: it keeps its materials"
    }
    if worn:
        usecases.clear(room)
    assert not any(thing.data.materials for thing in bricks(room))


SHOTS = (
    usecases.OnFrame("wide", 1, usecases.Dials(seed=3, looseness=1.4, wear=1.5), {"dust": 1.5}),
    usecases.OnFrame("as applied", 20, usecases.Dials(seed=3)),
    usecases.OnFrame("macro", 40, usecases.Dials(seed=5, looseness=0.4, wear=0.5), {"rub": 0.0}),
)


def keyed(room) -> dict[str, list]:
    """Our curves on the bricks, key by key."""
    found = {}
    for thing in bricks(room):
        curves = compat.curves(thing.animation_data) if thing.animation_data else []
        ours = [curve for curve in curves if curve.group and curve.group.name == "Playworn"]
        told = [(c.data_path, c.array_index, [tuple(key.co) for key in c.keyframe_points]) for c in ours]
        found[thing.name] = sorted(told)
    return found


def shown(room) -> dict[tuple, object]:
    """What bricks and scene show in each shot, to the bit."""
    found: dict[tuple, object] = {}
    for shot in SHOTS:
        bpy.context.scene.frame_set(shot.first_frame)
        found |= {(shot.name, name): sat for name, sat in versions.all_of(bricks(room), versions.sat).items()}
        wear = {
            key: value for key, value in bpy.context.scene.items() if key.startswith(("playworn_wear", "playworn_m"))
        }
        found[shot.name, ""] = tuple(sorted(wear.items()))
    return found


@pytest.mark.shared_out
@pytest.mark.parametrize("case", ["5 % changed", "upper half", "all"])
def test_shots_on_the_timeline_are_keyed_anew_near_a_change_alone(room, folder, first, case):
    build, how, _, _ = ANOTHER[case]
    bare = versions.all_of(bricks(room))
    usecases.on_timeline(room, SHOTS)
    animated = next(thing for thing in bricks(room) if thing.animation_data)
    animated.scale.x = 1.0
    animated.keyframe_insert("scale", index=0, frame=7)
    before, saw, touched = keyed(room), shown(room), pairs(room)
    places = {thing.name: np.array(thing.location) for thing in bricks(room)}
    path = versions.export(folder, "next", build, **how)
    told = update(room, path)
    assert (told.shots, told.cut) == (len(SHOTS), 0)
    now, sees, after = keyed(room), shown(room), pairs(room)
    went = {thing.name: np.array(thing.location) - places[thing.name] for thing in bricks(room) if thing.name in places}
    changed = set(before) ^ set(now)
    changed |= {each.object for each in told.changes if each.reason.startswith("went") and "3.2 mm" not in each.reason}
    for a, b in touched | after:
        if a in went and b in went and np.abs(went[a] - went[b]).max() > 1e-4:
            changed |= {a, b}
    far = set(before) & set(now) - near(max(told.reach, REACH), changed, touched, after)
    assert {name for name in far if before[name] != now[name]} == set()
    assert {each for each in sees if each[1] in far and sees[each] != saw[each]} == set()
    assert all(sees[shot.name, ""] == saw[shot.name, ""] for shot in SHOTS)
    if case != "upper half":
        assert len(far) > 5
        assert any(now[name] for name in set(now) - set(before))
    for shot in SHOTS:
        bpy.context.scene.frame_set(shot.first_frame)
        checked = usecases.check(room)
        assert checked.max_interference_mm < 1e-6
        assert checked.max_play_mm <= scenes.PRESET.fit.play_mm + 1e-6
    assert not any(keyed(room_of)[name] for room_of in [aside.room_of(room)] if room_of for name in names(room_of))
    update(room, path)
    assert (keyed(room), shown(room)) == (now, sees)
    usecases.off_timeline(room)
    off = versions.all_of(bricks(room))
    assert not any(keyed(room).values())
    assert animated.animation_data.action
    usecases.on_timeline(room, SHOTS)
    usecases.off_timeline(room)
    assert versions.all_of(bricks(room)) == off
    update(room, first)
    assert versions.all_of(bricks(room)) == bare


@pytest.mark.parametrize("case", ["5 % changed", "all"])
def test_back_to_the_first_version_its_keys_are_back(room, folder, first, case):
    build, how, _, _ = ANOTHER[case]
    bare = versions.all_of(bricks(room))
    usecases.on_timeline(room, SHOTS)
    before, saw, told = keyed(room), shown(room), room["playworn_timeline"]
    update(room, versions.export(folder, "next", build, **how))
    assert keyed(room) != before
    update(room, first)
    assert (keyed(room), shown(room), room["playworn_timeline"]) == (before, saw, told)
    usecases.off_timeline(room)
    assert versions.all_of(bricks(room)) == bare


def test_shots_that_came_with_the_next_version_are_keyed_anew_on_the_way_back(room, folder, first):
    bare, path = versions.all_of(bricks(room)), versions.export(folder, "next", CHANGED)
    update(room, path)
    usecases.on_timeline(room, SHOTS)
    assert update(room, first).cut == 0
    for shot in SHOTS:
        bpy.context.scene.frame_set(shot.first_frame)
        assert usecases.check(room).max_interference_mm < 1e-6
    usecases.off_timeline(room)
    assert versions.all_of(bricks(room)) == bare


def test_shots_stay_as_they_are_where_nothing_changed(room, folder):
    bpy.context.scene["playworn_shots"] = '{"format": 1, "shots": []}'
    usecases.on_timeline(room, SHOTS)
    before, saw = keyed(room), shown(room)
    told = update(room, versions.export(folder, "next", truths.moved(BUILD, (37.3, 0, 0))))
    assert told.shots == len(SHOTS)
    assert (keyed(room), shown(room)) == (before, saw)
    assert bpy.context.scene["playworn_shots"] == '{"format": 1, "shots": []}'


def test_rounded_meshes_stay(room, folder):
    usecases.apply(room, scenes.PRESET, usecases.Dials(seed=3, rounding="geometry"))
    before = versions.all_of(bricks(room))
    update(room, versions.export(folder, "next", CHANGED))
    added = [thing for thing in bricks(room) if sign.ADDED in thing]
    assert added
    assert all("playworn_original" in thing.data for thing in added if thing.data.name.endswith("rounded"))
    update(room, versions.export(folder, "again", BUILD))
    assert versions.all_of(bricks(room)) == before


def test_a_build_without_a_preset_is_updated_too(folder, first):
    files.new()
    room = usecases.bring_in(first)
    told = update(room, versions.export(folder, "next", CHANGED))
    assert (told.bricks, told.solved) == (len(CHANGED), 0)
    assert not any(thing.delta_location.length for thing in bricks(room))


@pytest.mark.parametrize("content", [None, b"no export"])
def test_a_bad_export_changes_nothing(room, folder, content):
    path = folder / "bad.glb"
    path.unlink(missing_ok=True)
    if content is not None:
        path.write_bytes(content)
    before = versions.all_of(bpy.data.objects), len(bpy.data.objects), len(bpy.data.meshes), len(bpy.data.collections)
    with pytest.raises(PlaywornError, match=r"bad\.glb"):
        usecases.update(room, path)
    assert before == (
        versions.all_of(bpy.data.objects), len(bpy.data.objects), len(bpy.data.meshes), len(bpy.data.collections)
    )  # fmt: skip


def everything(room) -> tuple:
    """All of the file that an update touches, to the bit."""
    kinds = ("objects", "meshes", "materials", "collections", "node_groups", "images")
    written = [sorted((k, str(getattr(v, "to_dict", lambda v=v: v)())) for k, v in t.items() if k != "playworn_deltas")
               for t in (room, *sorted(bricks(room), key=lambda thing: thing.name))]  # fmt: skip
    counts = {kind: sorted(one.name for one in getattr(bpy.data, kind)) for kind in kinds}
    hidden = {thing.name: (thing.hide_get(), thing.select_get()) for thing in bpy.context.view_layer.objects}
    rooms = {each.name: sorted(each.objects.keys()) for each in bpy.data.collections}
    return versions.all_of(bpy.data.objects), keyed(room), written, counts, hidden, rooms


def telling(steps: list[tuple[float, str]]) -> list[int]:
    """How many steps to take before a stop: each stage's first, its last, and a few of those alike in between."""
    stages = [list(stage) for _, stage in groupby(range(1, len(steps) + 1), key=lambda count: steps[count - 1][1])]
    return [count for stage in stages for count in sorted({*stage[:: max(1, len(stage) // 4)], stage[-1]})]


HOW = {"shading": ("shading", True), "rounded meshes": ("geometry", True), "no shots": ("shading", False)}


@pytest.mark.parametrize("how", HOW)
def test_whoever_stops_it_at_any_step_gets_everything_as_it_was(room, folder, first, how):
    rounding, on = HOW[how]
    path = versions.export(folder, "next", versions.recoloured(truths.lifted(CHANGED, 30.0)))
    between = versions.export(folder, "between", BUILD[:40] + BUILD[46:])
    if rounding == "geometry":
        usecases.apply(room, scenes.PRESET, usecases.Dials(seed=3, rounding=rounding))
    if on:
        usecases.on_timeline(room, SHOTS)
    update(room, between)  # so that some wait, and come back
    bricks(room)[3].hide_set(True)
    bricks(room)[5].select_set(True)
    before, steps = everything(room), list(usecases.updating(room, path))
    assert everything(room) != before
    update(room, between)
    before = everything(room)
    for last in telling(steps):
        job = usecases.updating(room, path)
        said = [next(job) for _ in range(last)]
        job.close()
        now = everything(room)
        assert [a == b for a, b in zip(now, before, strict=True)] == [True] * len(now), said[-1]
    assert len(steps) > 8


def test_who_tells_of_the_progress_may_stop_it(room, folder):
    path = versions.export(folder, "next", CHANGED)
    before = everything(room)

    def stop(fraction, words):
        if fraction >= 0.9:
            raise Cancelled("stopped")

    with pytest.raises(Cancelled):
        usecases.update(room, path, progress=stop)
    assert everything(room) == before


def test_the_command_writes_a_file_a_picture_and_a_report(room, folder, tmp_path, capsys):
    path = versions.export(folder, "next", CHANGED)
    out, picture, report = (str(tmp_path / name) for name in ("out.blend", "out.svg", "out.json"))
    old = str(folder / "first.blend")
    assert cli.main(["update", old, str(path), "--out", out, "--picture", picture, "--report", report, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["bricks"] == len(CHANGED)
    assert answer["kept"] + answer["moved"] + answer["recoloured"] + answer["added"] == len(CHANGED)
    assert json.loads(Path(report).read_text(encoding="utf-8")) == answer
    text = Path(picture).read_text(encoding="utf-8")
    for change in ("kept", "moved", "recoloured", "added", "removed"):
        assert f"{change}: {answer[change]}<" in text
    again = usecases.open_build(Path(out))
    assert len(names(again)) == len(CHANGED)
    assert usecases.check(again).max_interference_mm < 1e-6


def test_the_old_file_must_be_a_blend(first):
    with pytest.raises(FileProblem, match=r"is no \.blend"):
        usecases.old_file(first)
