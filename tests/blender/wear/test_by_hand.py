"""What an artist says of layers, materials and bricks: what it makes of a picture, and that it stays."""

from dataclasses import replace

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.wear.layers import LAYERS
from addon.core.wear.names import AMOUNT, MASK, OWN_MORE
from addon.core.wear.quality import QUALITIES
from addon.nodes import builder, insertion
from addon.nodes.attach import attach
from addon.scene import files
from addon.scene.build.build import read
from tests.blender import scenes
from tests.blender.wear import node_text, torture
from tests.blender.wear.renders import glossy, pictures, render, stage
from tests.blender.wear.test_layers import ALONE

PAINTED = "where the cat slept"


@pytest.fixture
def seen(tmp_path):
    """The picture of a brick with one layer alone, the layer at a share of its strength."""
    worn = glossy()
    stage(worn)
    drawn = pictures()

    def look(layer, share=1.0):
        record, strength = getattr(ALONE[layer], layer), LAYERS[layer].strength
        wear = replace(ALONE[layer], **{layer: replace(record, **{strength: share * getattr(record, strength)})})
        attach([worn], wear, drawn, 0.001)
        return render(tmp_path, 24, 4)

    return look


def plastic():
    return bpy.data.materials["plastic"].node_tree


def theirs(tree, name):
    """The socket of our node in a tree."""
    (node,) = insertion.ours(tree)
    return builder.group_socket(node, "INPUT", name)


@pytest.mark.shared_out
@pytest.mark.parametrize("layer", MASK)
def test_a_mask_of_nothing_is_clean_and_one_of_all_is_as_without(layer, seen):
    clean, worn = seen(layer, 0.0), seen(layer)
    assert not np.array_equal(clean, worn)
    for value, wanted in ((0.0, clean), (1.0, worn), (-3.0, clean), (7.0, worn)):  # an artist may link anything
        theirs(plastic(), MASK[layer]).default_value = value
        assert np.array_equal(seen(layer), wanted)


@pytest.mark.shared_out
@pytest.mark.parametrize("layer", MASK)
def test_a_new_brick_or_material_has_nothing_of_what_use_brings_and_all_that_the_mould_gave(layer, seen):
    brick = bpy.context.scene.objects["cube"]
    clean, worn = seen(layer, 0.0), seen(layer)
    new = clean if layer not in ("tint", "finish") else worn
    for amount, wanted in ((0.0, new), (1.0, worn)):
        theirs(plastic(), AMOUNT).default_value = amount
        assert np.array_equal(seen(layer), wanted)
    for more, wanted in ((-1.0, new), (0.0, worn), (-9.0, new)):
        brick[OWN_MORE] = more
        brick.update_tag()
        assert np.array_equal(seen(layer), wanted)


@pytest.mark.shared_out
@pytest.mark.parametrize("layer", ["scratches", "smudges", "dust", "rub", "fade"])
def test_half_an_amount_is_half_the_strength_on_bricks_and_materials_alike(layer, seen):
    brick = bpy.context.scene.objects["cube"]
    half = seen(layer, 0.5)
    seen(layer)
    theirs(plastic(), AMOUNT).default_value = 0.5
    # What ages a colour is solved from the strength, which is no straight line: only the amounts are alike there.
    of_material = seen(layer)
    if layer != "fade":
        np.testing.assert_allclose(of_material, half, atol=2e-5)
    theirs(plastic(), AMOUNT).default_value, brick[OWN_MORE] = 1.0, -0.5
    brick.update_tag()
    np.testing.assert_allclose(seen(layer), of_material, atol=2e-5)


def test_a_painted_mask_is_clean_where_it_is_black(tmp_path):
    """On a plate of vertex colours, black on the left and white on the right."""
    worn = glossy()
    brick = stage(worn)
    layer = brick.data.color_attributes.new(PAINTED, "FLOAT_COLOR", "POINT")
    for point, value in zip(brick.data.vertices, layer.data, strict=True):
        value.color = (*[float(point.co.x > 0.0)] * 3, 1.0)
    tree, drawn = worn.node_tree, pictures()
    attach(
        [worn], replace(ALONE["scratches"], scratches=replace(ALONE["scratches"].scratches, amount=0.0)), drawn, 0.001
    )
    clean = render(tmp_path, 32, 4)
    attach([worn], ALONE["scratches"], drawn, 0.001)
    full = render(tmp_path, 32, 4)
    step = tree.nodes.new("ShaderNodeMath")
    step.operation, step.inputs[1].default_value = "GREATER_THAN", 0.5
    tree.links.new(painted(tree).outputs["Fac"], step.inputs[0])
    tree.links.new(step.outputs[0], theirs(tree, MASK["scratches"]))
    masked = render(tmp_path, 32, 4)
    as_clean, as_full = ((masked == other).all(axis=2) for other in (clean, full))
    differ = (clean != full).any(axis=2)
    assert (as_clean & differ).sum() > 20
    assert (as_full & differ).sum() > 20
    assert ((as_clean | as_full) | ~differ).mean() > 0.9  # the rest lies on the line between the two


def painted(tree):
    node = tree.nodes.new("ShaderNodeAttribute")
    node.name = node.attribute_name = PAINTED
    return node


@pytest.fixture
def room(extension, export, textures):
    """A workshop with a look on it, masks in all of its materials and amounts on one of them and on two bricks."""
    build = usecases.bring_in(export[0])
    texts = {material.name: node_text.text_of(material.node_tree) for material in bpy.data.materials}
    usecases.apply(build, scenes.PRESET, usecases.Dials(textures=textures))
    for material in bpy.data.materials:
        node = painted(material.node_tree)
        for layer in MASK:
            material.node_tree.links.new(node.outputs["Fac"], theirs(material.node_tree, MASK[layer]))
    things = read(build).objects
    usecases.give_amount(build, things[:1], 0.0)
    usecases.give_amount(build, things[1:2], 0.3)
    usecases.give_amount_to_materials(build, [things[2].material_slots[0].material], 0.5)
    return build, texts


def kept(build):
    """What the artist said, as it stands."""
    table = {}
    for material in bpy.data.materials:
        tree = material.node_tree
        table[material.name] = (
            theirs(tree, AMOUNT).default_value,
            [
                (wire.to_socket.name, wire.from_node.name, wire.from_socket.name, wire.is_muted)
                for wire in tree.links
                if wire.to_node in insertion.ours(tree) and wire.to_socket.name in MASK.values()
            ],
        )
    return table, {thing.name: thing[OWN_MORE] for thing in build.all_objects if OWN_MORE in thing}


def applied(**dials):
    return lambda build, textures: usecases.apply(build, scenes.PRESET, usecases.Dials(textures=textures, **dials))


def another_preset(build, textures):
    usecases.apply(build, usecases.find_preset("fresh"), usecases.Dials(textures=textures))


def dialled(build, textures):
    usecases.dial(build, scenes.PRESET, usecases.Dials(seed=4, looseness=1.7, textures=textures))
    usecases.dial_wear(build, scenes.PRESET, usecases.Dials(seed=4, wear=0.4, textures=textures))


def saved(build, textures):
    path = textures / "kept.blend"
    usecases.save(path)
    return usecases.open_build(path, build.name)


def on_timeline(build, _textures):
    shots = [usecases.OnFrame(name, frame, usecases.Dials(seed=frame)) for name, frame in (("one", 1), ("two", 30))]
    usecases.on_timeline(build, shots)
    bpy.context.scene.frame_set(30)
    usecases.off_timeline(build)


STEPS = (
    applied(),
    *(applied(quality=name) for name in QUALITIES),
    applied(rounding="geometry"),
    applied(rounding="geometry", quality="draft"),
    another_preset,
    dialled,
    on_timeline,
    saved,
    applied(),
)


@pytest.mark.shared_out
def test_what_the_artist_said_stays_through_everything(room, textures):
    build, texts = room
    said = kept(build)
    assert all(len(links) == len(MASK) for _, links in said[0].values())
    assert sorted(amount for amount, _ in said[0].values())[:2] == [0.5, 1.0]
    assert sorted(said[1].values()) == pytest.approx([-1.0, -0.7])
    for step in STEPS:
        build = step(build, textures) if step is saved else (step(build, textures) and build) or build
        assert kept(build) == said
    told = usecases.inspect(build).by_hand
    assert told.startswith("1 brick new; 1 brick at an amount of its own; amounts on ")
    assert all(f"{layer} ({len(said[0])} materials)" in told for layer in MASK)
    usecases.clear(build)
    assert {thing.name: thing[OWN_MORE] for thing in build.all_objects if OWN_MORE in thing} == said[1]
    for material in bpy.data.materials:
        node = material.node_tree.nodes[PAINTED]
        assert node.attribute_name == PAINTED
        material.node_tree.nodes.remove(node)
    assert {material.name: node_text.text_of(material.node_tree) for material in bpy.data.materials} == texts
    usecases.clear_everything()
    assert not [thing for thing in bpy.data.objects if OWN_MORE in thing]


@pytest.mark.shared_out
def test_an_update_keeps_it_too(room, textures, export):
    build, _ = room
    said = kept(build)
    usecases.update(build, export[1])
    found = kept(build)
    assert {name: found[0][name] for name in said[0]} == said[0]
    assert found[1] == said[1]


@pytest.mark.shared_out
def test_applying_twice_is_as_once(room, textures):
    build, _ = room
    applied()(build, textures)
    once = {one.name: sorted(node_text.text_of(one.node_tree).splitlines()) for one in bpy.data.materials}
    applied()(build, textures)
    assert {one.name: sorted(node_text.text_of(one.node_tree).splitlines()) for one in bpy.data.materials} == once


@pytest.mark.shared_out
def test_a_job_that_fails_leaves_it(room, textures, monkeypatch):
    build, _ = room
    said = kept(build)
    monkeypatch.setattr(usecases.wear.look, "_remember", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        applied(quality="draft")(build, textures)
    assert kept(build) == said


def test_each_shader_of_a_material_keeps_its_own_mask():
    """A coated shader beside one without a coat, mixed."""
    made, tree = torture.material("two")
    coated, plain = tree.shader("Coated", **{"Coat Weight": 0.7}), tree.shader("Plain")
    mix = tree.node("MixShader")
    tree.link(coated.outputs[0], mix.inputs[1])
    tree.link(plain.outputs[0], mix.inputs[2])
    tree.surface(mix.outputs[0])
    drawn = pictures()
    attach([made], scenes.PRESET.wear, drawn, 0.001)
    for n, entry in enumerate(("Base Color", "Coat Roughness")):
        builder.group_socket(_before(tree.tree, coated, entry), "INPUT", MASK["dust"]).default_value = 0.1 + n
    source = tree.node("Value", "Mine")
    node = _before(tree.tree, plain, "Base Color")
    tree.link(source.outputs[0], builder.group_socket(node, "INPUT", MASK["rub"]), muted=True)
    between = tree.node("Gamma", "Between")  # put behind ours: it still leads to the same shader
    tree.link(node.outputs["Base Color"], between.inputs["Color"])
    tree.link(between.outputs["Color"], plain.inputs["Base Color"])
    plain.name = "Renamed"
    for quality in (QUALITIES["draft"], QUALITIES["close-up"]):
        attach([made], scenes.PRESET.wear, drawn, 0.001, quality)
        values = [_before(tree.tree, coated, each) for each in ("Base Color", "Coat Roughness")]
        masks = [builder.group_socket(each, "INPUT", MASK["dust"]).default_value for each in values]
        assert masks == pytest.approx([0.1, 1.1])
        (wire,) = [each for each in tree.tree.links if each.from_node == source]
        assert wire.is_muted
        assert wire.to_node == _before(tree.tree, plain, "Roughness")
        assert wire.to_socket.name == MASK["rub"]


def _before(tree, shader, entry):
    return next(wire.from_node for wire in tree.links if wire.to_node == shader and wire.to_socket.identifier == entry)


def test_amounts_that_cannot_be_are_refused_and_nothing_is_changed(room):
    build, _ = room
    said = kept(build)
    camera = bpy.data.objects.new("camera", None)
    other = bpy.data.materials.new("other")
    for give, wanted in (
        (lambda: usecases.give_amount(build, read(build).objects[:1], 2.5), "from 0 to 2"),
        (lambda: usecases.give_amount(build, read(build).objects[:1], float("nan")), "from 0 to 2"),
        (lambda: usecases.give_amount(build, [camera], 0.5), "no brick"),
        (lambda: usecases.give_amount_to_materials(build, [other], 0.5), "apply a preset first"),
    ):
        with pytest.raises(Exception, match=wanted):
            give()
    bpy.data.materials.remove(other)
    assert kept(build) == said


def test_a_vertex_group_reaches_the_rounded_mesh(extension, textures):
    """Blender keeps a group's name with the mesh: without it a mask by that name reads nothing."""
    files.new()
    build = scenes.wall(1, 2)
    thing = bpy.data.objects["part.0000"]
    thing.vertex_groups.new(name=PAINTED).add(range(len(thing.data.vertices)), 0.25, "REPLACE")
    applied(rounding="geometry")(build, textures)
    assert thing.data.get("playworn_imprint") is not None
    assert thing.vertex_groups.keys() == [PAINTED]
    assert {round(each.weight, 6) for point in thing.data.vertices for each in point.groups} == {0.25}
    usecases.clear(build)
    assert thing.vertex_groups.keys() == [PAINTED]
