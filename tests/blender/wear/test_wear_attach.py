"""The wear enters every Principled node and leaves no trace."""

import bpy
import pytest

from addon.core.wear import fade, kinds, tint
from addon.core.wear.layers import PICTURES, Dust, Fade, Finish, Rub, Scratches, Smudges, Tint, Wear, sockets
from addon.core.wear.quality import CLOSE_UP, DRAFT, QUALITIES, STANDARD
from addon.core.wear.texture import Texture
from addon.nodes import builder, insertion
from addon.nodes.attach import attach, detach, is_attached
from tests.blender.wear.node_text import text_of_file
from tests.blender.wear.torture import Tree, material, mixed, muted, textured
from tests.core.wear.by_hand import BY_HAND, SOCKETS, WORN

WEAR = Wear(
    0.2, Scratches(0.5, 40.0, 3.0), Smudges(0.6, 60.0), Dust(0.4, 30.0), Rub(0.7), Tint(1.0), Fade(6.0), Finish(0.6)
)
LIGHT = Wear(0.1, Scratches(0.1, 30.0, 1.0), Smudges(0.2, 50.0), Dust(0.0, 30.0), Rub(0.1), Tint(0.5), Fade(1.0))
PASSED = ("Base Color", "Roughness", "Normal", "IOR")
_COSTLY = ("ShaderNodeAmbientOcclusion", "ShaderNodeBevel", "ShaderNodeBump")
GROUPS = ("coordinates", "light", "passes", "placement", "places", "rounding 12", "warp", "wear")
LAYERS = sorted([*BY_HAND, *GROUPS])  # groups are called as their layers
OF_PICTURES = ["swatches", "wear"]  # what a material whose colour comes from nodes needs besides


@pytest.fixture
def images():
    """Three pictures of the user's: they must still be there in the end."""
    return {kind: Texture(bpy.data.images.new(f"my {kind}", 8, 8)) for kind in PICTURES}


def constant():
    made, tree = material("constant")
    tree.surface(tree.shader().outputs[0])
    return made


def odd():
    made, tree = material("a colour into roughness, through a reroute, and a vector into the colour")
    shader = tree.shader()
    reroute = tree.tree.nodes.new("NodeReroute")
    tree.link(tree.node("RGB", "Colour").outputs[0], reroute.inputs[0])
    tree.link(reroute.outputs[0], shader.inputs["Roughness"])
    tree.link(tree.node("NewGeometry", "Place").outputs["Position"], shader.inputs["Base Color"])
    tree.surface(shader.outputs[0])
    return made


def nested():
    """Two materials around one group, itself around another, each with a Principled node."""
    inner = bpy.data.node_groups.new("inner", "ShaderNodeTree")
    outer = bpy.data.node_groups.new("outer", "ShaderNodeTree")
    for group in (inner, outer):
        group.interface.new_socket("Shader", in_out="OUTPUT", socket_type="NodeSocketShader")
        group.interface.new_socket("Plastic", in_out="INPUT", socket_type="NodeSocketColor")
        tree = Tree(group)
        shader = tree.shader()
        tree.link(tree.tree.nodes.new("NodeGroupInput").outputs[0], shader.inputs["Base Color"])
        shader = shader.outputs[0]
        if group is outer:
            deeper = tree.node("Group", "Deeper", node_tree=inner)
            add = tree.node("AddShader", "Add")
            tree.link(shader, add.inputs[0])
            tree.link(deeper.outputs[0], add.inputs[1])
            shader = add.outputs[0]
        tree.link(shader, tree.tree.nodes.new("NodeGroupOutput").inputs[0])
    made = []
    for name in ("around the group", "around it too"):
        one, tree = material(name)
        tree.surface(tree.node("Group", "Outer", node_tree=outer).outputs[0])
        made.append(one)
    return made


SHAPES = [constant, textured, mixed, muted, odd, nested]


def made_by(shape):
    made = shape()
    return made if isinstance(made, list) else [made]


def wear_nodes(tree):
    return [n for n in tree.nodes if n.bl_idname == "ShaderNodeGroup" and builder.stamp(n.node_tree) == "wear"]


def value(node, name):
    return builder.group_socket(node, "INPUT", name).default_value


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.__name__)
def test_in_and_out_leaves_the_file_as_it_was(shape, images):
    materials = made_by(shape)
    before = text_of_file()
    assert attach(materials, WEAR, images, 0.001) == ()
    assert all(is_attached(one) for one in materials)
    assert text_of_file() != before
    detach(materials)
    assert not any(is_attached(one) for one in materials)
    assert text_of_file() == before


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.__name__)
def test_every_principled_is_fed_by_one_wear_node_of_its_own(shape, images):
    materials = made_by(shape)
    attach(materials, WEAR, images, 0.001)
    trees = [one.node_tree for one in materials] + [g for g in bpy.data.node_groups if not builder.stamp(g)]
    for tree in trees:
        shaders = [n for n in tree.nodes if n.bl_idname == "ShaderNodeBsdfPrincipled"]
        wires = [w for w in tree.links if w.to_socket.name in PASSED]
        feeders = [{w.from_node for w in wires if w.to_node == shader} for shader in shaders]
        assert all(len(feeder) == 1 for feeder in feeders)
        assert sorted(n.name for f in feeders for n in f) == sorted(n.name for n in wear_nodes(tree))


@pytest.mark.shared_out
@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.__name__)
def test_twice_is_once_and_the_last_preset_counts(shape, images):
    materials = made_by(shape)
    attach(materials, WEAR, images, 0.001)
    once = text_of_file()
    attach(materials, LIGHT, images, 0.002)
    attach(materials, WEAR, images, 0.001)
    assert text_of_file() == once


def test_values_arrive_in_their_units(images):
    one = constant()
    attach([one], WORN, images, 0.004)
    (node,) = wear_nodes(one.node_tree)
    by_hand = {**SOCKETS, "Roughness": 0.137, "Scale": 0.004}
    assert {name: value(node, name) for name in by_hand} == pytest.approx(by_hand)
    for name in ("Lot spread", "Yellowing", "Rub whitening", "Rub finish", "Moulded roughness"):
        assert value(node, name) > 0.0, name


@pytest.mark.parametrize("quality", QUALITIES.values(), ids=lambda quality: quality.name)
def test_a_quality_takes_all_values_but_those_that_it_leaves_out(quality, images):
    one = constant()
    attach([one], WORN, images, 0.001, quality)
    (node,) = wear_nodes(one.node_tree)
    gone = set() if quality.fine else {"Scratch depth", "Warp", "Sink"}
    gone |= set() if quality.dust else {"Dust amount", "Dust size"}
    assert {name for name in SOCKETS if not builder.has_socket(node.node_tree, "INPUT", name)} == gone


def test_a_value_that_no_socket_takes_is_a_mistake_and_not_a_dead_layer(images, monkeypatch):
    one = constant()
    before = text_of_file()
    misspelt = {"Scratch amont" if name == "Scratch amount" else name: each for name, each in sockets(WEAR).items()}
    monkeypatch.setattr(insertion, "sockets", lambda _wear: misspelt)
    with pytest.raises(KeyError, match="Scratch amont"):
        attach([one], WEAR, images, 0.001)
    assert text_of_file() == before


def test_without_dust_and_inside_glass_its_picture_is_not_even_read(images):
    plastic, glass, cut_out = constant(), constant(), textured()
    glass.node_tree.nodes["Shader"].inputs["Transmission Weight"].default_value = 1.0
    cut_out.node_tree.links.new(
        cut_out.node_tree.nodes["Noise"].outputs[0], cut_out.node_tree.nodes["Shader"].inputs["Alpha"]
    )
    attach([plastic, glass, cut_out], WEAR, images, 0.001)
    groups = [node.node_tree for one in (plastic, glass, cut_out) for node in wear_nodes(one.node_tree)]
    assert [builder.has_socket(each, "INPUT", "Dust amount") for each in groups] == [True, False, True]
    attach([plastic, glass, cut_out], LIGHT, images, 0.001)
    assert images["dust"].image.users == 0
    without = [name for name in LAYERS + OF_PICTURES if name != "dust"]
    assert sorted(builder.stamp(g) for g in bpy.data.node_groups) == sorted(without)


@pytest.mark.parametrize(
    ("settings", "kind"),
    [
        ({}, kinds.OPAQUE),
        ({"Transmission Weight": 1.0}, kinds.TRANSPARENT),
        ({"Alpha": 0.4}, kinds.TRANSPARENT),
        ({"Metallic": 1.0}, kinds.METALLIC),
        ({"Roughness": 0.95}, kinds.RUBBER),
    ],
)
def test_each_kind_of_material_is_rubbed_in_its_own_way(settings, kind, images):
    one = constant()
    for name, setting in settings.items():
        one.node_tree.nodes["Shader"].inputs[name].default_value = setting
    attach([one, constant()], WEAR, images, 0.001)  # rubber is told beside what is none
    (node,) = wear_nodes(one.node_tree)
    wanted = [0.7, kinds.RUBBED[kind].whitening, kinds.RUBBED[kind].roughness]
    assert [value(node, n) for n in ("Rub amount", "Rub whitening", "Rub finish")] == pytest.approx(wanted)


def test_rounding_and_rub_share_one_bevel_node(images):
    attach([constant(), textured()], WEAR, images, 0.001)
    bevels = [node for group in bpy.data.node_groups for node in group.nodes if node.bl_idname == "ShaderNodeBevel"]
    assert len(bevels) == 1
    users = [n for g in bpy.data.node_groups for n in g.nodes if getattr(n, "node_tree", None) == bevels[0].id_data]
    assert len(users) == len({node.id_data for node in users}) == 2  # once in the wear of each


def test_a_draft_looks_at_no_edge_and_only_a_close_up_at_grooves_and_corners(images):
    one = constant()
    found = {}
    for quality in (STANDARD, DRAFT, CLOSE_UP):
        attach([one], WEAR, images, 0.001, quality)
        assert len(wear_nodes(one.node_tree)) == 1
        nodes = [node for group in bpy.data.node_groups for node in group.nodes]
        costly = [node for node in nodes if node.bl_idname in _COSTLY]
        found[quality.name] = sorted((node.bl_idname, getattr(node, "samples", 0)) for node in costly)
    assert found["standard"] == [("ShaderNodeAmbientOcclusion", 4), ("ShaderNodeBevel", 4)]  # feelers on edges
    assert found["draft"] == []
    assert found["close-up"] == [
        ("ShaderNodeAmbientOcclusion", 1),  # in corners
        ("ShaderNodeAmbientOcclusion", 4),
        ("ShaderNodeBevel", 12),
        ("ShaderNodeBump", 0),
    ]


def test_other_pictures_take_the_place_of_the_first_ones(images):
    one = constant()
    attach([one], WEAR, images, 0.001)
    others = {kind: Texture(bpy.data.images.new(f"other {kind}", 8, 8)) for kind in PICTURES}
    attach([one], WEAR, others, 0.001)
    assert not any(each.image.users for each in images.values())
    assert sorted(builder.stamp(g) for g in bpy.data.node_groups) == LAYERS


def test_what_the_artist_changed_meanwhile_stays(images):
    one = constant()
    attach([one], WEAR, images, 0.001)
    tree = Tree.__new__(Tree)
    tree.tree = one.node_tree
    (node,) = wear_nodes(one.node_tree)
    shader = one.node_tree.nodes["Shader"]
    noise, invert = tree.node("TexNoise", "Noise"), tree.node("Math", "Between")
    tree.link(noise.outputs[0], builder.group_socket(node, "INPUT", "Roughness"))
    tree.link(builder.group_socket(node, "OUTPUT", "Roughness"), invert.inputs[0])
    tree.link(invert.outputs[0], shader.inputs["Roughness"])
    detach([one])
    wires = {(w.from_node.name, w.to_node.name, w.to_socket.name) for w in one.node_tree.links}
    assert wires == {("Noise", "Between", "Value"), ("Between", "Shader", "Roughness"), ("Shader", "Output", "Surface")}


def test_a_roughness_changed_on_our_node_goes_back_to_the_shader(images):
    one = constant()
    attach([one], WEAR, images, 0.001)
    (node,) = wear_nodes(one.node_tree)
    builder.group_socket(node, "INPUT", "Roughness").default_value = 0.9
    detach([one])
    assert one.node_tree.nodes["Shader"].inputs["Roughness"].default_value == pytest.approx(0.9)


def test_a_colour_changed_on_our_node_goes_back_to_the_shader(images):
    one = constant()
    attach([one], WEAR, images, 0.001)
    (node,) = wear_nodes(one.node_tree)
    builder.group_socket(node, "INPUT", "Base Color").default_value = (0.1, 0.2, 0.3, 1.0)
    detach([one])
    assert tuple(one.node_tree.nodes["Shader"].inputs["Base Color"].default_value) == pytest.approx((0.1, 0.2, 0.3, 1))


def test_a_node_of_a_version_that_passed_less_leaves_without_a_trace(images):
    """The first version stood before roughness and normal alone, and kept no order of links."""
    one, other = constant(), textured()
    before = sorted(text_of_file().splitlines())
    first = builder.group(
        "wear",
        1,
        (builder.Socket("Roughness", "In"), builder.Socket("Normal", "In", builder.VECTOR)),
        (builder.Socket("Roughness", "Out"), builder.Socket("Normal", "Out", builder.VECTOR)),
        lambda b: [b.output(name, b.input(name)) for name in ("Roughness", "Normal")],
    )
    for tree in (one.node_tree, other.node_tree):
        shader = tree.nodes["Shader"]
        node = tree.nodes.new("ShaderNodeGroup")
        node.node_tree = first
        node["playworn_copied"] = 0.137
        builder.group_socket(node, "INPUT", "Roughness").default_value = 0.137
        for name in ("Roughness", "Normal"):
            for wire in [w for w in tree.links if w.to_socket == shader.inputs[name]]:
                tree.links.new(wire.from_socket, builder.group_socket(node, "INPUT", name))
            tree.links.new(builder.group_socket(node, "OUTPUT", name), shader.inputs[name])
    attach([one, other], WEAR, images, 0.001)
    assert sorted(builder.stamp(g) for g in bpy.data.node_groups) == sorted(LAYERS + OF_PICTURES)
    detach([one, other])
    assert sorted(text_of_file().splitlines()) == before


def test_what_ages_a_colour_is_solved_from_the_colour(images):
    red, fed, muted_away = constant(), textured(), muted()
    for one in (red, muted_away):
        one.node_tree.nodes["Shader"].inputs["Base Color"].default_value = (0.5, 0.01, 0.02, 1.0)
    attach([red, fed, muted_away], WEAR, images, 0.001)
    of_red, of_muted = (
        [value(*wear_nodes(one.node_tree), name) for name in ("Lot spread", "Yellowing", "Bleaching")]
        for one in (red, muted_away)
    )
    ageing = fade.ageing((0.5, 0.01, 0.02), 6.0)
    wanted = [tint.spread((0.5, 0.01, 0.02), 1.0), ageing.yellowing, ageing.bleaching]
    assert of_red == of_muted == pytest.approx(wanted, rel=1e-5)
    assert of_red[2] > of_red[1] == 0.0
    (node,) = wear_nodes(fed.node_tree)  # each point by its own colour, which only the group knows
    assert not any(builder.has_socket(node.node_tree, "INPUT", name) for name in ("Lot spread", "Yellowing"))


@pytest.mark.shared_out
def test_a_colour_that_can_go_no_further_is_listed_and_any_that_can_is_not(images):
    """What each can, colour-science 0.4.7 gave: tan 9.9 faded, black 0.0 between its lots."""
    tan, black, red, fed = constant(), constant(), constant(), textured()
    for one, colour in ((tan, (0.455, 0.33, 0.15, 1.0)), (black, (0.0, 0.0, 0.0, 1.0)), (red, (0.5, 0.01, 0.02, 1.0))):
        one.node_tree.nodes["Shader"].inputs["Base Color"].default_value = colour
    asked = Wear(tint=Tint(1.0), fade=Fade(16.0))
    told = {each.object: each.reason for each in attach([tan, black, red, fed], asked, images, 0.001)}
    assert told == {
        tan.name: "fades by 9.9 of the 16 asked (CIEDE2000): its colour can go no further",
        black.name: "has lots that differ by 0.0 of the 1 asked (CIEDE2000): its colour can go no further",
    }
    assert attach([tan, red, fed], Wear(tint=Tint(1.0), fade=Fade(9.0)), images, 0.001) == ()


def test_a_group_of_another_version_is_replaced(images):
    one = constant()
    attach([one], WEAR, images, 0.001)
    fresh = text_of_file()
    for group in bpy.data.node_groups:
        if builder.stamp(group) == "coordinates":
            group[builder.VERSION] = 0
            group.nodes.remove(group.nodes["Turned"])
    attach([one], WEAR, images, 0.001)
    versions = {builder.stamp(g): g[builder.VERSION] for g in bpy.data.node_groups}
    assert versions["coordinates"] != 0
    assert len(bpy.data.node_groups) == len(LAYERS)
    detach([one])
    attach([one], WEAR, images, 0.001)
    assert text_of_file() == fresh


def test_a_foreign_group_of_the_same_name_is_left_alone(images):
    theirs = bpy.data.node_groups.new("Playworn wear", "ShaderNodeTree")
    one = constant()
    attach([one], WEAR, images, 0.001)
    assert wear_nodes(one.node_tree)[0].node_tree != theirs
    detach([one])
    assert list(bpy.data.node_groups) == [theirs]


def test_what_cannot_be_worn_is_named_with_the_reason(images, tmp_path):
    plain, tree = material("glow")
    tree.surface(tree.node("Emission", "Emission").outputs[0])
    bare, tree = material("bare")
    path = str(tmp_path / "library.blend")
    bpy.data.libraries.write(path, {constant()})
    bpy.data.materials.remove(bpy.data.materials["constant"])
    with bpy.data.libraries.load(path, link=True) as (_, into):
        into.materials = ["constant"]
    linked = bpy.data.materials["constant"]
    before = text_of_file()
    skipped = attach([None, plain, bare, linked, plain], WEAR, images, 0.001)
    assert {s.object for s in skipped} == {"glow", "bare", "constant"}
    assert len(skipped) == 3
    assert "linked" in next(s.reason for s in skipped if s.object == "constant")
    assert "Principled" in next(s.reason for s in skipped if s.object == "glow")
    detach([None, plain, bare, linked])
    assert text_of_file() == before


def test_sockets_are_refused_where_blender_would_swallow_them():
    _, tree = material("any")
    mix = tree.node("Mix", "Mix", data_type="FLOAT")
    with pytest.raises(KeyError, match="not in use"):
        builder.socket(mix.inputs, "A_Vector")
    with pytest.raises(KeyError, match="no socket"):
        builder.socket(mix.inputs, "Alpha")
    shader = tree.shader()
    with pytest.raises(ValueError, match="does not fit"):
        builder.link(tree.tree, shader.outputs[0], builder.socket(mix.inputs, "A_Float"))


def test_every_socket_tells_what_it_is(images):
    attach([constant()], WEAR, images, 0.001)
    for group in bpy.data.node_groups:
        for item in group.interface.items_tree:
            assert item.description, f"{group.name}: {item.name}"
