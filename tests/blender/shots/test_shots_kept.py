"""What becomes of shots: keys on the timeline of one file, and what a plate could not show of them."""

import json

import bpy
import numpy as np
import pytest
from PIL import Image
from scipy.ndimage import gaussian_filter

from addon import cli, usecases
from addon.core.shots.shot import Shot
from addon.core.wear.quality import GEOMETRY
from addon.scene.build.build import read
from addon.scene.shots import keys
from tests.blender import scenes
from tests.blender.shots.test_shots import camera, marker

DIALS = usecases.Dials(seed=3)


@pytest.fixture
def wall(extension) -> bpy.types.Collection:
    """A wall with a preset on it and two shots with dials of their own, from the frames 1 and 50."""
    made = scenes.wall()
    usecases.apply(made, scenes.PRESET, DIALS)
    scene = bpy.context.scene
    scene.frame_end = 100
    marker("wide", 1, camera("far", (0.06, -1.2, 0.02)))
    marker("close", 50, camera("near", (0.06, -0.2, 0.02), lens=85.0))
    usecases.dial_shots(scene, {("wide", "looseness"): 1.5, ("close", "looseness"): 0.5, ("close", "dust"): 0.0})
    return made


def stands(build: bpy.types.Collection) -> bytes:
    things = read(build).objects
    names = ("delta_location", "delta_rotation_euler", "delta_scale")
    return b"".join(np.array(getattr(thing, name), np.float32).tobytes() for thing in things for name in names)


@pytest.mark.parametrize("rounding", ["shading", GEOMETRY])
def test_on_the_timeline_each_shot_stands_as_its_dials_alone(wall, rounding):
    scene, shots = bpy.context.scene, usecases.list_shots(bpy.context.scene)
    dials = usecases.Dials(seed=3, rounding=rounding)
    alone = {}
    for shot in shots:
        _, own = usecases.for_shot(shot, scenes.PRESET, dials)
        usecases.apply(wall, scenes.PRESET, own)
        alone[shot.name] = stands(wall)
    usecases.apply(wall, scenes.PRESET, dials)
    applied = stands(wall)
    told = usecases.shots_on_timeline(wall, scene)
    assert told.shots == 2
    for frame, name in ((1, "wide"), (49, "wide"), (50, "close"), (100, "close")):
        scene.frame_set(frame)
        assert stands(wall) == alone[name]
    assert scene["playworn_more_dust"] == -1.0
    assert usecases.off_timeline(wall) == 2
    assert stands(wall) == applied
    assert "playworn_more_dust" not in scene


def test_what_shots_read_as_does_not_depend_on_their_keys(wall):
    scene = bpy.context.scene
    usecases.dial_shots(scene, {("wide", "looseness"): 1.0})  # as the build: measured where the bricks stand
    before = usecases.reads_as(wall, scene, usecases.list_shots(scene))
    usecases.shots_on_timeline(wall, scene)
    scene.frame_set(60)
    after = usecases.reads_as(wall, scene, usecases.list_shots(scene))
    for one, other in zip(before, after, strict=True):
        assert one.motions_px == pytest.approx(other.motions_px, rel=1e-3, abs=1e-4)


def test_a_rounding_of_its_own_is_told_and_not_keyed(wall):
    scene = bpy.context.scene
    usecases.dial_shots(scene, {("close", "rounding"): 1.5})
    told = usecases.shots_on_timeline(wall, scene)
    assert [each.object for each in told.skipped] == ["close"]
    assert "rounding" in told.skipped[0].reason


def test_of_shots_that_overlap_the_later_one_is_told_to_take_over(wall):
    scene = bpy.context.scene
    usecases.add_shot(scene, Shot("insert", "near", 40, 45))
    told = usecases.shots_on_timeline(wall, scene)
    assert [(each.object, each.reason.split(":")[0]) for each in told.skipped] == [
        ("wide", "goes on to frame 49, but insert takes over at 40")
    ]


def test_keys_of_an_older_file_are_told_where_they_move_bricks_under_an_open_shutter(wall):
    """They lay on the first frames themselves, in the middle of Blender's own shutter."""
    scene = bpy.context.scene
    usecases.shots_on_timeline(wall, scene)
    kept = [{name: value for name, value in shot.items() if name != keys.CUT} for shot in keys.shots_of(wall)]
    wall[keys.MARK] = json.dumps(kept)
    assert usecases.blur_at_cuts(wall, scene) == ""
    scene.render.use_motion_blur = True
    assert "on the timeline again" in usecases.blur_at_cuts(wall, scene)
    usecases.shots_on_timeline(wall, scene)
    assert usecases.blur_at_cuts(wall, scene) == ""
    scene.render.motion_blur_shutter = 1.2
    assert usecases.blur_at_cuts(wall, scene).startswith("The shutter is open for 1.2 frames")


@pytest.fixture
def typed(wall, tmp_path, capfd, monkeypatch):
    """Commands typed beside the wall in a file: exit code, standard output, standard error."""
    monkeypatch.chdir(tmp_path)
    usecases.save(tmp_path / "wall.blend")

    def run(*words) -> tuple[int, str, str]:
        capfd.readouterr()
        code = cli.main([str(word) for word in words])
        return code, *capfd.readouterr()

    return run


def test_the_timeline_by_command_on_and_off(typed, tmp_path):
    code, out, _ = typed("shots", "wall.blend", "--timeline", "on", "--out", "keyed.blend", "--json")
    assert code == 0
    assert json.loads(out)["timeline"]["shots"] == 2
    build = usecases.open_build(tmp_path / "keyed.blend")
    assert len(keys.shots_of(build)) == 2
    code, out, _ = typed("shots", "keyed.blend", "--timeline", "off", "--out", "bare.blend", "--json")
    assert json.loads(out)["timeline"] == {"shots_taken_off": 2}
    assert not keys.shots_of(usecases.open_build(tmp_path / "bare.blend"))
    code, _, error = typed("shots", "wall.blend", "--timeline", "on")
    assert (code, error.count("\n")) == (1, 1)


def plate(path, sigma_px: float) -> None:
    """Slanted squares, blurred by a Gaussian of known width, as 8-bit sRGB."""
    up, across = np.mgrid[0:540, 0:960] / 1.0
    turned = across * np.cos(0.15) + up * np.sin(0.15), up * np.cos(0.15) - across * np.sin(0.15)
    light = 0.2 + 0.5 * ((turned[0] // 90 + turned[1] // 90) % 2)
    light = gaussian_filter(light, sigma_px)
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)  # IEC 61966-2-1
    Image.fromarray(np.rint(255.0 * np.dstack([coded] * 3)).astype(np.uint8)).save(path)


def test_a_soft_plate_loses_the_fine_marks_and_a_sharp_one_less(typed, tmp_path):
    """The blur that the command tells is the one the plate was given."""
    found = {}
    for sigma in (1.0, 2.5):
        plate(tmp_path / "plate.png", sigma)
        code, out, _ = typed("shots", "wall.blend", "--plate", "plate.png", "--json")
        assert code == 0
        found[sigma] = json.loads(out)["plate"]
        assert found[sigma]["blur_px"] == pytest.approx(sigma, rel=0.06)
    soft = found[2.5]["lost"]
    assert any(words.startswith("wide: scratches of") for words in soft)
    assert any("rounded edges" in words for words in soft)
    lost = {sigma: {words.split(" of ")[0] for words in each["lost"]} for sigma, each in found.items()}
    assert lost[1.0] <= lost[2.5]
    Image.new("RGB", (640, 480), (90, 90, 90)).save(tmp_path / "plate.png")
    code, out, _ = typed("shots", "wall.blend", "--plate", "plate.png", "--json")
    told = json.loads(out)["plate"]
    assert "too few clean edges" in told["told"]
    assert "even ground" in told["grain"]  # all of it as bright as the plate gets
    noise = 140.0 + 6.0 * np.random.default_rng(1).standard_normal((480, 640, 3))
    Image.fromarray(np.rint(noise).astype(np.uint8)).save(tmp_path / "plate.png")
    code, out, _ = typed("shots", "wall.blend", "--plate", "plate.png", "--json")
    grain, coded = json.loads(out)["plate"]["grain"], 140.0 / 255.0
    slope = 2.4 / 1.055 * ((coded + 0.055) / 1.055) ** 1.4 / 255.0  # of IEC 61966-2-1
    assert grain["deviation"] == pytest.approx([6.0 * slope] * 3, rel=0.05)
    assert grain["size_px"] == 0.0
    code, _, error = typed("shots", "wall.blend", "--plate", "none.png")
    assert (code, error.count("\n")) == (1, 1)
