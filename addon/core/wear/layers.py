"""The layers of the wear, each declared here and nowhere else.

A layer is a record, whose fields carry their ranges, units and sockets, and a field of `Wear`, which says the rest:
where it lies, what of a brick and of the dials it follows, and its picture. From these follow the presets' format and
schema, the shots' dials, the panel, the sockets of the wear node, the raw properties that shaders read, what a quality
leaves out, what is told of pictures and the tables of the guide.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np

from ..presets.rules import Number, number, numbers
from . import marks, words
from .standin import fingers, hairlines, specks

HANDS, SKY, LIGHT, LOT = "hands", "sky", "light", "lot"  # what brings a layer to a side


@dataclass(frozen=True)
class Share:
    """How much of a layer's strength a brick has: from `least`, the best kept brick, evenly over a span; above 0."""

    channel: int  # of the draws, one that nothing else uses; never renumber, or every file's bricks change
    least: float
    span: float
    is_full: bool = True  # no brick has more than a full amount, until it is dialled up


@dataclass(frozen=True)
class Picture:
    """A kind of texture, called as its layer; the layer's record has its `size_mm`."""

    words: tuple[str, ...]  # of file names that tell of it, as the guide lists them
    further_words: tuple[str, ...]  # of other languages and in other forms
    stand_in: Callable[..., np.ndarray]  # of a seed and a side in pixels: greys that tile, at the default size_mm
    strength: float  # mean of the stand-in's marks, which every other picture is brought to
    widest_texel_um: float  # that still draws marks as fine as the real ones; common practice, no published source
    look: str  # of its marks: marks.SOFT, LINES or SPECKS
    is_height: bool = False  # its greys are depths, which come out in steps of 8 bits


@dataclass(frozen=True)
class Layer:
    """What is declared of a layer beside its fields. Its strength is the first of them: what dials multiply."""

    strength: str  # the field's name
    unit: str  # of it
    socket: str  # that takes it; "" where something is worked out from it first
    meaning: str = ""  # what it is, in plain words
    clips: bool = False  # dialled up, it ends at a full amount
    ends_as_declared: bool = False  # no dial over all wear takes it past what the preset says
    share: Share | None = None  # of each brick; without one all have the same
    picture: Picture | None = None
    needs: str = ""  # what of a quality (core.wear.quality.Quality) shows it; left out too where its strength is 0
    on_glass: bool = True
    on_coats: bool = True  # of clear lacquer
    of_use: bool = True  # brought by hands and time: bricks and materials that are new have none of it
    where: str = ""  # what brings it to a side: HANDS, SKY, LIGHT or its brick's LOT; "" for all sides alike


def layer(record: type[Any], **declared: Any) -> Mapping[str, Layer]:
    """What a field of `Wear` says of its layer; `declared` are those of Layer that differ."""
    first = fields(record)[0]
    rule = first.metadata["rule"]
    return {"layer": Layer(first.name, rule.unit, rule.socket, **declared)}


_COVERED = "From 0, clean, to 1, covered"
_REPEAT = "Real width of one repeat of the texture"


@dataclass(frozen=True)
class Scratches:
    amount: float = field(default=0.0, metadata=number(0.0, 1.0, "", _COVERED, "Scratch amount"))
    size_mm: float = field(default=40.0, metadata=number(1.0, 1000.0, "mm", _REPEAT, "Scratch size"))
    depth_um: float = field(
        default=0.0,
        metadata=number(
            0.0, 50.0, "µm", "Groove depth where the texture's marks are strongest, in close-up quality",
            "Scratch depth", needs="fine",
        ),
    )  # fmt: skip


@dataclass(frozen=True)
class Smudges:
    amount: float = field(default=0.0, metadata=number(0.0, 1.0, "", _COVERED, "Smudge amount"))
    size_mm: float = field(default=60.0, metadata=number(1.0, 1000.0, "mm", _REPEAT, "Smudge size"))


@dataclass(frozen=True)
class Dust:
    amount: float = field(
        default=0.0, metadata=number(0.0, 1.0, "", f"{_COVERED}, on faces open to the sky", "Dust amount")
    )
    size_mm: float = field(default=30.0, metadata=number(1.0, 1000.0, "mm", _REPEAT, "Dust size"))


@dataclass(frozen=True)
class Rub:
    amount: float = field(
        default=0.0,
        metadata=number(
            0.0,
            1.0,
            "",
            "From 0, fresh from the mould, to 1, edges rubbed through; as wide as the rounding",
            "Rub amount",
        ),
    )


@dataclass(frozen=True)
class Tint:
    delta_e: float = field(
        default=0.0,
        metadata=number(0.0, 5.0, "ΔE", "How far the widest colour lot differs from the material's colour, CIEDE2000"),
    )


@dataclass(frozen=True)
class Fade:
    delta_e: float = field(
        default=0.0,
        metadata=number(0.0, 30.0, "ΔE", "How far light has changed the colour of the most faded bricks, CIEDE2000"),
    )


@dataclass(frozen=True)
class Finish:
    amount: float = field(
        default=0.0,
        metadata=number(
            0.0,
            1.0,
            "",
            "From 0, the export's own gloss and refraction, to 1, those of moulded plastic of its kind",
            "Finish amount",
        ),
    )
    warp_um: float = field(
        default=0.0,
        metadata=number(
            0.0, 200.0, "µm", "How far a large face is from flat, lowest to highest, each brick in its own way, in "
            "close-up quality",
            "Warp", needs="fine",
        ),
    )  # fmt: skip
    sink_um: float = field(
        default=0.0,
        metadata=number(
            0.0, 50.0, "µm", "How deep faces sink above studs, tubes and ribs, in close-up quality",
            "Sink", needs="fine",
        ),
    )  # fmt: skip
    spread: float = field(
        default=0.0,
        metadata=number(
            0.0, 0.6, "", "How far gloss differs from brick to brick and along one, a share of the moulded roughness",
            "Gloss spread",
        ),
    )  # fmt: skip


# Shares of bricks, words of file names and widest texels: common practice, no published source.
@dataclass(frozen=True)
class Wear:
    """The wear of a preset; a layer that it does not name is clean. New layers come last: files keep their order."""

    rounding_mm: float = field(default=0.0, metadata=number(0.0, 1.0, "mm", "Moulded edge radius", "Rounding"))
    scratches: Scratches = field(
        default=Scratches(),
        metadata=layer(
            Scratches,
            meaning="Hairlines that bricks leave on each other: dull on gloss, bright on matt",
            share=Share(100, 0.4, 1.2),
            where=HANDS,
            picture=Picture(
                ("scratch", "hairline", "scuff", "scrape"), words.SCRATCHES, hairlines.scratches, 0.0224,
                widest_texel_um=40.0,  # hairlines reach it
                look=marks.LINES, is_height=True,
            ),
        ),
    )  # fmt: skip
    smudges: Smudges = field(
        default=Smudges(),
        metadata=layer(
            Smudges,
            meaning="Films of skin grease from fingers, seen in the sheen",
            where=HANDS,
            picture=Picture(
                ("smudge", "smear", "finger", "print", "grease", "stain", "wipe"), words.SMUDGES,
                fingers.smudges, 0.193,
                widest_texel_um=150.0,  # the ridges of a finger lie 460 µm apart
                look=marks.SOFT,
            ),
        ),
    )  # fmt: skip
    dust: Dust = field(
        default=Dust(),
        metadata=layer(
            Dust,
            meaning="Pale, matt dust on what faces the sky",
            needs="dust",
            on_glass=False,  # it would be dusty inside
            where=SKY,
            picture=Picture(
                ("dust", "speck", "lint", "fluff"), words.DUST, specks.dust, 0.087,
                widest_texel_um=50.0,  # specks are 20 to 100 µm wide
                look=marks.SPECKS,
            ),
        ),
    )  # fmt: skip
    rub: Rub = field(
        default=Rub(),
        metadata=layer(
            Rub,
            meaning="Edges that hands have whitened or polished",
            share=Share(106, 0.4, 1.2, is_full=False),
            where=HANDS,
        ),
    )
    tint: Tint = field(
        default=Tint(),
        metadata=layer(
            Tint, meaning="How far the lots of one colour differ from brick to brick", of_use=False, where=LOT
        ),
    )
    # Some bricks came later and have seen less of the light; of one colour some lots keep better than others.
    fade: Fade = field(
        default=Fade(),
        metadata=layer(
            Fade,
            meaning="What light did: pale colours turn yellow, strong ones pale",
            clips=True,
            share=Share(107, 0.35, 0.65),
            where=LIGHT,
        ),
    )
    # No dial gives more gloss than the mould, and a coat comes from none.
    finish: Finish = field(
        default=Finish(),
        metadata=layer(
            Finish,
            meaning="The gloss of moulded plastic in place of the export's own",
            clips=True,
            ends_as_declared=True,
            on_coats=False,
            of_use=False,
        ),
    )


LAYERS: dict[str, Layer] = {each.name: each.metadata["layer"] for each in fields(Wear) if "layer" in each.metadata}
SHARES: dict[str, Share] = {name: each.share for name, each in LAYERS.items() if each.share}
SIZES: dict[str, Number] = {path.split(".")[0]: rule for path, rule in numbers(Wear) if path.endswith(".size_mm")}
PICTURES: dict[str, Picture] = {name: each.picture for name, each in LAYERS.items() if each.picture}


def strength(wear: Wear, name: str) -> float:
    """How much of a layer there is."""
    return getattr(getattr(wear, name), LAYERS[name].strength)


def rule_of(name: str) -> Number:
    """What a layer's strength may be, and its unit."""
    return fields(type(getattr(Wear(), name)))[0].metadata["rule"]


def changes_colours(wear: Wear) -> bool:
    """Whether lots differ, or light has changed anything."""
    return wear.tint.delta_e > 0.0 or wear.fade.delta_e > 0.0


def size_mm(wear: Wear, name: str) -> float:
    """The real width of one repeat of a layer's picture."""
    return getattr(wear, name).size_mm


def resized(wear: Wear, changes: Mapping[str, float]) -> Wear:
    """The wear with other sizes (mm) of the pictures of some layers."""
    return replace(wear, **{name: replace(getattr(wear, name), size_mm=size) for name, size in changes.items()})


def sizes(wear: Wear) -> dict[str, float]:
    """The sizes of all pictures, by the sockets that take them."""
    return {rule.socket: size_mm(wear, name) for name, rule in SIZES.items()}


def lying(wear: Wear, on_glass: bool, on_coat: bool) -> Wear:
    """The wear with no strength in layers that do not lie on such a surface."""
    off = [n for n, each in LAYERS.items() if (on_glass and not each.on_glass) or (on_coat and not each.on_coats)]
    return replace(wear, **{name: replace(getattr(wear, name), **{LAYERS[name].strength: 0.0}) for name in off})


def sockets(wear: Wear) -> dict[str, float]:
    """The values that the sockets of the wear take as they are, by the sockets' names."""
    found = {}
    for path, rule in numbers(Wear):
        if rule.socket:
            *outer, name = path.split(".")
            found[rule.socket] = getattr(getattr(wear, outer[0]) if outer else wear, name)
    return found


def left_out(fine: bool, shown: frozenset[str]) -> frozenset[str]:
    """The sockets of fields that nothing shows: of layers that need to be shown and are not, and of fine detail."""
    met = {"": True, "fine": fine}
    gone = [name for name, each in LAYERS.items() if each.needs and name not in shown]
    return frozenset(
        rule.socket
        for path, rule in numbers(Wear)
        if rule.socket and (path.split(".")[0] in gone or not met[rule.needs])
    )
