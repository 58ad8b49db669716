"""Shots in a file: found, kept, looked through, dialled, and taken out again."""

import json
from dataclasses import replace

import bpy
import numpy as np
import pytest
from bpy_extras.object_utils import world_to_camera_view
from mathutils import Vector

from addon import cli, compat, usecases
from addon.core.errors import ShotProblem
from addon.core.fit.motions import farthest
from addon.core.presets import preset as presets
from addon.core.shots.grid import Grid
from addon.core.shots.shot import INHERITED, Shot, ShotDials
from addon.core.shots.sight import Sight
from addon.scene.build import build as builds
from addon.scene.fit import motion
from addon.scene.shots import lenses
from addon.scene.shots import shots as kept
from tests.blender import scenes


def camera(name: str, place=(0.06, -0.5, 0.02), look=(1.5707963, 0.0, 0.0), **more) -> bpy.types.Object:
    data = bpy.data.cameras.new(name)
    for key, value in more.items():
        setattr(data, key, value)
    thing = bpy.data.objects.new(name, data)
    bpy.context.scene.collection.objects.link(thing)
    thing.location, thing.rotation_euler = place, look
    bpy.context.view_layer.update()
    return thing


def marker(name: str, frame: int, thing: bpy.types.Object) -> None:
    bpy.context.scene.timeline_markers.new(name, frame=frame).camera = thing


@pytest.fixture
def wall(extension) -> bpy.types.Collection:
    """A wall with a preset on it, and two shots: wide from frame 1, close from frame 50."""
    made = scenes.wall()
    usecases.apply(made, scenes.PRESET, usecases.Dials(seed=3))
    scene = bpy.context.scene
    scene.frame_end = 100
    marker("wide", 1, camera("far", (0.06, -1.2, 0.02)))
    marker("close", 50, camera("near", (0.06, -0.12, 0.02), lens=85.0))
    return made


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"sensor_fit": "VERTICAL", "shift_x": 0.2},
        {"sensor_fit": "HORIZONTAL", "shift_y": -0.3, "lens": 85.0},
        {"type": "ORTHO", "ortho_scale": 0.3, "shift_x": 0.1},
    ],
)
@pytest.mark.parametrize("render", [(1920, 1080, 1.0, 1.0, 100), (1080, 1920, 2.0, 1.0, 50), (997, 700, 1.0, 1.5, 33)])
def test_the_lens_shows_points_where_blender_shows_them(extension, more, render):
    """`world_to_camera_view` works in single precision: a hundredth of a pixel is what it can tell."""
    made = scenes.wall()
    scene = bpy.context.scene
    settings = scene.render
    settings.resolution_x, settings.resolution_y, settings.pixel_aspect_x, settings.pixel_aspect_y = render[:4]
    settings.resolution_percentage = render[4]
    eye = camera("eye", (0.1, -0.4, 0.15), (1.2, 0.1, 0.2), **more)
    eye.scale = (2.0, 2.0, 2.0)  # a camera's own scale is void
    bpy.context.view_layer.update()
    build = builds.read(made)
    lens = lenses.lens(build, scene, eye)
    assert (lens.width_px, lens.height_px) == (render[0] * render[4] // 100, render[1] * render[4] // 100)
    px, depth = lens.project(build.bricks.centre)
    world = (np.linalg.inv(builds.into_build(build)) @ np.vstack([build.bricks.centre.T, np.ones(len(px))])).T
    theirs = np.array([world_to_camera_view(scene, eye, Vector(point[:3])) for point in world])
    assert np.abs(px - theirs[:, :2] * (lens.width_px, lens.height_px)).max() < 0.02
    assert depth == pytest.approx(theirs[:, 2] * 1000.0, rel=1e-4)


def test_a_panoramic_camera_is_refused_in_one_sentence(extension):
    made = scenes.wall()
    eye = camera("round", type="PANO")
    with pytest.raises(ShotProblem, match="neither perspective nor orthographic"):
        usecases.reads_as(made, bpy.context.scene, [Shot("a", eye.name, 1, 1)])


def test_shots_come_from_markers_else_from_the_scenes_camera(wall):
    scene = bpy.context.scene
    assert usecases.list_shots(scene) == (Shot("wide", "far", 1, 49), Shot("close", "near", 50, 100))
    scene.timeline_markers.clear()
    scene.camera = bpy.data.objects["near"]
    assert usecases.list_shots(scene) == (Shot("scene", "near", 1, 100),)
    scene.camera = None
    assert usecases.list_shots(scene) == ()
    with pytest.raises(ShotProblem, match="has no camera"):
        usecases.find_shots(scene)


def test_dials_and_renamed_cameras_survive_saving_and_need_no_extension(wall, extension, tmp_path):
    usecases.dial_shots(bpy.context.scene, {("close", "looseness"): 0.5, ("close", "seed"): 4})
    bpy.data.objects["near"].name = "hero"
    usecases.save(tmp_path / "shots.blend")
    extension.unregister()
    try:
        bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "shots.blend"))
        found = kept.recall(bpy.context.scene)
    finally:
        extension.register()
    assert found[1] == Shot("close", "hero", 50, 100, dials=ShotDials(looseness=0.5, seed=4))


def test_undo_takes_a_dial_back(wall):
    scene = bpy.context.scene
    usecases.find_shots(scene)
    bpy.ops.ed.undo_push(message="before")
    usecases.dial_shots(scene, {("wide", "dust"): 0.25})
    bpy.ops.ed.undo_push(message="dialled")
    bpy.ops.ed.undo()
    assert usecases.list_shots(bpy.context.scene)[0].dials == INHERITED
    bpy.ops.ed.redo()
    assert usecases.list_shots(bpy.context.scene)[0].dials.dust == 0.25


def test_forgetting_leaves_nothing(wall):
    scene = bpy.context.scene
    before = set(scene.keys())
    usecases.find_shots(scene)
    assert set(scene.keys()) - before == {kept.SHOTS, kept.CAMERAS}
    assert usecases.forget_shots(scene) == 2
    assert set(scene.keys()) == before


@pytest.mark.parametrize(
    "text", ["{", "[]", '{"format": 1}', '{"format": 1, "shots": [{}]}', '{"format": 9, "shots": []}']
)
def test_what_another_hand_wrote_is_refused(wall, text):
    bpy.context.scene[kept.SHOTS] = text
    with pytest.raises(ShotProblem):
        usecases.list_shots(bpy.context.scene)


def test_a_wrong_dial_changes_nothing(wall):
    scene = bpy.context.scene
    before = set(scene.keys())
    with pytest.raises(ShotProblem):
        usecases.dial_shots(scene, {("wide", "dust"): 0.5, ("close", "dust"): 7.0})
    assert set(scene.keys()) == before


def test_what_is_seen_is_what_blender_hits_too(wall):
    """Oracle: Scene.ray_cast on the meshes themselves, studs and all, from the same places the same ways."""
    scenes.put(wall, bpy.data.meshes["2x4"], "behind", (0.048, 0.024, 0.0))
    scene, build = bpy.context.scene, builds.read(wall)
    for thing in build.objects:
        thing.delta_location = thing.delta_rotation_euler = (0.0, 0.0, 0.0)
        thing.delta_scale = (1.0, 1.0, 1.0)
    eye = camera("above", (0.2, -0.3, 0.2), (1.0, 0.0, 0.55))
    lens = lenses.lens(build, scene, eye)
    view = Sight(build.bricks).view(1, lens)
    back = np.linalg.inv(builds.into_build(build))
    graph, hit = bpy.context.evaluated_depsgraph_get(), {}
    grid = Grid.over((0.0, 0.0, lens.width_px, lens.height_px), 9216, 1.0).places.reshape(-1, 2)
    start, end = (lens.place(grid, np.full(len(grid), depth)) for depth in (lens.near_mm, lens.far_mm))
    for origin, way in zip(start @ back[:3, :3].T + back[:3, 3], (end - start) @ back[:3, :3].T, strict=True):
        found = scene.ray_cast(graph, Vector(origin), Vector(way).normalized())
        if found[0]:
            hit[found[4].name] = hit.get(found[4].name, 0) + 1
    ours = {build.bricks.names[n] for n in view.seen}
    assert ours >= hit.keys()
    assert len(ours - hit.keys()) <= 1  # these rays are farther apart
    assert "behind" not in ours
    assert len(ours) > 5
    often = np.bincount(view.brick, minlength=len(build.bricks)) / len(view.brick)
    shares = {name: often[n] for n, name in enumerate(build.bricks.names)}
    assert [shares[name] for name in hit] == pytest.approx(
        [count / sum(hit.values()) for count in hit.values()], abs=0.01
    )


def test_what_stands_in_front_hides_bricks_unless_it_is_seen_through_or_does_not_render(wall):
    scene = bpy.context.scene
    (close,) = [shot for shot in usecases.list_shots(scene) if shot.name == "close"]

    def seen() -> int:
        bpy.context.view_layer.update()
        return usecases.reads_as(wall, scene, [close])[0].frames[0].seen

    bpy.data.objects["near"].data.clip_start = 0.001
    free = seen()
    bpy.ops.mesh.primitive_plane_add(size=1.0, location=(0.06, -0.06, 0.02), rotation=(1.5707963, 0.0, 0.0))
    card = bpy.context.object
    assert free > seen() == 0
    card.location.x += 0.5  # its edge is before the middle of the picture
    assert free > seen() > 0
    card.hide_render = True
    assert seen() == free
    card.hide_render = False
    glass = bpy.data.materials.new("glass")
    compat.node_tree(glass).nodes["Principled BSDF"].inputs["Alpha"].default_value = 0.2
    card.data.materials.append(glass)
    assert seen() == free
    card.data.materials.clear()
    card.location.x -= 0.5
    card.keyframe_insert("location", frame=1)
    card.location.z += 5.0
    card.keyframe_insert("location", frame=60)
    scene.frame_set(1)
    assert [frame.seen > 0 for frame in usecases.reads_as(wall, scene, [close])[0].frames] == [True, True, True]
    assert usecases.reads_as(wall, scene, [close], frame=1)[0].frames[0].seen == 0


def test_bricks_beyond_the_clipping_and_corners_beside_the_picture_do_not_count(wall):
    scene, eye = bpy.context.scene, bpy.data.objects["near"]
    (close,) = [shot for shot in usecases.list_shots(scene) if shot.name == "close"]
    whole = usecases.reads_as(wall, scene, [close])[0].frames[0]
    eye.data.clip_end = 0.05
    assert usecases.reads_as(wall, scene, [close])[0].frames[0].seen == 0
    eye.data.clip_end = 100.0
    brick = wall.objects[5]
    brick.delta_rotation_euler.y += 0.2  # its far end goes far, and is out of the picture
    eye.data.lens = 2000.0
    eye.location = brick.location + Vector((0.005, -0.12, 0.003))
    near = usecases.reads_as(wall, scene, [close])[0].frames[0]
    build = builds.read(wall)
    corners_px = farthest(build.bricks, motion.measured(build))[5] * near.px_per_mm
    assert near.seen == 1 < whole.seen
    assert 1.0 < near.largest_px < 0.7 * corners_px


def test_measuring_changes_nothing_and_the_close_shot_reads_as_more(wall):
    scene = bpy.context.scene
    scene.frame_set(7)
    scene.camera = bpy.data.objects["near"]
    before = scenes.transforms(bpy.data.objects), set(scene.keys())
    wide, close = usecases.reads_as(wall, scene, usecases.list_shots(scene))
    assert (scenes.transforms(bpy.data.objects), set(scene.keys())) == before
    assert (scene.frame_current, scene.camera.name) == (7, "near")
    assert len(wide.frames) == 1  # a camera that stands still is looked through once
    far, near = wide.frames[0], close.frames[0]
    assert near.px_per_mm > 10.0 * far.px_per_mm
    assert near.median_px > 5.0 * far.median_px > 0.0
    assert near.rounding_px == pytest.approx(0.2 * near.px_per_mm)
    assert near.marks_px.keys() == {"dust", "scratches", "smudges"}
    assert near.texels_per_px["scratches"] == pytest.approx(512 / 40.0 / near.px_per_mm)


def test_a_moving_camera_is_looked_through_three_times(wall):
    eye = bpy.data.objects["far"]
    for frame, y in ((1, -1.2), (49, -0.3)):
        eye.location.y = y
        eye.keyframe_insert("location", frame=frame)
    bpy.context.scene.frame_set(1)
    told = usecases.reads_as(wall, bpy.context.scene, usecases.list_shots(bpy.context.scene)[:1])[0]
    assert [each.frame for each in told.frames] == [1, 25, 49]
    assert told.frames[0].median_px < told.frames[1].median_px < told.frames[2].median_px


def test_a_camera_that_something_else_moves_is_not_taken_for_still(wall):
    """One on an animated parent, one held by a constraint; the frame goes back to where it was."""
    scene, rig = bpy.context.scene, bpy.data.objects.new("rig", None)
    scene.collection.objects.link(rig)
    for frame, y in ((1, 0.0), (100, 0.05)):
        rig.location.y = y
        rig.keyframe_insert("location", frame=frame)
    bpy.data.objects["far"].parent = rig
    bpy.data.objects["near"].constraints.new("COPY_ROTATION").target = rig
    scene.frame_set(30)
    wide, close = usecases.reads_as(wall, scene, usecases.list_shots(scene))
    assert [each.frame for each in wide.frames] == [1, 25, 49]
    assert [each.frame for each in close.frames] == [50]  # looked at three times, the rig never turns
    assert scene.frame_current == 30


@pytest.mark.parametrize("share", [0.3, 0.8, 1.04])
def test_a_dialled_shot_reads_as_its_target_once_it_is_applied(wall, share):
    """The figure is measured again from where the bricks of the saved state stand."""
    scene = bpy.context.scene
    close = usecases.list_shots(scene)[1]
    target = share * usecases.reads_as(wall, scene, [close])[0].frames[0].median_px
    now, found = usecases.dial_to(wall, scene, close, target)
    assert found.met
    assert now.dials.looseness == found.dial
    usecases.find_shots(scene)
    usecases.dial_shots(scene, {("close", "looseness"): found.dial})
    usecases.apply_for_shot(wall, scene, "close", scenes.PRESET, usecases.Dials(seed=3))
    (alone,) = usecases.list_shots(scene)
    assert alone == replace(close, dials=INHERITED)
    assert usecases.reads_as(wall, scene, [alone])[0].frames[0].median_px == pytest.approx(target, rel=0.02)


def test_a_layer_of_a_shot_goes_on_beyond_a_full_amount(wall):
    """As the same dial in the panel does: twice 0.8 is a full amount and 1.6 times that."""
    preset = presets.changed(scenes.PRESET, {"wear.rub.amount": 0.8, "wear.fade.delta_e": 20.0}, "test")
    usecases.dial_shots(bpy.context.scene, {("close", layer): 2.0 for layer in ("rub", "fade", "smudges", "finish")})
    close = usecases.list_shots(bpy.context.scene)[1]
    own, dials = usecases.for_shot(close, preset, usecases.Dials(layers={"rub": 0.5, "dust": 1.5}))
    assert (own.wear.rub.amount, own.wear.fade.delta_e, own.wear.smudges.amount) == (1.0, 30.0, 1.0)
    assert dials.layers == pytest.approx({"rub": 0.8, "dust": 1.5, "fade": 40.0 / 30.0})
    usecases.apply_for_shot(wall, bpy.context.scene, "close", preset, usecases.Dials())
    assert bpy.context.scene["playworn_more_rub"] == pytest.approx(0.6)


def test_a_target_beyond_the_tolerances_gives_the_most_they_allow(wall):
    scene = bpy.context.scene
    wide = usecases.list_shots(scene)[0]
    now, found = usecases.dial_to(wall, scene, wide, 50.0)
    assert (found.met, now.dials.looseness) == (False, found.dial)
    loosest = replace(wide, dials=replace(wide.dials, looseness=2.0))
    most = np.median(usecases.reads_as(wall, scene, [loosest])[0].motions_px)
    assert 0.98 * most <= found.px <= most + 1e-9


def test_rounding_is_dialled_to_a_highlight(wall):
    scene = bpy.context.scene
    close = usecases.list_shots(scene)[1]
    reads = usecases.reads_as(wall, scene, [close])[0].frames[0].rounding_px
    now, found = usecases.round_to(wall, scene, close, 1.5 * reads)
    assert (found.met, now.dials.rounding) == (True, pytest.approx(1.5))
    assert usecases.round_to(wall, scene, close, 0.5 * reads)[0] == close  # more than asked for stays
    assert not usecases.round_to(wall, scene, close, 9.0 * reads)[1].met


def test_a_shot_of_another_seed_moves_other_ways_and_the_build_stays(wall):
    scene = bpy.context.scene
    before = motion.measured(builds.read(wall)).shift
    close = usecases.list_shots(scene)[1]
    other = replace(close, dials=ShotDials(seed=1))
    told, again = (usecases.reads_as(wall, scene, [each])[0].motions_px for each in (close, other))
    assert not np.array_equal(told, again)
    assert np.array_equal(motion.measured(builds.read(wall)).shift, before)


def test_a_camera_that_is_gone_is_told_in_one_sentence(wall):
    scene = bpy.context.scene
    usecases.find_shots(scene)
    bpy.data.objects.remove(bpy.data.objects["near"])
    with pytest.raises(ShotProblem, match='"near" of the shot "close" is not in the scene'):
        usecases.reads_as(wall, scene, usecases.list_shots(scene))


@pytest.fixture
def typed(wall, tmp_path, capfd, monkeypatch):
    """The wall in a file, and commands typed beside it: exit code, standard output, standard error."""
    monkeypatch.chdir(tmp_path)
    usecases.save(tmp_path / "wall.blend")

    def run(*words) -> tuple[int, str, str]:
        capfd.readouterr()
        code = cli.main([str(word) for word in words])
        return code, *capfd.readouterr()

    return run


def test_the_command_tells_every_shot_as_table_and_as_json(typed, tmp_path):
    code, out, _ = typed("shots", "wall.blend", "--chart", "chart.svg")
    assert code == 0
    assert "wide" in out
    assert "median px" in out
    assert "close" in (tmp_path / "chart.svg").read_text("utf-8")
    code, out, _ = typed("shots", "wall.blend", "--json")
    told = json.loads(out)["shots"]
    assert [(each["name"], each["camera"], each["first"], each["last"]) for each in told] == [
        ("wide", "far", 1, 49),
        ("close", "near", 50, 100),
    ]
    assert told[0]["reads_as"][0].keys() >= {"frame", "in_frame", "median_px", "p90_px", "largest_px", "rounding_px"}


def test_dials_set_by_command_are_in_the_new_file_and_apply_takes_them(typed):
    assert typed("shots", "wall.blend", "--set", "close.looseness=0.5", "--out", "set.blend")[0] == 0
    preset = "well-loved"
    code, out, _ = typed("apply", "set.blend", "--preset", preset, "--shot", "close", "--out", "sh.blend", "--json")
    assert (code, json.loads(out)["looseness"]) == (0, 0.5)
    _, out, _ = typed("shots", "sh.blend", "--json")
    (alone,) = json.loads(out)["shots"]
    assert (alone["name"], alone["dials"]["looseness"]) == ("close", 1.0)


def test_a_target_by_command(typed):
    code, out, _ = typed("shots", "wall.blend", "--shot", "close", "--target", "0.5", "--out", "to.blend", "--json")
    told = json.loads(out)
    (target,) = told["targets"]
    assert (code, target["met"]) == (0, True)
    assert told["shots"][0]["reads_as"][0]["median_px"] == pytest.approx(0.5, rel=0.02)
    assert usecases.list_shots(bpy.context.scene)[1].dials.looseness == pytest.approx(target["value"], abs=1e-6)


def test_a_target_that_is_not_met_ends_with_1_and_says_so(typed):
    words = ["shots", "wall.blend", "--shot", "wide", "--target", "50", "--out", "to.blend", "--json"]
    code, out, err = typed(*words)
    assert (code, json.loads(out)["targets"][0]["met"]) == (1, False)
    assert err.splitlines()[-1] == "the target is not met in wide"


@pytest.mark.parametrize(
    "words",
    [
        ["shots", "wall.blend", "--shot", "none"],
        ["shots", "wall.blend", "--set", "close.grime=1", "--out", "no.blend"],
        ["shots", "wall.blend", "--set", "close.dust=3", "--out", "no.blend"],
        ["shots", "wall.blend", "--target", "-1", "--out", "no.blend"],
        ["shots", "wall.blend", "--forget"],
        ["apply", "wall.blend", "--preset", "well-loved", "--shot", "none", "--out", "no.blend"],
    ],
)
def test_a_wrong_word_is_one_sentence_and_no_file(typed, tmp_path, words):
    code, out, err = typed(*words)
    assert (code, out, err.count("\n")) == (1, "", 1)
    assert not (tmp_path / "no.blend").exists()


def test_one_of_several_builds_is_looked_at_by_name(typed, wall, tmp_path):
    """What `reads_as` says of the very build is the reference."""
    other = scenes.wall(courses=2)
    other.name = "quay"
    usecases.apply(other, scenes.PRESET, usecases.Dials(seed=3, looseness=0.5))
    loft = bpy.data.collections.new("loft")
    bpy.data.scenes.new("attic").collection.children.link(loft)
    scenes.put(loft, other.objects[0].data, "stray")
    usecases.save(tmp_path / "several.blend")
    shots, expected = usecases.list_shots(bpy.context.scene), {}
    for build in (wall, other):
        expected[build.name] = [each.frames[0].median_px for each in usecases.reads_as(build, bpy.context.scene, shots)]
    assert expected[wall.name] != expected["quay"]
    for name, medians in expected.items():
        told = json.loads(typed("shots", "several.blend", "--build", name, "--json")[1])
        reads = [each["reads_as"][0]["median_px"] for each in told["shots"]]
        assert (told["build"], reads) == (name, pytest.approx(medians, abs=1e-6))
    for name, words in (("loft", 'is not in the scene "Scene"'), ("pier", "there is no build")):
        code, out, err = typed("shots", "several.blend", "--build", name, "--set", "close.dust=0", "--out", "no.blend")
        assert (code, out, words in err, (tmp_path / "no.blend").exists()) == (1, "", True, False)
