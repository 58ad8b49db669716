"""Passes on view layers: put on and taken off without a trace, an artist's own kept; the motion that they tell."""

from itertools import product

import bpy
import pytest
from mathutils import Matrix, Vector

from addon import raw, usecases
from addon.core.errors import ShotProblem
from addon.core.wear.names import MOTION, PASSES
from addon.nodes import builder, insertion
from addon.scene.shots import passes as of_layers
from tests.blender import scenes
from tests.blender.shots.walls import SHOTS, everything

DIALS = usecases.Dials(seed=7, looseness=1.5)


@pytest.fixture
def wall(extension) -> bpy.types.Collection:
    return scenes.wall()


def layers() -> dict:
    """All that an artist can see of the view layers: switches, AOVs in their order, the active one, properties."""
    told = {}
    for scene in bpy.data.scenes:
        for layer in scene.view_layers:
            plain = (p.identifier for p in layer.bl_rna.properties if p.type in ("BOOLEAN", "INT", "ENUM", "STRING"))
            told[scene.name, layer.name] = (
                {name: getattr(layer, name) for name in plain},
                [(aov.name, aov.type) for aov in layer.aovs],
                {key: raw.plain(value) for key, value in layer.items()},
            )
    return told


def output() -> tuple:
    """The output and the compositor of the scene."""
    render = bpy.context.scene.render
    form = {p.identifier: getattr(render.image_settings, p.identifier) for p in render.image_settings.bl_rna.properties
            if p.type in ("BOOLEAN", "INT", "ENUM", "STRING")}  # fmt: skip
    return form, render.filepath, render.use_compositing, len(bpy.data.node_groups)


def with_the_artists_own() -> bpy.types.Scene:
    scene = bpy.context.scene
    first = scene.view_layers[0]
    first.use_pass_normal = first.use_pass_mist = True
    for name, kind in (("skin", "COLOR"), ("dust", "VALUE")):
        made = first.aovs.add()
        made.name, made.type = name, kind
    first.active_aov_index = 1
    scene.view_layers.new("props")
    scene.view_layers.new("unused").use = False
    return scene


def test_they_come_off_without_a_trace(wall):
    scene = with_the_artists_own()
    usecases.apply(wall, scenes.PRESET, DIALS)
    before, around, there = layers(), output(), everything()
    told = usecases.put_passes_on(wall, scene)
    assert told.layers == (scene.view_layers[0].name, "props")
    assert (told.passes, told.warning) == (PASSES, "")
    first, props, unused = scene.view_layers
    assert [aov.name for aov in first.aovs] == ["skin", "dust", *PASSES]
    assert first.active_aov.name == "dust"
    assert all(aov.is_valid for layer in (first, props) for aov in layer.aovs)
    assert first.use_pass_mist
    assert not props.use_pass_mist
    assert props.use_pass_cryptomatte_object
    assert props.use_pass_cryptomatte_material
    assert not unused.aovs
    assert output() == around
    again = layers()
    usecases.put_passes_on(wall, scene)
    assert layers() == again
    assert usecases.take_passes_off(scene) == 2
    assert (layers(), output(), everything()) == (before, around, there)
    assert usecases.take_passes_off(scene) == 0


@pytest.mark.parametrize("clear", [usecases.clear, lambda _: usecases.clear_everything()], ids=["clear", "everything"])
def test_clear_takes_them_off(wall, clear):
    scene = with_the_artists_own()
    before, there = layers(), everything()
    usecases.apply(wall, scenes.PRESET, DIALS)
    usecases.put_passes_on(wall, scene)
    clear(wall)
    assert layers() == before
    assert everything() == there


def test_what_the_artist_did_meanwhile_stays(wall):
    scene = with_the_artists_own()
    usecases.apply(wall, scenes.PRESET, DIALS)
    usecases.put_passes_on(wall, scene)
    first = scene.view_layers[0]
    first.name = "beauty"
    first.aovs[PASSES[0]].name = "my scratches"
    first.use_pass_uv = True
    first.active_aov_index = 0
    usecases.take_passes_off(scene)
    assert [aov.name for aov in first.aovs] == ["skin", "dust", "my scratches"]
    assert (first.use_pass_normal, first.use_pass_uv, first.use_pass_cryptomatte_object) == (True, True, False)
    assert first.active_aov.name == "skin"


def test_an_aov_of_the_artists_with_such_a_name_is_refused(wall):
    scene = with_the_artists_own()
    usecases.apply(wall, scenes.PRESET, DIALS)
    scene.view_layers["props"].aovs.add().name = "playworn_dust"
    before = layers()
    with pytest.raises(ShotProblem, match='"props" has an AOV "playworn_dust" of your own'):
        usecases.put_passes_on(wall, scene)
    assert layers() == before


def test_a_mistake_in_between_leaves_no_pass(wall, monkeypatch):
    scene = with_the_artists_own()
    before = layers()
    monkeypatch.setattr(of_layers.json, "dumps", lambda _: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        usecases.put_passes_on(wall, scene)
    assert layers() == before


def test_a_scene_that_renders_no_layer_is_told(wall):
    scene = bpy.context.scene
    scene.view_layers[0].use = False
    with pytest.raises(ShotProblem, match="no view layer"):
        usecases.put_passes_on(wall, scene)


def test_wear_of_an_older_version_is_told(wall):
    usecases.apply(wall, scenes.PRESET, DIALS)
    first = builder.group("wear", 1, (), (), lambda b: None)
    (node,) = insertion.ours(bpy.data.materials["red"].node_tree)
    node.node_tree = first
    assert "red has wear of an older version" in usecases.put_passes_on(wall, bpy.context.scene).warning


def test_the_shaders_of_a_material_share_in_the_passes(wall):
    """A render adds up what each hands out: two shaders, and one in a group used twice, come to the mean of four."""
    tree = bpy.data.materials["red"].node_tree
    tree.nodes.new("ShaderNodeBsdfDiffuse")
    inner = bpy.data.node_groups.new("inner", "ShaderNodeTree")
    inner.nodes.new("ShaderNodeBsdfPrincipled")
    for _ in range(2):
        tree.nodes.new("ShaderNodeGroup").node_tree = inner
    usecases.apply(wall, scenes.PRESET, DIALS)
    shares = [builder.group_socket(n, "INPUT", "Share").default_value for t in (tree, inner) for n in insertion.ours(t)]
    assert shares == [0.25, 0.25, 0.25]


def poses() -> dict[str, Matrix]:
    bpy.context.view_layer.update()
    return {thing.name: thing.matrix_world.copy() for thing in bpy.data.collections["build"].objects}


def way_mm(before: Matrix, after: Matrix, low: Vector, high: Vector) -> float:
    """How far the farthest corner of a box in a brick goes, by Blender's own matrices, the clearance left out."""
    middle = 0.5 * (low + high)
    shift = after @ middle - before @ middle
    turn = after.to_3x3().normalized() @ before.to_3x3().normalized().inverted()
    arms = [before.to_3x3() @ (Vector(pick) - middle) for pick in product(*zip(low, high, strict=True))]
    return 1000.0 * max((shift + turn @ arm - arm).length for arm in arms)


def told(name: str) -> float:
    """What the pass shows of a brick at this frame, once Blender has looked at the animation."""
    graph = bpy.context.evaluated_depsgraph_get()
    return bpy.data.objects[name].evaluated_get(graph)[MOTION]


def as_it_is(rest: dict[str, Matrix]) -> None:
    now = poses()
    box = Vector((-0.016, -0.008, 0.0)), Vector((0.016, 0.008, 0.0096))
    mesh = bpy.data.objects["part.0005"].data
    low = Vector([min(v.co[i] for v in mesh.vertices) for i in range(3)])
    box = low, low + (box[1] - box[0])
    for name in ("part.0005", "part.0014"):
        assert told(name) == pytest.approx(way_mm(rest[name], now[name], *box), abs=2e-3), name
    assert max(told(name) for name in now) > 0.03


def test_the_motion_is_that_of_the_bricks_at_every_dial_and_shot(wall):
    rest = poses()
    usecases.apply(wall, scenes.PRESET, DIALS)
    assert MOTION not in wall.objects[0]
    usecases.put_passes_on(wall, bpy.context.scene)
    as_it_is(rest)
    usecases.dial(wall, scenes.PRESET, usecases.Dials(seed=8))
    as_it_is(rest)
    usecases.apply(wall, scenes.PRESET, DIALS)
    as_it_is(rest)
    applied = {thing.name: thing[MOTION] for thing in wall.objects}
    usecases.on_timeline(wall, SHOTS)
    for frame in (5, 20, 40, 60, 80):
        bpy.context.scene.frame_set(frame)
        as_it_is(rest)
    usecases.off_timeline(wall)
    assert {thing.name: thing[MOTION] for thing in wall.objects} == pytest.approx(applied, abs=1e-6)


def test_put_on_over_keys_the_motion_has_keys_and_goes_with_the_passes(wall):
    rest = poses()
    usecases.apply(wall, scenes.PRESET, DIALS)
    usecases.on_timeline(wall, SHOTS)
    before = everything()
    usecases.put_passes_on(wall, bpy.context.scene)
    for frame in (20, 60):
        bpy.context.scene.frame_set(frame)
        as_it_is(rest)
    bpy.context.scene.frame_set(1)
    usecases.take_passes_off(bpy.context.scene)
    assert everything() == before
