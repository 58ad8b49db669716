"""Places: spheres of the artist's in which there is more of what use brings, or less, the more the nearer."""

from collections.abc import Sequence

import bpy

from ...core.wear.place import Place
from ..builder import Builder, Socket, Value, group, socket

KIND = "places"
_VERSION = 1
_SPHERE, _NEAR = "Sphere", "Near"
_WAYS = {True: "SMOOTHSTEP", False: "LINEAR"}

_OUTPUTS = (Socket("Times", "How many times of what use brings there is here", default=1.0, high=100.0),)

Spheres = Sequence[tuple[bpy.types.Object | None, Place, float]]  # none where it is deleted; radius in its own axes


def places() -> bpy.types.NodeTree:
    """The group that all wear asks; it is filled anew when a place comes or goes, and follows what moves by itself."""
    return group(KIND, _VERSION, (), _OUTPUTS, lambda b: _build(b, ()))


def fill(tree: bpy.types.NodeTree, spheres: Spheres) -> None:
    """Lets the group tell of these places and of no others."""
    tree.nodes.clear()
    b = Builder(tree)
    _build(b, spheres)
    b.arrange()


def told(tree: bpy.types.NodeTree) -> Spheres:
    """The places that a group tells of."""
    found = []
    for n in range(len(tree.nodes)):
        sphere, near = tree.nodes.get(f"{_SPHERE} {n}"), tree.nodes.get(f"{_NEAR} {n}")
        if not isinstance(sphere, bpy.types.ShaderNodeTexCoord) or not isinstance(near, bpy.types.ShaderNodeMapRange):
            break
        values = [float(socket(near.inputs, name).default_value) for name in ("To Max", "From Min")]
        found.append((sphere.object, Place(values[0], near.interpolation_type == _WAYS[True]), values[1]))
    return found


def _build(b: Builder, spheres: Spheres) -> None:
    times: Value = 1.0
    for n, (thing, place, radius) in enumerate(spheres):
        sphere = b.add("ShaderNodeTexCoord", f"{_SPHERE} {n}", object=thing)
        away = b.length(socket(sphere.outputs, "Object"), "Away, in its own axes")
        ends = {"From Min": radius, "From Max": 0.0, "To Min": 1.0, "To Max": place.amount}
        way = _WAYS[place.is_smooth]
        near = b.add("ShaderNodeMapRange", f"{_NEAR} {n}", {"Value": away, **ends}, interpolation_type=way)
        here = socket(near.outputs, "Result")
        times = b.math("MULTIPLY", times, here, "And here") if n else here
    b.output("Times", times)
