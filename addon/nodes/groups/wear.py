"""The whole wear of a surface: what stands between a material's colour, roughness and normal and its shader."""

from collections.abc import Generator, Iterator
from functools import partial

import bpy

from ...core.presets.rules import numbers
from ...core.wear import layers, names
from ...core.wear.layers import LAYERS, Wear
from ...core.wear.quality import Quality
from ...core.wear.texture import WearImages
from ..builder import COLOUR, VECTOR, Builder, Panel, Socket, Value, group, group_socket, socket
from .brick import Brick
from .coordinates import coordinates
from .dust import dust
from .fade import fade
from .finish import finish
from .light import light
from .mesh_edges import mesh_edges
from .passes import SHARE, passes
from .placement import placement
from .places import places
from .rounding import rounding
from .rub import rub
from .scratches import scratches
from .smudges import smudges
from .swatches import OF_COLOUR, swatches
from .tint import tint
from .warp import warp

_VERSION = 28
KIND = "wear"

_CLEAN = (
    Socket("Base Color", "Colour of the clean material", COLOUR),
    Socket("Roughness", "Roughness of the clean material", default=0.5),
    Socket("IOR", "Index of refraction of the clean material", default=1.5, high=1000.0),
)
_NORMAL = Socket("Normal", "Normal of the clean material; left unlinked, the surface's own", VECTOR)
# What is worked out for each material: of what kind it is, and how its colour ages and differs from lot to lot.
_WORKED_OUT = (
    Socket("Moulded roughness", "Roughness of new plastic of this kind", default=0.16),
    Socket("Moulded IOR", "Index of refraction of plastic of this kind", default=1.54, high=1000.0),
    Socket("Rub whitening", "Share of the way to white that a fully rubbed edge goes"),
    Socket("Rub finish", "Roughness of a fully rubbed edge", default=0.45),
    *OF_COLOUR,
    Socket("Scale", "World units per millimetre", default=0.001, high=1000.0),
    Socket(SHARE, "Of the passes: so much of them comes from this shader of the material", default=1.0),
)
_PANEL = Panel("By Hand", "What is yours: typed or linked here, it stays when Playworn puts the wear in anew")
_OF_ARTISTS = (
    Socket(
        names.AMOUNT,
        "How much of what use brings this material has: 0 new, 1 as the preset, 2 twice; tint and finish stay",
        default=1.0,
        high=2.0,
        panel=_PANEL,
    ),
    *(
        Socket(
            names.MASK[layer],
            f"Where there is {layer}: 0 nowhere, 1 as the preset has it. Link a painted attribute, a vertex group, a "
            "picture or anything else",
            default=1.0,
            panel=_PANEL,
        )
        for layer in LAYERS
    ),
)
_OUTPUTS = (
    Socket("Base Color", "Colour of the worn material", COLOUR),
    Socket("Roughness", "Roughness of the worn material"),
    Socket("IOR", "Index of refraction of the worn material"),
)
_WITH_NORMALS = (Socket("Normal", "Normal of the worn material", VECTOR),)


def inputs(quality: Quality, shown: frozenset[str], coloured: bool = False) -> tuple[Socket, ...]:
    """What the wear takes at a quality: the clean surface, what is worked out, and the preset's values as they are."""
    gone = left_out(quality, shown, coloured)
    of_preset = [
        Socket(rule.socket, f"{rule.meaning}{rule.unit and f', in {rule.unit}'}", low=rule.low, high=rule.high)
        for _, rule in numbers(Wear)
        if rule.socket
    ]
    taken = [each for each in (*_CLEAN, *of_preset, *_WORKED_OUT, _NORMAL) if each.name not in gone]
    return *taken, *_OF_ARTISTS  # these at every quality: what is linked there stays linked


def shown(wear: Wear, quality: Quality) -> frozenset[str]:
    """Of the layers that need something of a quality, those that it shows and of which there is any."""
    needy = {name: each.needs for name, each in LAYERS.items() if each.needs}
    return frozenset(n for n, needs in needy.items() if getattr(quality, needs) and layers.strength(wear, n) > 0.0)


def left_out(quality: Quality, shown: frozenset[str], coloured: bool = False) -> frozenset[str]:
    """The sockets that the wear has at another quality, or where more layers are shown, or the colour is constant."""
    gone = layers.left_out(quality.fine, shown) | {each.name for each in OF_COLOUR if coloured}
    return gone if quality.normals else gone | {_NORMAL.name}


def wearing(
    images: WearImages, shown: frozenset[str], quality: Quality, looked_up: bpy.types.Image | None = None
) -> Generator[None, None, bpy.types.NodeTree]:
    """The group that wears a material with these pictures, of the layers that need it with those that are shown; made
    in parts, each of which takes Blender its time, the longer the more objects there are.

    `looked_up`: where the material's colour comes from nodes, the picture in which what each point of it needs stands.
    Where nothing bends a normal, as in a draft, normals do not pass through it.

    It comes out clean, exactly, wherever the object is not a brick of a build, the scene has no dial `playworn_wear` or
    the dial is 0, or all amounts are 0. The scene's `playworn_more_<layer>`, 0 where missing, gives a layer that much
    more of its amount: 1 twice as much, -1 none. The object's `playworn_more` gives a brick so much more of what use
    brings.
    """
    made = dict[str, bpy.types.NodeTree]()
    for name, tree in _parts(images, shown, quality):
        made[name] = tree
        yield
    if looked_up:
        made["look_up"] = swatches(looked_up)
        yield
    outputs = _OUTPUTS + _WITH_NORMALS if quality.normals else _OUTPUTS
    build = partial(_build, normals=quality.normals, fine=quality.fine, **made)
    return group(KIND, _VERSION, inputs(quality, shown, looked_up is not None), outputs, build, tuple(made.values()))


def _parts(images: WearImages, shown: frozenset[str], quality: Quality) -> Iterator[tuple[str, bpy.types.NodeTree]]:
    """The groups that it is made of, whatever the colour comes from, one by one."""
    yield "space", coordinates()
    yield "sides", placement()
    yield "near", places()
    yield "lit", light()
    yield "scratch", scratches(images["scratches"], quality.fine)
    yield "smudge", smudges(images["smudges"])
    yield "lots", tint()
    yield "fading", fade()
    yield "mould", finish()
    yield "told", passes()
    if quality.edge_samples:
        yield "round_edges", rounding(quality.edge_samples)
    if quality.mesh_edges:
        yield "own_edges", mesh_edges()
    if quality.edge_samples or quality.mesh_edges:
        yield "handle", rub()
    if quality.fine:
        yield "bend", warp()
    if "dust" in shown:
        yield "settle", dust(images["dust"], quality.fine)


def _build(b: Builder, normals: bool, fine: bool, **made: bpy.types.NodeTree) -> None:
    brick = Brick(b, made["space"], made["sides"], made["near"], made["lit"], made.get("look_up"))
    face = _Face(b, brick, fine)
    face.mould(made["mould"])
    face.age(made["lots"], made["fading"])
    if normals:
        face.normal = _given_normal(b)
    face.round(made.get("round_edges"), made.get("own_edges"))
    if "bend" in made:
        face.warp(made["bend"])
    face.scratch(made["scratch"])
    face.smudge(made["smudge"])
    if "handle" in made:
        face.rub(made["handle"])
    if "settle" in made:
        face.dust(made["settle"])
    b.subgroup(made["told"], {**face.told, SHARE: b.input(SHARE)})
    b.output("Base Color", face.colour)
    b.output("Roughness", face.roughness)
    if face.normal is not None:
        b.output("Normal", face.normal)


class _Face:
    """A face of a brick, layer upon layer as they come to be."""

    def __init__(self, b: Builder, brick: Brick, fine: bool) -> None:
        self.b, self.brick, self.fine = b, brick, fine
        self.colour: Value = b.input("Base Color")
        self.roughness: Value = b.input("Roughness")
        self.normal: Value | None = None
        self.edge: Value = 0.0
        self.film: Value = 0.0  # where hands have been
        self.bare: Value = 0.0  # where they have rubbed
        self.told: dict[str, Value] = {}  # by the names of passes

    def mould(self, group: bpy.types.NodeTree) -> None:
        b = self.b
        amount = self.told[names.PASS["finish"]] = self.brick.amount("finish")
        moulded = b.subgroup(
            group,
            {
                "Roughness": self.roughness,
                "Amount": amount,
                "Own": self.brick.own,
                **{name: b.input(name) for name in ("IOR", "Moulded roughness", "Moulded IOR", "Gloss spread")},
            },
        )
        b.output("IOR", group_socket(moulded, "OUTPUT", "IOR"))
        self.roughness = self.base = group_socket(moulded, "OUTPUT", "Roughness")

    def age(self, lots: bpy.types.NodeTree, light: bpy.types.NodeTree) -> None:
        b, brick = self.b, self.brick
        tinted = b.subgroup(lots, {"Color": self.colour, "Spread": brick.spread})
        lit = {"Place": brick.place, "Yellowing": brick.yellowed, "Bleaching": brick.bleached}
        faded = b.subgroup(light, {"Color": group_socket(tinted, "OUTPUT", "Color"), **lit})
        for layer, node in (("tint", tinted), ("fade", faded)):
            self._tell(layer, node)
        self.colour = group_socket(faded, "OUTPUT", "Color")

    def round(self, shaded: bpy.types.NodeTree | None, of_mesh: bpy.types.NodeTree | None) -> None:
        b, radius = self.b, self.brick.radius
        own = b.subgroup(of_mesh, {}) if of_mesh else None
        if shaded:
            if own:
                radius = b.math("MULTIPLY", radius, group_socket(own, "OUTPUT", "Sharp"), "Radius left to shade")
            assert self.normal is not None
            rounded = b.subgroup(shaded, {"Normal": self.normal, "Radius": radius, "Scale": b.input("Scale")})
            self.normal, self.edge = group_socket(rounded, "OUTPUT", "Normal"), group_socket(rounded, "OUTPUT", "Edge")
        if own:
            self.edge = b.math("MAXIMUM", self.edge, group_socket(own, "OUTPUT", "Edge"), "Edge")
        self.told[names.ROUNDED] = self.edge

    def warp(self, group: bpy.types.NodeTree) -> None:
        b, brick = self.b, self.brick
        assert self.normal is not None
        given = {"Normal": self.normal, "Amount": self.told[names.PASS["finish"]]}
        on_brick = {"Own": brick.own, "Spot": brick.spot, "Studded": brick.studded}
        warped = b.subgroup(group, given | on_brick | {name: b.input(name) for name in ("Warp", "Sink")})
        self.normal = group_socket(warped, "OUTPUT", "Normal")

    def scratch(self, group: bpy.types.NodeTree) -> None:
        b = self.b
        flat = {
            "Place": self.brick.place,
            "Roughness": self.roughness,
            "Color": self.colour,
            "Whitening": b.input("Rub whitening"),
            "Amount": self.brick.scratched,
            "Size": b.input("Scratch size"),
        }
        if not self.fine:
            self._take("scratches", b.subgroup(group, flat))
            return
        assert self.normal is not None
        grooved = {"Normal": self.normal, "Depth": b.input("Scratch depth"), "Scale": b.input("Scale")}
        scored = b.subgroup(group, flat | grooved)
        self._take("scratches", scored)
        self.normal = group_socket(scored, "OUTPUT", "Normal")

    def smudge(self, group: bpy.types.NodeTree) -> None:
        smeared = self.b.subgroup(
            group,
            {
                "Place": self.brick.spot,
                "Roughness": self.roughness,
                "Base": self.base,
                "Amount": self.brick.smudged,
                "Size": self.b.input("Smudge size"),
            },
        )
        self.roughness = group_socket(smeared, "OUTPUT", "Roughness")
        self._tell("smudges", smeared)
        film = group_socket(smeared, "OUTPUT", "Film")
        self.film = self.b.math("MULTIPLY", film, self.brick.reach, "Touched where reached")

    def rub(self, group: bpy.types.NodeTree) -> None:
        b = self.b
        rubbed = b.subgroup(
            group,
            {
                "Patch": self.brick.patch,
                "Color": self.colour,
                "Roughness": self.roughness,
                "Edge": self.edge,
                "Mask": self.film,
                "Amount": self.brick.rubbed,
                "Whitening": b.input("Rub whitening"),
                "Finish": b.input("Rub finish"),
            },
        )
        self._take("rub", rubbed)
        self.bare = self.told[names.PASS["rub"]]

    def dust(self, group: bpy.types.NodeTree) -> None:
        b = self.b
        free = b.math("SUBTRACT", 1.0, self.bare, "Nothing holds where rubbed")
        free = b.math("MULTIPLY", free, self.brick.sky, "And open to the sky")
        lying = {
            "Place": self.brick.place,
            "Spot": self.brick.spot,
            "Studded": self.brick.studded,
            "Reach": self.brick.reach,
            "Color": self.colour,
            "Roughness": self.roughness,
            "Amount": self.brick.amount("dust"),
            "Size": b.input("Dust size"),
            "Mask": free,
        }
        self._take("dust", b.subgroup(group, lying | ({"Scale": b.input("Scale")} if self.fine else {})))

    def _take(self, layer: str, node: bpy.types.ShaderNodeGroup) -> None:
        self._tell(layer, node)
        self.colour, self.roughness = group_socket(node, "OUTPUT", "Color"), group_socket(node, "OUTPUT", "Roughness")

    def _tell(self, layer: str, node: bpy.types.ShaderNodeGroup) -> None:
        self.told[names.PASS[layer]] = group_socket(node, "OUTPUT", "Mask")


def _given_normal(b: Builder) -> Value:
    with b.frame("An unlinked normal arrives as zero: take the surface's own"):
        given = b.math("GREATER_THAN", b.length(b.input("Normal"), "Length"), 0.0, "Given")
        own = socket(b.add("ShaderNodeNewGeometry", "Surface").outputs, "Normal")
        own = b.vector("SCALE", own, b.math("SUBTRACT", 1.0, given), "Where none is given")
        return b.vector("ADD", own, b.input("Normal"), "Clean normal")  # a mix would round what was given
