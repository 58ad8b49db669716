"""The overlay of the 3D views: its values are those that shaders read, a redraw reads nothing, and nothing stays."""

import json

import bpy
import gpu
import numpy as np
import pytest
from mathutils import Matrix

from addon import raw, usecases
from addon.core.errors import BuildProblem
from addon.core.fit.motions import Motions
from addon.core.pictures import ramp
from addon.core.pictures.overlay import KINDS
from addon.core.wear.names import OWN_MORE, SHELTERED, UNLIT, UNREACHED
from addon.scene import files
from addon.scene.build import state
from addon.scene.fit import motion
from addon.ui import panels
from addon.ui.build import legend, overlay, painting
from tests.blender.scenes import PRESET
from tests.blender.ui.drawing import drawn
from tests.blender.ui.walls import wall


def shown() -> np.ndarray:
    return overlay.of(bpy.context.scene.playworn.build).overlay.values


def choose(name: str) -> None:
    bpy.context.window_manager.playworn.overlay = name


@pytest.fixture
def worn(build, settings) -> bpy.types.Collection:
    """A wall with a look, with two bricks on their sides and one that stands before it."""
    mesh = build.objects[0].data
    for n, (place, turn) in enumerate((((0.2, 0.0, 0.0), 0.0), ((0.2, 0.03, 0.0159), 0.5 * np.pi))):
        thing = bpy.data.objects.new(f"beside.{n}", mesh)
        thing.location, thing.rotation_euler = place, (turn, 0.0, turn)
        build.objects.link(thing)
    bpy.context.view_layer.update()
    usecases.apply(build, PRESET, usecases.Dials(3))
    settings.build = build
    return build


def gathered(build, name):
    return usecases.gather_overlay(build, name, bpy.context.evaluated_depsgraph_get())


def row(build, found, thing) -> int:
    return found.bricks.tolist().index(thing.session_uid)


@pytest.mark.parametrize(("name", "low", "high"), [("reach", *UNREACHED), ("sky", *SHELTERED), ("sun", *UNLIT)])
def test_reach_sky_and_sun_are_what_the_shader_reads(worn, name, low, high):
    thing = worn.objects["brick.1.1"]
    thing[low], thing[high] = (0.1, 0.2, 0.3), (0.4, 0.5, 0.6)
    found = gathered(worn, name)
    assert found.overlay.values[row(worn, found, thing)] == pytest.approx([0.9, 0.6, 0.8, 0.5, 0.7, 0.4])
    assert len(found.bricks) == len(worn.objects)


def test_dust_lies_on_the_side_that_looks_up_whichever_it_is(worn):
    found = gathered(worn, "dust")
    lying = worn.objects["beside.1"]
    up = np.array(lying.matrix_world.to_3x3())[2]  # what of each of its axes looks up
    values = found.overlay.values[row(worn, found, lying)]
    side = 2 * np.abs(up).argmax() + (up[np.abs(up).argmax()] > 0)
    assert np.flatnonzero(values).tolist() == [side]
    assert side not in (4, 5), "it lies on its side"


def test_amounts_of_a_brick_its_material_and_a_place_are_in_it(worn):
    before = gathered(worn, "rub")
    thing = worn.objects["brick.0.0"]
    thing[OWN_MORE] = -0.5
    n = row(worn, before, thing)
    assert gathered(worn, "rub").overlay.values[n] == pytest.approx(0.5 * before.overlay.values[n])
    usecases.give_amount_to_materials(worn, [worn.objects[0].data.materials[0]], 0.5)
    assert gathered(worn, "rub").overlay.values[n] == pytest.approx(0.25 * before.overlay.values[n])
    usecases.add_place(bpy.context.scene, [thing], usecases.Place(3.0))
    bpy.context.view_layer.update()
    after = gathered(worn, "rub").overlay.values
    assert after[n] == pytest.approx(0.75 * before.overlay.values[n], rel=1e-4), "it lies in the middle of the place"
    assert gathered(worn, "tint").overlay.values[n] == pytest.approx(gathered(worn, "tint").overlay.values[n])


def test_motion_is_that_of_the_farthest_corner_in_mm(worn):
    """Against Blender's own matrices, of the corners of the boxes that the bricks' bodies are."""
    found = gathered(worn, "motion")
    order = [row(worn, found, thing) for thing in worn.objects]
    moved = np.array([thing.matrix_world for thing in worn.objects])
    usecases.clear(worn)
    bpy.context.view_layer.update()
    rest = np.array([thing.matrix_world for thing in worn.objects])
    corners = 0.001 * np.array([(x, y, z, 1000.0) for x in (-15.9, 15.9) for y in (-7.9, 7.9) for z in (0.0, 9.6)])
    away = np.linalg.norm((moved - rest) @ corners.T, axis=1).max(axis=1) * 1000.0
    assert found.overlay.values[order] == pytest.approx(np.repeat(away[:, None], 6, axis=1), abs=1e-3)
    assert 0.05 < away.max() < 2.0
    assert gathered(worn, "motion").overlay.values.max() < 1e-9


def test_interference_is_that_of_the_check(worn, monkeypatch):
    def sunk(build):
        shift = np.zeros((len(build.bricks), 3))
        shift[list(build.bricks.names).index("brick.2.1"), 2] = -0.2
        return Motions(shift, np.zeros_like(shift), np.ones_like(shift))

    assert not gathered(worn, "interference").overlay.values.any()
    monkeypatch.setattr(motion, "measured", sunk)
    found = gathered(worn, "interference")
    assert found.overlay.values.max() == usecases.check(worn).max_interference_mm == pytest.approx(0.2, abs=1e-6)
    cut = {worn.objects[n].name for n in range(18) if found.overlay.values[row(worn, found, worn.objects[n])].any()}
    assert cut == {"brick.2.1", "brick.1.0", "brick.1.1"}, "it and the two that it stands on"


def test_without_a_look_there_is_none_of_the_wear_but_motion(build):
    for name, kind in KINDS.items():
        if kind.unit == "mm":
            assert not gathered(build, name).overlay.values.any()
        else:
            with pytest.raises(BuildProblem, match=f"no {kind.label.lower()} to see: no preset is on the build"):
                gathered(build, name)
    choose("reach")
    assert overlay.of(build) is None


def test_the_panel_has_one_menu(worn):
    session = bpy.context.window_manager.playworn
    assert drawn(panels.BuildPanel).count("overlay") == 1
    items = session.bl_rna.properties["overlay"].enum_items
    assert [each.identifier for each in items] == ["off", *KINDS]
    assert all(each.description for each in items)
    choose("sky")
    assert session.overlay == "sky"


def test_nothing_of_it_is_in_the_file_or_an_undo_step(worn, tmp_path):
    bpy.ops.ed.undo_push(message="before")
    looks = {thing.name: (tuple(thing.color), dict(thing.items()).keys()) for thing in worn.objects}
    files.save(tmp_path / "off.blend")
    choose("motion")
    files.save(tmp_path / "on.blend")
    off, on = ((tmp_path / f"{name}.blend").read_bytes() for name in ("off", "on"))
    assert len(off) == len(on)
    assert "overlay" not in bpy.context.window_manager.get("playworn", {}), "where Blender 4.5 keeps properties"
    assert {thing.name: (tuple(thing.color), dict(thing.items()).keys()) for thing in worn.objects} == looks
    choose("off")


class Recorder:
    """Stands for the graphics card."""

    def __init__(self, gathered, before=None):
        self.gathered, self.standing, self.draws = gathered, {}, 0

    def stand(self, view, standing):
        self.standing[view] = standing

    def stands(self, view):
        return view in self.standing

    def move(self):
        self.standing.clear()

    def draw(self, view, eye):
        self.draws += 1


@pytest.fixture
def view(worn, monkeypatch):
    """A 3D view, drawn as often as it is called, and what was drawn."""
    monkeypatch.setattr(painting, "Painting", Recorder)
    legends = []
    monkeypatch.setattr(legend, "draw", lambda context, seen, brick: legends.append((seen.lines, brick)))
    monkeypatch.setattr(legend, "say", lambda context, words: legends.append((words, "")))
    screen = next(each for each in bpy.data.screens if any(area.type == "VIEW_3D" for area in each.areas))
    area = next(area for area in screen.areas if area.type == "VIEW_3D")
    region = next(region for region in area.regions if region.type == "WINDOW")

    def redraw():
        window = bpy.context.window_manager.windows[0]
        with bpy.context.temp_override(window=window, screen=screen, area=area, region=region):
            for draw, _ in overlay._DRAWN:
                draw()
        return legends[-1] if legends else None

    redraw.space = area.spaces.active
    redraw.space.overlay.show_overlays = True
    yield redraw
    overlay.forget()


def painted():
    return overlay._shown[bpy.context.scene.playworn.build.session_uid].painted


def test_a_redraw_reads_nothing_of_what_a_file_tells(worn, view, monkeypatch):
    choose("scratches")
    view()
    asked = []
    for owner, name in ((raw, "said"), (raw, "text"), (raw, "numbers"), (state, "recall"), (json, "loads")):
        kept = getattr(owner, name)
        monkeypatch.setattr(owner, name, lambda *given, kept=kept, name=name: asked.append(name) or kept(*given))
    for _ in range(3):
        view()
    assert asked == []
    assert painted().draws == 4
    overlay.renew()
    assert "said" in asked or "text" in asked, "the counting counts"


def test_a_dial_an_undo_and_clear_are_followed(worn, view, settings):
    choose("motion")
    before = shown()
    settings.looseness = 2.0
    assert bpy.app.timers.is_registered(overlay._renew_now)
    overlay._renew_now()
    assert shown().max() > before.max()
    choose("scratches")
    full = shown()
    settings.wear = 0.5
    overlay._renew_now()
    assert shown() == pytest.approx(0.5 * full)
    usecases.clear(worn)
    overlay._renew_now()
    assert view()[0].startswith("There is no scratches to see")
    bpy.app.timers.unregister(overlay._renew_now)


def test_what_is_moved_or_hidden_is_drawn_so_at_once(worn, view):
    choose("sky")
    view()
    thing, number = worn.objects["beside.0"], view.space.as_pointer()
    n = row(worn, painted().gathered, thing)
    thing.location.x += 1.0
    bpy.context.view_layer.update()
    view()
    assert painted().standing[number].place[n][0, 3] == pytest.approx(thing.matrix_world[0][3])
    assert painted().standing[number].is_shown.all()
    thing.hide_set(True)
    bpy.context.view_layer.update()
    view()
    assert np.flatnonzero(~painted().standing[number].is_shown).tolist() == [n]
    bpy.data.objects.remove(worn.objects["brick.0.0"])
    bpy.context.view_layer.update()
    view()
    assert (~painted().standing[number].is_shown).sum() == 2


def test_it_hides_with_all_overlays_of_a_view(worn, view):
    choose("sky")
    view.space.overlay.show_overlays = False
    assert view() is None
    view.space.overlay.show_overlays = True
    assert view()[0][0].startswith("18 bricks")


def test_the_numbers_of_the_active_brick_stand_in_the_legend(worn, view):
    choose("motion")
    bpy.context.view_layer.objects.active = worn.objects["brick.1.0"]
    assert view()[1].startswith("brick.1.0: 0.")
    bpy.context.view_layer.objects.active = None
    assert view()[1] == ""


def test_another_file_and_switching_off_end_it(worn, extension):
    handlers = bpy.app.handlers
    before = {name: len(each) for name in dir(handlers) if isinstance(each := getattr(handlers, name), list)}
    choose("sky")
    assert len(usecases.heard) == 1
    files.new()
    after = {name: len(each) for name in dir(handlers) if isinstance(each := getattr(handlers, name), list)}
    assert bpy.context.window_manager.playworn.overlay == "off"
    assert (after, usecases.heard, overlay._handles) == (before, [], [])
    choose("sky")
    extension.unregister()
    assert (usecases.heard, overlay._handles, overlay._shown) == ([], [], {})
    extension.register()


@pytest.mark.shared_out
def test_what_the_shader_reads_is_each_brick_once_surface_by_surface(worn):
    found = gathered(worn, "reach")
    standing = usecases.standing(worn, found.bricks, None)
    standing.is_shown[3] = False
    rows, first, count = painting.told_by_surface(found, standing)
    assert sorted(rows.tolist()) == sorted(set(range(18)) - {3})
    assert (sum(count), first[0]) == (17, 0)
    texels = painting.texels(standing.place[rows], found.overlay.shares[rows])
    at = texels.reshape(-1, 5, 4)[5]
    assert at[:3] == pytest.approx(standing.place[rows[5], :3])
    assert [*at[3, :3], *at[4, :3]] == pytest.approx(found.overlay.shares[rows[5]][[0, 2, 4, 1, 3, 5]])


def test_a_mesh_that_bricks_share_is_taken_once_as_modifiers_leave_it(worn):
    assert [len(each.bricks) for each in gathered(worn, "sky").surfaces] == [18]
    thing = worn.objects["beside.0"]
    thing.modifiers.new("cut", "TRIANGULATE")
    thing.modifiers.new("twice", "ARRAY").count = 2
    once, twice = sorted(gathered(worn, "sky").surfaces, key=lambda each: len(each.points))
    assert (len(once.bricks), len(twice.bricks)) == (17, 1)
    assert len(twice.points) == 2 * len(once.points)


class OnCard(bpy.types.RenderEngine):
    """A render, within which Blender lets the graphics card be spoken to without a window."""

    bl_idname, bl_label, bl_use_gpu_context = "OVERLAY_ON_CARD", "On card", True
    work, outcome = None, None

    def render(self, _depsgraph):
        OnCard.outcome = OnCard.work()


@pytest.fixture
def on_card(extension):
    def run(work):
        scene = bpy.context.scene
        scene.camera = bpy.data.objects.new("eye", bpy.data.cameras.new("eye"))
        scene.collection.objects.link(scene.camera)
        scene.render.resolution_x = scene.render.resolution_y = 16
        scene.render.engine, OnCard.work, OnCard.outcome = OnCard.bl_idname, work, None
        bpy.ops.render.render()
        return OnCard.outcome

    bpy.utils.register_class(OnCard)
    yield run
    bpy.utils.unregister_class(OnCard)
    OnCard.work = None


def pixels(found, standing, eye):
    """What the card draws (64, 64, 3) for an eye."""
    painted_ = painting.Painting(found)
    painted_.stand(0, standing)
    canvas = gpu.types.GPUOffScreen(64, 64, format="RGBA8")
    with canvas.bind():
        bound = gpu.state.active_framebuffer_get()
        bound.clear(color=(0.0, 0.0, 0.0, 1.0), depth=1.0)
        painted_.draw(0, eye)
        seen = np.array(bound.read_color(0, 0, 64, 64, 4, 0, "UBYTE").to_list())[..., :3]
    canvas.free()
    return seen


FLAT = Matrix.Diagonal((20.0, 20.0, -20.0, 1.0))  # from above, 0.1 wide, as OpenGL's frame has it
NEAR = Matrix(((4.0, 0, 0, 0), (0, 4.0, 0, 0), (0, 0, -1.2, 0.1), (0, 0, -1.0, 0.2)))  # from 0.2 above, by perspective
KEPT_OFF = np.array([0.1, 0.2, 0.3, 0.4, 0.5, 0.6])  # at -x, -y, -z, x, y, z


@pytest.mark.shared_out
@pytest.mark.parametrize(
    ("turn", "scale", "side"),
    [((0.0, 0.0), 1.0, 5), ((0.0, 0.5), 1.0, 0), ((0.5, 0.0), 1.0, 3), ((0.5, 0.0), -1.0, 3), ((1.0, 0.0), 1.0, 4)],
    ids=["upright", "-x up", "y up", "y up, mirrored", "upside down"],
)
@pytest.mark.parametrize(("seen", "eye"), [(FLAT, (0, 0, 1, 0)), (NEAR, (0, 0, 0.2, 1))], ids=["flat", "near"])
@pytest.mark.parametrize("is_inside_out", [False, True])
def test_the_graphics_card_shows_the_side_that_is_seen_in_its_colour(
    on_card, turn, scale, side, seen, eye, is_inside_out
):
    """An eye straight above, where no slant makes it greyer: the pixel has the ramp's colour to two steps of 255."""
    build = wall(1, 1)
    usecases.apply(build, PRESET, usecases.Dials(looseness=0.0, rounding="shading"))
    (thing,) = build.objects
    if is_inside_out:
        thing.data.flip_normals()
    thing.rotation_euler, thing.scale.x = (np.pi * turn[0], np.pi * turn[1], 0.0), scale
    thing[SHELTERED[0]], thing[SHELTERED[1]] = KEPT_OFF[:3].tolist(), KEPT_OFF[3:].tolist()
    bpy.context.view_layer.update()
    found = gathered(build, "sky")
    assert found.overlay.values[0].tolist() == pytest.approx((1.0 - KEPT_OFF)[[0, 3, 1, 4, 2, 5]])
    standing = usecases.standing(build, found.bricks, None)
    drawn_ = on_card(lambda: pixels(found, standing, painting.Eye(seen, eye, takes_light=False)))
    middle = drawn_[30:34, 30:34].reshape(-1, 3)
    wanted = 255.0 * ramp.colours(found.overlay.values[0, side])
    assert np.abs(middle - wanted).max(axis=1).min() <= 2.0
    assert not drawn_[1, 1].any(), "and nothing beside the brick"


def test_the_graphics_card_draws_each_brick_where_it_stands(on_card):
    build = wall(1, 1)
    usecases.apply(build, PRESET, usecases.Dials(looseness=0.0, rounding="shading"))
    found = gathered(build, "sky")
    standing = usecases.standing(build, found.bricks, None)
    eye = painting.Eye(FLAT, (0.0, 0.0, 1.0, 0.0), takes_light=False)
    lit = on_card(lambda: pixels(found, standing, eye)).any(axis=2)
    assert lit.sum() == pytest.approx(31.8 * 15.8 * (64 / 100.0) ** 2, rel=0.08)
    standing.place[0, 0, 3] += 0.02
    moved = on_card(lambda: pixels(found, standing, eye)).any(axis=2)
    assert np.argwhere(moved)[:, 1].mean() - np.argwhere(lit)[:, 1].mean() == pytest.approx(0.02 * 640, abs=1.0)
    standing.is_shown[0] = False
    assert not on_card(lambda: pixels(found, standing, eye)).any()
