"""The gloss and the refraction that a mould gives: what a bare export, with its default material, does not know."""

from math import pi

import bpy

from ..builder import VECTOR, Builder, Socket, Value, group

_VERSION = 2

# From a dull place of a part to its next: gloss changes along the way that plastic flowed, and from mould to mould.
_WAY_MM = (140.0, 90.0, 110.0)  # common practice, no published source

_INPUTS = (
    Socket("Own", "Position in mm along the brick's own axes, elsewhere on each brick", VECTOR),
    Socket("Roughness", "Roughness of the export's material", default=0.5),
    Socket("IOR", "Index of refraction of the export's material", default=1.5, high=1000.0),
    Socket("Amount", "0 as exported, 1 as moulded"),
    Socket("Moulded roughness", "Roughness of new plastic of its kind", default=0.16),
    Socket("Moulded IOR", "Index of refraction of the plastic", default=1.54, high=1000.0),
    Socket("Gloss spread", "How far bricks differ in roughness, as a share of the moulded one"),
)
_OUTPUTS = (
    Socket("Roughness", "Roughness between the two"),
    Socket("IOR", "Index of refraction between the two"),
)


def finish() -> bpy.types.NodeTree:
    """The group that brings a surface from the export's finish to the mould's."""
    return group("finish", _VERSION, _INPUTS, _OUTPUTS, _build)


def _build(b: Builder) -> None:
    moulded = {"Roughness": _spread(b), "IOR": b.input("Moulded IOR")}
    for name, value in moulded.items():
        b.output(name, b.mix(b.input("Amount"), b.input(name), value, f"{name}, moulded"))


def _spread(b: Builder) -> Value:
    """The roughness of this brick, here."""
    place = b.dot(b.input("Own"), tuple(2.0 * pi / way for way in _WAY_MM), "Along the flow")
    most = b.math("MULTIPLY", b.input("Gloss spread"), b.input("Moulded roughness"), "At the most")
    return b.multiply_add(b.math("SINE", place, name="Duller"), most, b.input("Moulded roughness"), "Of its own")
