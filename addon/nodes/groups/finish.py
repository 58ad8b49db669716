"""The gloss and the refraction that a mould gives: what a bare export, with its default material, does not know."""

import bpy

from ..builder import Builder, Socket, group

_VERSION = 1

_INPUTS = (
    Socket("Roughness", "Roughness of the export's material", default=0.5),
    Socket("IOR", "Index of refraction of the export's material", default=1.5, high=1000.0),
    Socket("Amount", "0 as exported, 1 as moulded"),
    Socket("Moulded roughness", "Roughness of new plastic of its kind", default=0.16),
    Socket("Moulded IOR", "Index of refraction of the plastic", default=1.54, high=1000.0),
)
_OUTPUTS = (
    Socket("Roughness", "Roughness between the two"),
    Socket("IOR", "Index of refraction between the two"),
)


def finish() -> bpy.types.NodeTree:
    """The group that brings a surface from the export's finish to the mould's."""
    return group("finish", _VERSION, _INPUTS, _OUTPUTS, _build)


def _build(b: Builder) -> None:
    for name in ("Roughness", "IOR"):
        moulded = b.input(f"Moulded {name if name == 'IOR' else name.lower()}")
        b.output(name, b.mix(b.input("Amount"), b.input(name), moulded, f"{name}, moulded"))
