"""Materials of every shape an artist, an importer or another tool may leave in a file, all made by code."""

import bpy

from addon import compat


class Tree:
    """Short words for making an artist's node tree."""

    def __init__(self, tree):
        self.tree = tree
        tree.nodes.clear()

    def node(self, kind, name="", **settings):
        node = self.tree.nodes.new(f"ShaderNode{kind}")
        node.name = name or kind
        for key, value in settings.items():
            setattr(node, key, value)
        return node

    def link(self, source, target, muted=False):
        made = self.tree.links.new(source, target)
        made.is_muted = muted
        return made

    def shader(self, name="Shader", roughness=0.137, kind="BsdfPrincipled", **values):
        shader = self.node(kind, name, location=(100.0, 50.0))
        if "Roughness" in shader.inputs:
            shader.inputs["Roughness"].default_value = roughness
        for socket, value in values.items():
            shader.inputs[socket].default_value = value
        return shader

    def surface(self, shader):
        output = self.node("OutputMaterial", "Output")
        self.link(shader, output.inputs["Surface"])
        return output

    def reroute(self, source):
        node = self.tree.nodes.new("NodeReroute")
        self.link(source, node.inputs[0])
        return node.outputs[0]

    def bump(self, name="Bump", strength=0.4):
        noise, bump = self.node("TexNoise", f"{name} noise"), self.node("Bump", name)
        noise.inputs["Scale"].default_value, bump.inputs["Strength"].default_value = 40.0, strength
        self.link(noise.outputs[0], bump.inputs["Height"])
        return bump.outputs[0]


def material(name):
    made = bpy.data.materials.new(name)
    return made, Tree(compat.node_tree(made))


def group(name, colour_in=True):
    """A node group that gives out a shader, and its tree."""
    made = bpy.data.node_groups.new(name, "ShaderNodeTree")
    made.interface.new_socket("Shader", in_out="OUTPUT", socket_type="NodeSocketShader")
    if colour_in:
        made.interface.new_socket("Plastic", in_out="INPUT", socket_type="NodeSocketColor").default_value = (0, 0, 1, 1)
    return made, Tree(made)


def materials():
    """Materials of more than forty shapes by name."""
    return {one.name: one for shape in _SHAPES for one in _listed(shape())}


def _listed(made):
    return made if isinstance(made, list) else [made]


def _plain(name, kind="BsdfPrincipled", muted=False, **values):
    made, tree = material(name)
    shader = tree.shader(kind=kind, **values)
    shader.mute = muted
    tree.surface(shader.outputs[0])
    return made


def _constants():
    red = (0.5, 0.01, 0.02, 1.0)
    return [
        _plain("constant", **{"Base Color": red}),
        _plain("glass", **{"Transmission Weight": 1.0}),
        _plain("metal", Metallic=1.0),
        _plain("rubber", roughness=0.95),
        _plain("cut out", Alpha=0.3),
        _plain("beyond white and rougher than rough", roughness=1.4, **{"Base Color": (3.0, 1.5, 1.2, 1.0)}),
        _plain("muted shader", muted=True),
        _plain("wax of its own", kind="SubsurfaceScattering", Color=red),
        _plain("coat", **{"Coat Weight": 0.8, "Coat Roughness": 0.21, "Base Color": red}),
        _plain("diffuse", kind="BsdfDiffuse", Color=red),
        _plain("glossy", kind="BsdfAnisotropic", Color=red),
        _plain("glass of its own", kind="BsdfGlass", Color=red),
        _plain("refraction", kind="BsdfRefraction", Color=red),
        _plain("translucent", kind="BsdfTranslucent", Color=red),
        _plain("metal of its own", kind="BsdfMetallic"),
        _plain("conductor", kind="BsdfMetallic"),
        _plain("wax", **{"Subsurface Weight": 0.5, "Subsurface Scale": 0.005}),
        _plain("glow", kind="Emission"),
        _plain("toon", kind="BsdfToon"),
    ]


def _conductor():
    """By measured indices: its colour socket is out of use."""
    bpy.data.materials["conductor"].node_tree.nodes["Shader"].fresnel_type = "PHYSICAL_CONDUCTOR"
    return []


def textured():
    made, tree = material("textured with a normal map, in a frame")
    shader = tree.shader()
    frame = tree.tree.nodes.new("NodeFrame")
    shader.parent = frame
    noise, normal = tree.node("TexNoise", "Noise"), tree.node("NormalMap", "Normal")
    tree.link(noise.outputs[0], shader.inputs["Roughness"])
    tree.link(noise.outputs["Color"], shader.inputs["Base Color"])
    tree.link(noise.outputs["Color"], normal.inputs["Color"])
    tree.link(normal.outputs["Normal"], shader.inputs["Normal"])
    tree.surface(shader.outputs[0])
    return made


def _coats():
    made = []
    for name, over, under in (
        ("coat over a normal map", False, True),
        ("coat with a normal map", True, False),
        ("coat and base with one normal map", True, True),
        ("coat by nodes", False, False),
    ):
        one, tree = material(name)
        shader = tree.shader(**{"Coat Weight": 1.0})
        normal = tree.bump()
        for wanted, socket in ((under, "Normal"), (over, "Coat Normal")):
            if wanted:
                tree.link(normal, shader.inputs[socket])
        if not (over or under):
            tree.link(tree.node("TexNoise", "Noise").outputs[0], shader.inputs["Coat Weight"])
            tree.link(tree.node("Value", "Value").outputs[0], shader.inputs["Coat Roughness"])
        tree.surface(shader.outputs[0])
        made.append(one)
    return made


def _bare_coat():
    """A normal map on a coat of no weight: no coat."""
    made, tree = material("normal map on no coat")
    shader = tree.shader()
    tree.link(tree.bump(), shader.inputs["Coat Normal"])
    tree.surface(shader.outputs[0])
    return made


def mixed():
    made, tree = material("two shaders share one roughness")
    first, second = tree.shader("First", 0.2), tree.shader("Second", 0.7)
    value = tree.node("Value", "Value")
    tree.link(value.outputs[0], first.inputs["Roughness"])
    tree.link(value.outputs[0], second.inputs["Roughness"])
    tree.link(tree.node("RGB", "Colour").outputs[0], second.inputs["Base Color"])
    mix = tree.node("MixShader", "Mix")
    tree.link(first.outputs[0], mix.inputs[1])
    tree.link(second.outputs[0], mix.inputs[2])
    tree.surface(mix.outputs[0])
    return made


def _old_plastic():
    """Diffuse under a glossy sheen by Fresnel, with a bump that both and the Fresnel share, and a lamp in the mix."""
    made, tree = material("diffuse and glossy by fresnel")
    diffuse, glossy = tree.shader("Diffuse", kind="BsdfDiffuse"), tree.shader("Glossy", kind="BsdfAnisotropic")
    bump, fresnel = tree.bump(), tree.node("Fresnel", "Fresnel")
    for node in (glossy, diffuse, fresnel):
        tree.link(bump, node.inputs["Normal"])
    mix, lamp, add = tree.node("MixShader", "Mix"), tree.shader("Lamp", kind="Emission"), tree.node("AddShader", "Add")
    tree.link(fresnel.outputs[0], mix.inputs[0])
    tree.link(diffuse.outputs[0], mix.inputs[1])
    tree.link(glossy.outputs[0], mix.inputs[2])
    tree.link(mix.outputs[0], add.inputs[0])
    lamp.inputs["Strength"].default_value = 0.05
    tree.link(lamp.outputs[0], add.inputs[1])
    tree.surface(add.outputs[0])
    return made


def muted():
    made, tree = material("muted links")
    shader = tree.shader()
    tree.link(tree.node("Value", "Value").outputs[0], shader.inputs["Roughness"], muted=True)
    tree.link(tree.node("RGB", "Colour").outputs[0], shader.inputs["Base Color"], muted=True)
    tree.link(tree.node("NormalMap", "Normal").outputs[0], shader.inputs["Normal"], muted=True)
    tree.surface(shader.outputs[0])
    return made


def _odd():
    made, tree = material("a colour into roughness, through reroutes, and a vector into the colour")
    shader = tree.shader()
    through = tree.reroute(tree.reroute(tree.node("RGB", "Colour").outputs[0]))
    tree.link(through, shader.inputs["Roughness"])
    tree.link(tree.node("NewGeometry", "Place").outputs["Position"], shader.inputs["Base Color"])
    tree.surface(tree.reroute(shader.outputs[0]))
    return made


def _one_for_all():
    """One value into all that wears, and into much else."""
    made, tree = material("one value into everything")
    shader = tree.shader()
    value = tree.node("Value", "Value").outputs[0]
    value.default_value = 0.37
    value = tree.reroute(value)
    for name in ("Roughness", "Base Color", "Metallic", "Normal", "Coat Weight", "Coat Roughness", "Coat Normal"):
        tree.link(value, shader.inputs[name])
    tree.surface(shader.outputs[0])
    return made


def _ordered():
    """Links made in an order of their own, with others before, between and after."""
    made, tree = material("links in an odd order")
    shader = tree.shader()
    output = tree.surface(shader.outputs[0])
    noise = tree.node("TexNoise", "Noise")
    tree.link(noise.outputs[0], shader.inputs["Roughness"])
    tree.link(tree.node("TexCoord", "Where").outputs["Object"], noise.inputs["Vector"])
    tree.link(noise.outputs["Color"], shader.inputs["Base Color"])
    tree.link(noise.outputs[0], shader.inputs["Sheen Weight"], muted=True)
    tree.link(tree.bump(), shader.inputs["Normal"])
    height = tree.node("Displacement", "Height")
    height.inputs["Scale"].default_value = 0.001
    tree.link(noise.outputs[0], height.inputs["Height"])
    tree.link(height.outputs[0], output.inputs["Displacement"])
    return made


def _volume():
    made, tree = material("nothing but a volume")
    tree.link(tree.node("VolumeScatter", "Fog").outputs[0], tree.node("OutputMaterial", "Output").inputs["Volume"])
    return made


def _unlinked():
    made, tree = material("a shader that leads nowhere")
    tree.shader()
    tree.surface(tree.shader("Lamp", kind="Emission").outputs[0])
    return made


def _bare():
    return material("no node at all")[0]


def _two_outputs():
    made, tree = material("an output for each renderer")
    for target in ("CYCLES", "EEVEE"):
        output = tree.surface(tree.shader(target).outputs[0])
        output.target, output.name = target, f"Output {target}"
    return made


def _hidden():
    """Collapsed, labelled, coloured, with hidden sockets."""
    made, tree = material("collapsed, with hidden sockets")
    shader = tree.shader()
    shader.hide, shader.label, shader.use_custom_color, shader.color = True, "mine", True, (0.1, 0.2, 0.3)
    tree.surface(shader.outputs[0])
    for name in ("Metallic", "Roughness", "Normal"):
        shader.inputs[name].hide = True
    return made


def _nested():
    """Two materials around one group, itself around another and used twice, each with a Principled node."""
    (inner, within), (outer, around) = group("inner"), group("outer")
    for tree in (within, around):
        shader = tree.shader()
        tree.link(tree.tree.nodes.new("NodeGroupInput").outputs[0], shader.inputs["Base Color"])
        shader = shader.outputs[0]
        if tree is around:
            deeper, add = tree.node("Group", "Deeper", node_tree=inner), tree.node("AddShader", "Add")
            tree.link(shader, add.inputs[0])
            tree.link(deeper.outputs[0], add.inputs[1])
            shader = add.outputs[0]
        tree.link(shader, tree.tree.nodes.new("NodeGroupOutput").inputs[0])
    one, tree = material("around a group")
    tree.surface(tree.node("Group", "Outer", node_tree=outer).outputs[0])
    two, tree = material("around it twice, and around the inner one")
    mix, first, second = tree.node("MixShader", "Mix"), *(tree.node("Group", n, node_tree=outer) for n in "AB")
    tree.link(first.outputs[0], mix.inputs[1])
    tree.link(second.outputs[0], mix.inputs[2])
    add = tree.node("AddShader", "Add")
    tree.link(mix.outputs[0], add.inputs[0])
    tree.link(tree.node("Group", "Inner", node_tree=inner).outputs[0], add.inputs[1])
    tree.surface(add.outputs[0])
    return [one, two]


def _shader_through_a_group():
    """The roughness and the normal come out of a group, and a group without a tree stands beside."""
    given = bpy.data.node_groups.new("given", "ShaderNodeTree")
    for name, kind in (("Matt", "Float"), ("Normal", "Vector")):
        given.interface.new_socket(name, in_out="OUTPUT", socket_type=f"NodeSocket{kind}")
    inside = Tree(given)
    exit_ = given.nodes.new("NodeGroupOutput")
    inside.link(inside.node("Value", "Value").outputs[0], exit_.inputs[0])
    inside.link(inside.bump(), exit_.inputs[1])
    made, tree = material("fed by a group, beside an empty one")
    tree.node("Group", "Empty")
    shader, source = tree.shader(), tree.node("Group", "Given", node_tree=given)
    tree.link(source.outputs[0], shader.inputs["Roughness"])
    tree.link(source.outputs[1], shader.inputs["Normal"])
    tree.surface(shader.outputs[0])
    return made


def _animated():
    made, tree = material("animated roughness, driven colour")
    shader = tree.shader()
    tree.surface(shader.outputs[0])
    for frame, value in ((11, 0.9), (1, 0.1)):  # as it stands at frame 1 comes last
        shader.inputs["Roughness"].default_value = value
        shader.inputs["Roughness"].keyframe_insert("default_value", frame=frame)
    shader.inputs["Base Color"].driver_add("default_value", 0).driver.type = "SUM"
    shader.inputs["Base Color"].default_value[0] = 0.0  # the sum of nothing
    return made


def _animated_beside():
    made, tree = material("animated alpha, and a strip over a roughness that nodes feed")
    shader = tree.shader()
    tree.surface(shader.outputs[0])
    tree.link(tree.node("Value", "Value").outputs[0], shader.inputs["Roughness"])
    shader.inputs["Roughness"].keyframe_insert("default_value", frame=1)
    animation = tree.tree.animation_data
    action, animation.action = animation.action, None
    animation.nla_tracks.new().strips.new("strip", 1, action)
    shader.inputs["Alpha"].keyframe_insert("default_value", frame=1)
    return made


def _without_nodes():
    """4.5 alone knows materials that are drawn by their viewport values, with a tree they do not use or with none."""
    named = []
    for name, tree in (("never had nodes", False), ("nodes switched off", True)):
        made = bpy.data.materials.new(name)
        made.diffuse_color, made.roughness, made.metallic = (0.2, 0.4, 0.1, 1.0), 0.35, 0.25
        if tree:
            compat.node_tree(made)
        if not getattr(made.bl_rna.properties["use_nodes"], "is_deprecated", False):
            made.use_nodes = False
        named.append(made)
    return named


_SHAPES = (
    _constants, _conductor, textured, _coats, _bare_coat, mixed, _old_plastic, muted, _odd, _one_for_all, _ordered,
    _volume, _unlinked, _bare, _two_outputs, _hidden, _nested, _shader_through_a_group, _animated, _animated_beside,
    _without_nodes,
)  # fmt: skip
