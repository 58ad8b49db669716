"""The shots in the panel: list, dials, measuring, the target and the timeline, on a wall before two cameras."""

import json
import sys
from pathlib import Path
from types import SimpleNamespace

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.errors import ShotProblem
from addon.core.shots.shot import INHERITED, NAMES, Shot, named
from addon.scene.shots import keys
from addon.scene.shots import shots as kept
from addon.ui import disk, panels, told
from addon.ui.shots import copying, shooting, shotlist, shots
from tests.blender.shots.test_shots import camera, marker
from tests.blender.ui.drawing import FakeLayout, drawn
from tests.blender.ui.walls import deltas

OPERATORS = bpy.ops.playworn
NO_SHOT = "The scene has no shot: add a camera, or bind cameras to markers"


@pytest.fixture
def group(build):
    """The panel's shots: a wide one from frame 1 and a close one from frame 50 to 100, found on the timeline."""
    scene = bpy.context.scene
    scene.frame_end = 100
    scene.camera = camera("far", (0.06, -1.2, 0.02))
    marker("wide", 1, scene.camera)
    marker("close", 50, camera("near", (0.06, -0.12, 0.02), lens=85.0))
    assert OPERATORS.find_shots() == {"FINISHED"}
    return scene.playworn.shots


def text(scene: bpy.types.Scene) -> str:
    """The shots as the file holds them."""
    return scene[kept.SHOTS]


def dials(name: str) -> dict[str, float]:
    return named(usecases.list_shots(bpy.context.scene), name).dials.turned


def rows(group, wide: bool = False) -> list[list[str]]:
    """What each row of the list shows."""
    sidebar = SimpleNamespace(width=600 if wide else 280)
    return [drawn[:-1] for drawn in drawn_rows(group, FakeLayout, sidebar)]  # without the lock


def drawn_rows(group, kind: type[FakeLayout], region=None) -> list[list[str]]:
    """What each row of the list draws on a layout of a kind."""
    context = SimpleNamespace(scene=group.id_data, region=region, preferences=bpy.context.preferences)

    class Row:
        draw_item = shotlist.ShotList.draw_item

    layouts = [kind() for _ in group.rows]
    for number, layout in enumerate(layouts):
        Row().draw_item(context, layout, group, None, 0, group, "number", number)
    return [layout.drawn for layout in layouts]


class Signs(FakeLayout):
    """A layout that tells of icons alone."""

    def call(self, name, given, named):
        found = super().call(name, given, named)
        if name in ("label", "operator"):
            self.drawn[-1] = named.get("icon", "NONE")
        return found


def signs(group) -> list[list[str]]:
    """The note's sign and the lock of each row."""
    return [[drawn[0], drawn[-1]] for drawn in drawn_rows(group, Signs)]


def test_the_list_shows_each_shot_once_found(group):
    assert rows(group) == [["wide", "1–49", "-"], ["close", "50–100", "-"]]
    group.looseness = 0.25
    assert rows(group, wide=True) == [
        ["wide", "1–49", "far", "looseness 0.25", "", "-"],
        ["close", "50–100", "near", "", "", "-"],
    ]
    assert "far, looseness 0.25" in drawn(shotlist.ShotsPanel)
    group.dust = 0.0
    assert rows(group, wide=True)[0][3] == "2 dials"


def test_without_a_camera_the_panel_says_what_to_do(build):
    assert NO_SHOT in " ".join(drawn(shotlist.ShotsPanel))
    for operator, why in (
        (OPERATORS.measure_shots, NO_SHOT),
        (OPERATORS.add_shot, "The scene has no active camera"),
        (OPERATORS.remove_shot, "Choose a shot or add one first"),
        (OPERATORS.dial_shot_to, "Choose a shot or add one first"),
        (OPERATORS.put_on_timeline, "Apply a preset to the build first"),
        (OPERATORS.take_off_timeline, "No shot of this build is on the timeline"),
        (OPERATORS.find_shots, "has no camera"),
    ):
        with pytest.raises(RuntimeError, match=why):
            operator()
    assert usecases.forget_shots(bpy.context.scene) == 0, "nothing was kept"


def test_a_dial_of_the_panel_is_the_one_in_the_file(group):
    assert [getattr(group, name) for name in NAMES] == [getattr(INHERITED, name) for name in NAMES]
    group.number = 1
    group.looseness, group.tint, group.seed = 0.08, 1.5, 7
    assert dials("close") == {"looseness": 0.08, "tint": 1.5, "seed": 7}  # as typed: no float32 of it
    assert dials("wide") == {}
    usecases.dial_shots(bpy.context.scene, {("close", "looseness"): 0.5})
    assert group.looseness == 0.5
    group.number = 0
    assert (group.looseness, group.seed) == (1.0, 0)
    group.wear, group.seed = 5.0, -3
    assert dials("wide") == {"wear": 2.0}
    assert not set(group.keys()) & set(NAMES), "nothing is kept twice"


def test_dials_stand_beside_what_they_come_to(group, settings):
    preset = usecases.find_preset("well-loved")
    settings.looseness, settings.seed = 0.5, 40
    group.looseness, group.rounding, group.dust, group.fade, group.seed = 0.5, 2.0, 0.5, 0.5, 2
    shown = drawn(shotlist.ShotDialsPanel)
    beside = {name: shown[shown.index(name) + 1] for name in NAMES}
    assert beside["looseness"] == f"{0.25 * preset.fit.shift_mm:.3f} mm"
    assert beside["rounding"] == f"{2.0 * preset.wear.rounding_mm:.2f} mm"
    assert beside["dust"] == f"{0.5 * preset.wear.dust.amount:.2f}"
    assert beside["fade"] == f"ΔE {0.5 * preset.wear.fade.delta_e:.2f}"
    assert (beside["seed"], beside["wear"]) == ("42", "1.00")


def test_the_wear_grows_by_a_tick_and_a_dial(group, settings):
    settings.wear, group.number = 0.5, 1
    group.wear = 0.4
    shown = drawn(shotlist.ShotDialsPanel)
    assert (shown[shown.index("wear") + 2 : shown.index("wear") + 5]) == ["grows", "wear_last", ""]
    assert (group.grows, group.wear_last) == (False, pytest.approx(0.4))
    group.grows = True
    assert (group.grows, group.wear_last) == (True, pytest.approx(0.4))
    group.wear_last = 5.0
    assert named(usecases.list_shots(bpy.context.scene), "close").dials.wear_last == 2.0
    group.wear_last = 1.6
    shown = drawn(shotlist.ShotDialsPanel)
    assert shown[shown.index("wear_last") + 1] == "0.80"
    assert "near, wear 0.4 to 1.6" in drawn(shotlist.ShotsPanel)
    assert rows(group, wide=True)[1][3] == "wear 0.4 to 1.6"
    group.grows = False
    assert dials("close") == {"wear": 0.4}
    group.number = 0
    assert not group.grows
    OPERATORS.lock_shot(name="wide")
    group.grows = True
    assert not group.grows
    assert "locked" in told.shot_problem


def test_measuring_tells_what_the_command_line_would(group, build):
    OPERATORS.apply()
    scene = bpy.context.scene
    before = deltas()
    assert OPERATORS.measure_shots() == {"FINISHED"}
    wide, close = (each.frames[0] for each in usecases.reads_as(build, scene, usecases.list_shots(scene)))
    assert close.median_px > 4.0 * wide.median_px
    shown = drawn(shotlist.ShotTablePanel)
    for name, reading in (("wide", wide), ("close", close)):
        at = shown.index(name) + 1
        assert shown[at] == f"{reading.in_frame:.0%}"
        px = reading.median_px, reading.p90_px, reading.largest_px, reading.marks_px["scratches"], reading.rounding_px
        assert [float(cell.removesuffix(" px")) for cell in shown[at + 1 : at + 6]] == pytest.approx(px, abs=0.005)
    assert f"Largest {wide.largest_px:.2f} px" in drawn(shotlist.ShotsPanel)
    group.number = 1
    assert f"Largest {close.largest_px:.2f} px" in drawn(shotlist.ShotsPanel)
    assert [row[-1] for row in rows(group)] == [f"{wide.median_px:.2f}", f"{close.median_px:.2f}"]
    assert np.array_equal(deltas(), before)


def test_a_measuring_is_said_to_be_old_once_something_changes(group):
    OPERATORS.apply()
    OPERATORS.measure_shots()
    words = "Changed since, measure again"

    def is_said() -> bool:
        return words in " ".join(drawn(shotlist.ShotsPanel))

    assert not is_said()
    group.looseness = 0.5
    assert is_said()
    group.looseness = 1.0
    assert not is_said()
    bpy.context.scene.playworn.seed = 9
    assert is_said()
    told.forget()
    assert rows(group)[0][-1] == "-"


def test_a_locked_shot_says_so_wherever_it_would_change(group, build):
    OPERATORS.apply()
    scene = bpy.context.scene
    group.looseness = 0.5
    assert OPERATORS.lock_shot(name="wide") == {"FINISHED"}
    assert signs(group) == [["NONE", "LOCKED"], ["NONE", "UNLOCKED"]]
    assert "wide is locked: unlock it in the list" in " ".join(drawn(shotlist.ShotDialsPanel))
    before = text(scene)
    for operator in (OPERATORS.dial_shot_to, OPERATORS.remove_shot, lambda: OPERATORS.set_shot(setting="B")):
        with pytest.raises(RuntimeError, match="wide is locked: unlock it first"):
            operator()
    group.dust = 0.5
    assert 'the shot "wide" is locked: unlock it first' in " ".join(drawn(shotlist.ShotsPanel))
    group.number = 1
    with pytest.raises(RuntimeError, match="All other shots are locked: unlock one first"):
        OPERATORS.copy_dials()
    assert text(scene) == before
    assert OPERATORS.find_shots() == {"FINISHED"}
    assert text(scene) == before
    OPERATORS.lock_shot(name="wide", locked=False)
    assert signs(group) == [["NONE", "UNLOCKED"]] * 2
    assert "is locked" not in " ".join(drawn(shotlist.ShotsPanel) + drawn(shotlist.ShotDialsPanel))
    group.number, group.dust = 0, 0.5
    assert dials("wide") == {"looseness": 0.5, "dust": 0.5}


def test_two_settings_of_a_shot_are_compared_by_one_click(group):
    group.dust = 0.5
    assert OPERATORS.set_shot(setting="B") == {"FINISHED"}
    group.dust = 1.5
    assert dials("wide") == {"dust": 1.5}
    OPERATORS.set_shot(setting="A")
    assert (dials("wide"), group.dust) == ({"dust": 0.5}, 0.5)
    bpy.ops.ed.undo_push(message="compared")
    OPERATORS.set_shot("EXEC_DEFAULT", True, setting="B")
    assert dials("wide") == {"dust": 1.5}
    bpy.ops.ed.undo()
    assert dials("wide") == {"dust": 0.5}


def test_the_lock_says_what_it_would_do(group):
    says = shooting.LockShot.description
    assert says(bpy.context, SimpleNamespace(locked=True)).startswith("Lock the shot")
    assert says(bpy.context, SimpleNamespace(locked=False)).startswith("Unlock the shot")
    with pytest.raises(RuntimeError, match='there is no shot called "none"'):
        OPERATORS.lock_shot(name="none")


def test_a_note_is_the_artists_and_fades_no_figures(group):
    OPERATORS.apply()
    OPERATORS.measure_shots()
    words = "the gallery's rail is a touch too clean; ask again after the plate is graded"
    group.note = words
    assert usecases.list_shots(bpy.context.scene)[0].note == group.note == words
    assert signs(group) == [["TEXT", "UNLOCKED"], ["NONE", "UNLOCKED"]]
    assert rows(group, wide=True)[0][4] == words
    assert words in " ".join(drawn(shotlist.ShotsPanel)), "a note longer than its field stands below it"
    assert "Changed since" not in " ".join(drawn(shotlist.ShotsPanel))
    group.number = 1
    assert group.note == ""
    group.note = "x" * 501
    assert group.note == ""
    assert 'the note of the shot "close" cannot be kept' in " ".join(drawn(shotlist.ShotsPanel))
    group.note = " two\nlines "
    assert group.note == "two lines"
    assert "cannot be kept" not in " ".join(drawn(shotlist.ShotsPanel))
    group.note = ""
    assert signs(group)[1] == ["NONE", "UNLOCKED"]


def test_dials_are_copied_to_the_shots_that_are_chosen_in_one_step(group):
    scene = bpy.context.scene.name
    usecases.add_shot(bpy.context.scene, Shot("late", "near", 200, 210))
    shots.match(bpy.context.scene)
    group.looseness, group.dust, group.seed = 0.5, 1.5, 3
    bpy.ops.ed.undo_push(message="dialled")
    to = [{"name": name, "is_chosen": True} for name in ("close", "late")]
    assert OPERATORS.copy_dials("EXEC_DEFAULT", True, to=to) == {"FINISHED"}
    given = {"looseness": 0.5, "dust": 1.5, "seed": 3}
    assert [dials(name) for name in ("wide", "close", "late")] == [given] * 3
    bpy.ops.ed.undo()
    assert [dials(name) for name in ("wide", "close", "late")] == [given, {}, {}]
    usecases.lock_shot(bpy.data.scenes[scene], "late")
    with pytest.raises(RuntimeError, match='the shot "late" is locked'):
        OPERATORS.copy_dials(to=to)
    with pytest.raises(RuntimeError, match='the dials of the shot "wide" are for other shots'):
        OPERATORS.copy_dials()
    assert [dials(name) for name in ("close", "late")] == [{}, {}], "all or none"


def test_the_dialogue_of_copying_lists_the_other_shots(group):
    usecases.add_shot(bpy.context.scene, Shot("late", "near", 200, 210))
    usecases.lock_shot(bpy.context.scene, "late")
    group.looseness = 0.5

    class Dialogue(FakeLayout):
        draw, chosen = copying.CopyDials.draw, copying.CopyDials.chosen

        def call(self, name, given, named):
            if name == "prop":
                return self.drawn.append(f"{named['text']}, to tick")
            return super().call(name, given, named)

    dialogue = Dialogue()
    choices = [SimpleNamespace(name=name) for name in ("close", "late")]
    dialogue.__dict__.update(layout=dialogue, to=choices)
    dialogue.draw(bpy.context)
    assert dialogue.drawn == ["looseness 0.5", "close, to tick", "late"]


def test_dial_to_meets_its_target_or_says_how_near_it_came(group, build, capfd):
    OPERATORS.apply()
    group.number, group.target_px = 1, 0.5
    assert OPERATORS.dial_shot_to() == {"FINISHED"}
    assert "Put on Timeline shows it in the view" in capfd.readouterr().out
    scene = bpy.context.scene
    reads = usecases.reads_as(build, scene, [named(usecases.list_shots(scene), "close")])[0]
    assert np.median(reads.motions_px) == pytest.approx(0.5, rel=0.02)
    assert group.looseness == pytest.approx(dials("close")["looseness"])
    assert rows(group)[1][-1] == "0.50"
    group.target_px = 500.0
    capfd.readouterr()
    OPERATORS.dial_shot_to()
    assert "that is the most that the dial and the tolerances give" in capfd.readouterr().out


def test_a_shot_is_added_by_hand_and_taken_out_again(group):
    scene = bpy.context.scene
    assert OPERATORS.add_shot() == {"FINISHED"}
    added = named(usecases.list_shots(scene), "far")
    assert added == Shot("far", "far", 1, 100, by_hand=True)
    assert shots.chosen(scene) == added
    OPERATORS.add_shot(first=60, last=70)
    assert shots.chosen(scene) == Shot("far-2", "far", 60, 70, by_hand=True)
    with pytest.raises(RuntimeError, match='two shots are called "wide"'):
        OPERATORS.add_shot(name="wide")
    assert len(group.rows) == 4
    OPERATORS.remove_shot()
    assert [shot.name for shot in usecases.list_shots(scene)] == ["wide", "far", "close"]
    assert OPERATORS.find_shots() == {"FINISHED"}
    assert len(group.rows) == 3


def test_without_any_shot_left_the_timeline_tells_them(group):
    group.wear = 0.5
    OPERATORS.remove_shot()
    OPERATORS.remove_shot()
    assert kept.SHOTS not in set(bpy.context.scene.keys())
    assert [row[0] for row in rows(group)] == ["wide", "close"]
    assert dials("wide") == {}
    with pytest.raises(ShotProblem, match="there is no shot called"):
        usecases.remove_shot(bpy.context.scene, "far")


def test_finding_anew_keeps_the_choice(group):
    group.number, group.wear = 1, 0.5
    marker("first", -10, bpy.data.objects["near"])
    OPERATORS.find_shots()
    assert dials("close") == {"wear": 0.5}
    assert (shots.chosen(bpy.context.scene).name, group.number, len(group.rows)) == ("close", 2, 3)


def test_shots_made_by_others_get_their_rows(group):
    scene = bpy.context.scene
    usecases.add_shot(scene, Shot("late", "near", 200, 210))
    assert drawn(shotlist.ShotsPanel)
    assert bpy.app.timers.is_registered(shots.match_all)
    shots.match_all()
    assert [row[0] for row in rows(group)] == ["wide", "close", "late"]
    shots.forget()
    usecases.remove_shot(scene, "late")
    assert rows(group)[2] == []
    drawn(shotlist.ShotsPanel)
    shots.forget()
    assert not bpy.app.timers.is_registered(shots.match_all)


def test_a_dial_that_cannot_be_turned_says_why_in_the_panel(group):
    scene = bpy.context.scene
    before = text(scene)
    near = bpy.data.objects["near"]
    bpy.context.scene.collection.objects.unlink(near)
    group.looseness = 0.5
    assert text(scene) == before
    assert '"near" of the shot "close" is not in the scene' in " ".join(drawn(shotlist.ShotsPanel))
    bpy.context.scene.collection.objects.link(near)
    group.looseness = 0.5
    assert "is not in the scene" not in " ".join(drawn(shotlist.ShotsPanel))


def test_shots_of_a_newer_version_are_told_and_left(group):
    scene = bpy.context.scene
    scene[kept.SHOTS] = newer = json.dumps({"format": 99, "shots": []})
    assert "newer Playworn" in " ".join(drawn(shotlist.ShotsPanel))
    assert drawn(shotlist.ShotDialsPanel)
    assert (group.looseness, shots.chosen(scene)) == (1.0, None)
    group.looseness = 0.5
    for operator in (OPERATORS.find_shots, OPERATORS.add_shot):
        with pytest.raises(RuntimeError, match="newer Playworn"):
            operator()
    assert text(scene) == newer


def test_turning_and_measuring_follow_undo(group):
    scene = bpy.context.scene.name
    bpy.ops.ed.undo_push(message="found")
    group.looseness = 0.5
    bpy.ops.ed.undo_push(message="Looseness")
    OPERATORS.remove_shot("EXEC_DEFAULT", True)
    assert len(bpy.data.scenes[scene].playworn.shots.rows) == 1
    bpy.ops.ed.undo()
    group = bpy.data.scenes[scene].playworn.shots
    assert (len(group.rows), group.looseness) == (2, 0.5)
    bpy.ops.ed.undo()
    assert bpy.data.scenes[scene].playworn.shots.looseness == 1.0


def test_the_shots_go_on_the_timeline_and_off_again(group, build, capfd):
    OPERATORS.apply()
    group.number, group.looseness = 1, 0.25
    before, scene = deltas(), bpy.context.scene
    assert OPERATORS.put_on_timeline() == {"FINISHED"}
    assert "Info: 2 shots on the timeline: 16 bricks keyed" in capfd.readouterr().out
    assert [each["name"] for each in keys.shots_of(build)] == ["wide", "close"]
    scene.frame_set(1)
    assert np.array_equal(deltas(), before)
    scene.frame_set(60)
    close = deltas()
    assert OPERATORS.take_off_timeline() == {"FINISHED"}
    assert np.array_equal(deltas(), before)
    scene.playworn.looseness = 0.25
    assert np.array_equal(deltas(), close), "the shot sits as the whole build at the shot's looseness"
    group.rounding = 2.0
    OPERATORS.put_on_timeline()
    assert "; 1 × is a shot with a rounding of its own" in capfd.readouterr().out


def test_the_list_is_searched_by_name(group):
    class List:
        bitflag_filter_item, filter_name = 1 << 30, "CLO"
        filter_items = shotlist.ShotList.filter_items

    assert List().filter_items(bpy.context, group, "rows") == ([0, 1 << 30], [])


def test_a_redraw_parses_nothing_and_asks_no_disk(group, settings, monkeypatch):
    """Counted by Python's own audit events (PEP 578) and in the parser: 0 in a redraw that follows another."""
    OPERATORS.apply()
    OPERATORS.measure_shots()
    group.dust = 0.5
    settings.changes = '{"shift_mm": 0.02}'
    monkeypatch.setattr(disk, "_draws", lambda: True)

    def redraw() -> None:
        for panel in vars(panels).values():
            if isinstance(panel, type) and issubclass(panel, bpy.types.Panel) and panel is not bpy.types.Panel:
                drawn(panel)
        for panel in (shotlist.ShotsPanel, shotlist.ShotTablePanel, shotlist.ShotDialsPanel):
            drawn(panel)
        rows(group, wide=True)
        for holder in (settings, settings.limits, group):  # what Blender asks for when it draws them
            for prop in holder.bl_rna.properties:
                getattr(holder, prop.identifier)

    redraw()
    asked: list[str] = []
    monkeypatch.setattr(json.decoder.JSONDecoder, "decode", lambda *_: asked.append("json"))
    for name in ("stat", "exists", "is_file", "is_dir", "open", "iterdir", "glob", "read_text", "read_bytes"):
        monkeypatch.setattr(Path, name, lambda *_args, name=name, **_kw: asked.append(name))
    opened.clear()
    try:
        watching.add("now")
        redraw()
    finally:
        watching.clear()
    assert asked == []
    assert opened == []
    disk.forget()


opened: list[str] = []
watching: set[str] = set()
sys.addaudithook(
    lambda event, args: opened.append(f"{event} {args}") if watching and event in ("open", "os.scandir") else None
)
