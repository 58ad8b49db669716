"""The jobs as a whole: what they put on a build, and that it comes off without a trace, also in another session."""

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.errors import BuildProblem, DialProblem, PlaywornError, PresetProblem, TextureProblem
from addon.demo.export import write_glb
from addon.scene.build import state
from addon.scene.build.builds import likeliest
from addon.scene.wear import stamps
from tests.blender import scenes
from tests.blender.scenes import PRESET
from tests.blender.wear.node_text import text_of_file

CHECKOUT = Path(__file__).resolve().parents[2]
OTHER = replace(
    PRESET,
    name="other",
    fit=replace(PRESET.fit, shift_mm=0.09, twist_deg=0.4, clearance_mm=0.03),
    wear=replace(PRESET.wear, rounding_mm=0.35),
)
DIALS = usecases.Dials(seed=7)
NAN = float("nan")


@pytest.fixture(autouse=True)
def registered(extension):
    """The record of the bricks' own deltas is a registered property."""


def raw(block: bpy.types.ID) -> dict:
    """The raw properties of a data-block, as plain values; the extension's registered ones are no part of them."""
    names = set(block.keys()) - {prop.identifier for prop in block.bl_rna.properties}
    return {name: plain(block[name]) for name in sorted(names)}


def plain(value):
    """A raw value as one that compares by what it holds."""
    kinds = (getattr(value, name, None) for name in ("to_list", "to_dict"))
    return next((made() for made in kinds if made), value)


def all_of_it() -> dict:
    """Everything a job may touch, bit for bit: channels, raw properties, node trees, which data-blocks there are."""
    return {
        "transforms": scenes.transforms(bpy.data.objects),
        "worlds": {thing.name: np.array(thing.matrix_world).tobytes() for thing in bpy.data.objects},
        "raw": {
            (kind, block.name): raw(block)
            for kind in ("scenes", "collections", "objects", "meshes", "materials")
            for block in getattr(bpy.data, kind)
        },
        "trees": text_of_file(),
        "names": {
            prop.identifier: sorted(block.name for block in getattr(bpy.data, prop.identifier))
            for prop in bpy.data.bl_rna.properties
            if prop.type == "COLLECTION"
        },
    }


def now() -> dict:
    bpy.context.view_layer.update()
    return all_of_it()


def differing(before: dict, after: dict) -> list[str]:
    return [part for part in before if before[part] != after[part]]


def placed(collection: bpy.types.Collection) -> dict[str, bytes]:
    return scenes.transforms(collection.all_objects)


@pytest.fixture(scope="module")
def lighthouse(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("export") / "lighthouse.glb"
    write_glb(path)
    return path


def test_the_whole_lighthouse_comes_back_bit_for_bit(lighthouse):
    build = usecases.open_build(lighthouse)
    before = now()
    applied = usecases.apply(build, PRESET, DIALS)
    worn = now()
    assert applied.bricks >= applied.moved > 600
    assert applied.skipped == ()
    assert {"transforms", "worlds", "raw", "trees"} <= set(differing(before, worn))
    cleared = usecases.clear(build)
    assert differing(before, now()) == []
    assert (cleared.bricks, cleared.materials) == (applied.bricks, applied.materials)


def test_what_an_artist_has_around_the_build_comes_back_too():
    build = scenes.wall()
    parent = scenes.put(bpy.context.scene.collection, None, "table", (0.3, 0.0, 0.1))
    for number, thing in enumerate(build.objects):
        thing["mine"] = number
        thing.delta_location.x = 0.01 * (number % 3)
        thing.rotation_mode = ("XYZ", "QUATERNION", "ZYX")[number % 3]
        thing.parent = parent if number % 2 else None
    bpy.data.materials["red"]["mine"] = "paint"
    bpy.context.scene["mine"] = 1.5
    before = now()
    usecases.apply(build, PRESET, DIALS)
    assert differing(before, now())
    usecases.clear(build)
    assert differing(before, now()) == []


def test_twice_is_once():
    build = scenes.wall()
    usecases.apply(build, PRESET, DIALS)
    once = now()
    usecases.apply(build, PRESET, DIALS)
    assert differing(once, now()) == []


def test_another_preset_over_it_is_that_preset_alone():
    build = scenes.wall()
    usecases.apply(build, OTHER, DIALS)
    alone = now()
    usecases.clear(build)
    usecases.apply(build, PRESET, DIALS)
    assert {"transforms", "trees"} <= set(differing(alone, now()))
    usecases.apply(build, OTHER, DIALS)
    assert differing(alone, now()) == []


def test_a_turned_dial_is_the_same_as_applying_anew():
    build = scenes.wall()
    turned = usecases.Dials(seed=3, looseness=0.4, wear=1.7)
    usecases.apply(build, PRESET, turned)
    anew = now()
    usecases.apply(build, PRESET, DIALS)
    told = usecases.dial(build, PRESET, turned)
    assert differing(anew, now()) == []
    assert told.moved > 0


def test_the_wear_dial_touches_the_scene_and_the_record_alone():
    build = scenes.wall()
    usecases.apply(build, PRESET, DIALS)
    before = now()
    usecases.dial_wear(build, PRESET, replace(DIALS, wear=0.5))
    assert differing(before, now()) == ["raw"]
    assert bpy.context.scene[stamps.WEAR] == 0.5
    usecases.apply(build, PRESET, DIALS)
    assert differing(before, now()) == []


def test_another_seed_is_another_hand():
    build = scenes.wall()
    usecases.apply(build, PRESET, DIALS)
    first = placed(build)
    usecases.apply(build, PRESET, replace(DIALS, seed=8))
    assert sum(bits != first[name] for name, bits in placed(build).items()) > len(first) / 2


def test_another_quality_takes_the_place_of_the_first_with_its_pictures():
    build = scenes.wall()
    widths = []
    for quality in ("standard", "close-up", "draft"):
        usecases.apply(build, PRESET, replace(DIALS, quality=quality))
        widths.append({image.size[0] for image in bpy.data.images})
    assert widths == [{512}, {2048}, {512}]


def test_names_order_and_selection_do_not_matter():
    build = scenes.wall()
    usecases.apply(build, PRESET, DIALS)
    names = [thing.name for thing in build.objects]
    first, seeds = placed(build), {thing.name: tuple(thing[stamps.SHARE]) for thing in build.objects}
    usecases.clear(build)
    new_names = {}
    for number, name in enumerate(reversed(names)):
        thing = bpy.data.objects[name]
        build.objects.unlink(thing)
        build.objects.link(thing)
        thing.name = new_names[name] = f"any name {number}"
        thing.select_set(bool(number % 2))
    usecases.apply(build, PRESET, DIALS)
    again = placed(build)
    assert {name: again[new_names[name]] for name in names} == first
    assert {name: tuple(bpy.data.objects[new_names[name]][stamps.SHARE]) for name in names} == seeds


IN_ANOTHER_SESSION = """
import os, sys
import bpy
sys.path.insert(0, sys.argv[2])
import addon
addon.register()
from pathlib import Path
from addon import usecases
build = usecases.open_build(Path(sys.argv[1]))
usecases.clear(build)
usecases.save(Path(sys.argv[3]))
sys.stdout.flush()
addon.unregister()
os._exit(0)
"""


@pytest.mark.shared_out
def test_cleared_in_another_session_it_is_exact_still(tmp_path):
    build = scenes.wall()
    for number, thing in enumerate(build.objects):
        thing.delta_rotation_euler.z = 0.1 * (number % 4)
    # A first time to disk and back, so that both sides of the comparison have been read from a file.
    usecases.save(tmp_path / "clean.blend")
    usecases.open_build(tmp_path / "clean.blend")
    before = now()
    usecases.apply(bpy.data.collections["build"], PRESET, DIALS)
    assert differing(before, now())
    usecases.save(tmp_path / "worn.blend")
    run = subprocess.run(
        [sys.executable, "-c", IN_ANOTHER_SESSION, tmp_path / "worn.blend", CHECKOUT, tmp_path / "cleared.blend"],
        capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    usecases.open_build(tmp_path / "cleared.blend")
    assert differing(before, now()) == []


def test_a_saved_build_tells_how_it_was_made(tmp_path):
    made = usecases.Dials(seed=11, looseness=0.7, wear=1.2)
    usecases.apply(scenes.wall(), PRESET, made)
    usecases.save(tmp_path / "worn.blend")
    build = usecases.open_build(tmp_path / "worn.blend")
    assert usecases.recall(build) == state.State(PRESET, 11, 0.7, 1.2, "")
    checked = usecases.check(build)
    assert (checked.preset, checked.seed, checked.looseness) == ("test", 11, 0.7)
    assert checked.moved > 0
    assert checked.bricks == len(build.objects)


def test_two_builds_in_one_scene_keep_out_of_each_others_way():
    first, second = scenes.wall(), scenes.wall(courses=3)
    blue = bpy.data.materials.new("blue")
    if blue.node_tree is None:
        blue.use_nodes = True
    for mesh in {thing.data for thing in second.objects}:
        mesh.materials[0] = blue
    for thing in second.objects:
        thing.location.y += 0.5
    before = now()
    usecases.apply(first, PRESET, DIALS)
    one_alone = now()
    usecases.apply(second, OTHER, replace(DIALS, seed=2))
    usecases.clear(second)
    assert differing(one_alone, now()) == []
    usecases.apply(second, OTHER, replace(DIALS, seed=2))
    usecases.clear(first)
    assert stamps.WEAR in bpy.context.scene  # the second still needs it
    assert state.is_marked(second)
    usecases.clear(second)
    assert stamps.WEAR not in bpy.context.scene
    assert differing(before, now()) == []


def test_an_artists_paint_in_between_survives():
    build = scenes.wall()
    tree = bpy.data.materials["red"].node_tree
    usecases.apply(build, PRESET, DIALS)
    shader = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    noise = tree.nodes.new("ShaderNodeTexNoise")
    tree.links.new(noise.outputs["Color"], shader.inputs["Base Color"])
    shader.inputs["Metallic"].default_value = 0.25
    usecases.apply(build, OTHER, DIALS)
    usecases.clear(build)
    assert [(wire.from_node, wire.to_socket.name) for wire in tree.links if wire.to_node == shader] == [
        (noise, "Base Color")
    ]
    assert shader.inputs["Metallic"].default_value == 0.25


def test_a_brick_put_in_between_is_fitted_and_cleared_like_the_rest():
    build = scenes.wall()
    usecases.apply(build, PRESET, DIALS)
    late = scenes.put(build, bpy.data.meshes["2x4"], "late", (0.032 * 5, 0.0, 0.0))
    usecases.apply(build, PRESET, DIALS)
    assert stamps.SHARE in late
    usecases.clear(build)
    assert raw(late) == {}
    assert not np.any(late.delta_location)


@pytest.mark.parametrize("bad", ["missing", "empty", "broken picture"])
def test_bad_textures_leave_the_scene_as_it_was(bad, tmp_path):
    folder = tmp_path / "textures"
    if bad != "missing":
        folder.mkdir()
    if bad == "broken picture":
        bpy.data.images.new("good", 8, 8).save(filepath=str(folder / "scratches.png"))
        bpy.data.images.remove(bpy.data.images["good"])
        (folder / "smudges.png").write_bytes(b"no picture")
    build = scenes.wall()
    before = now()
    with pytest.raises(TextureProblem) as caught:
        usecases.apply(build, PRESET, replace(DIALS, textures=folder))
    assert "\n" not in str(caught.value)
    assert differing(before, now()) == []

    usecases.apply(build, PRESET, DIALS)
    worn = now()
    with pytest.raises(TextureProblem):
        usecases.apply(build, OTHER, replace(DIALS, textures=folder))
    assert differing(worn, now()) == []


@pytest.mark.parametrize("dials", [{"looseness": NAN}, {"looseness": -0.1}, {"wear": NAN}, {"wear": 2.1}, {"seed": -1},
                                   {"looseness": float("inf")}, {"seed": 2**31}], ids=str)  # fmt: skip
def test_a_dial_past_its_ends_is_refused(dials):
    with pytest.raises(DialProblem, match="give a"):
        usecases.Dials(**dials)


def test_an_empty_build_and_one_without_a_preset_are_told():
    empty = scenes.collection("empty")
    scenes.put(empty, None, "no mesh")
    before = now()
    for job in (
        lambda: usecases.apply(empty, PRESET, DIALS),
        lambda: usecases.inspect(empty),
        lambda: usecases.check(empty),
        lambda: usecases.clear(empty),
    ):
        with pytest.raises(BuildProblem, match='"empty"'):
            job()
    assert differing(before, now()) == []


def test_a_build_made_by_a_newer_version_is_told_and_left():
    build = scenes.wall()
    usecases.apply(build, PRESET, DIALS)
    build[state.MARK] = json.dumps({**json.loads(build[state.MARK]), "format": state.FORMAT + 1})
    with pytest.raises(PresetProblem, match="newer"):
        usecases.check(build)


def test_stopped_by_its_user_at_any_step_the_scene_is_as_it_was_or_as_it_is_done():
    build = scenes.wall()
    before = now()
    usecases.apply(build, PRESET, DIALS)
    done = now()
    usecases.clear(build)

    class Stopped(PlaywornError):
        pass

    words = []
    usecases.apply(build, PRESET, DIALS, lambda _, said: words.append(said))
    usecases.clear(build)
    for step in words:

        def stop(_, said, at=step):
            if said == at:
                raise Stopped

        with pytest.raises(Stopped):
            usecases.apply(build, PRESET, DIALS, stop)
        now_it_is = now()
        assert not differing(before, now_it_is) or not differing(done, now_it_is), step


def test_the_likeliest_build_of_a_file():
    scene = bpy.context.scene
    whole = scenes.wall()
    for name in ("left", "right"):
        half = bpy.data.collections.new(name)
        whole.children.link(half)
        for thing in list(whole.objects)[: len(whole.objects) // 2 if name == "left" else None]:
            whole.objects.unlink(thing)
            half.objects.link(thing)
    outer = scenes.collection("set")
    scene.collection.children.unlink(whole)
    outer.children.link(whole)
    stage = scenes.collection("stage")
    scenes.put(stage, bpy.data.meshes["2x4"], "backdrop")
    outer.children.link(stage)
    assert likeliest(scene) == whole  # not the set around it, not a half of it
    usecases.apply(stage, PRESET, DIALS)
    assert likeliest(scene) == stage
