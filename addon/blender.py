"""Blender's data under the types that hold where Playworn runs.

The stand-in for Blender that types are checked with cannot tell what an object holds or a socket takes, and gets a few
things wrong. This is told here once; nothing is looked up or converted, what comes back is Blender's own.
"""

from collections.abc import Iterable, Iterator
from operator import attrgetter
from typing import TYPE_CHECKING, Any, TypeAlias, cast

import bpy

MaybeNone: TypeAlias = Any  # in a union: may be None, and is not where it is asked for; typeshed has it by this name

if TYPE_CHECKING:

    class Context(bpy.types.Context):
        """What is always there, and what a background process lacks.

        In the stand-in a member `property` hides the decorator of that name, so that all of these read as methods.
        """

        area: bpy.types.Area | None
        preferences: bpy.types.Preferences
        region: bpy.types.Region | None
        scene: bpy.types.Scene
        screen: bpy.types.Screen | MaybeNone
        view_layer: bpy.types.ViewLayer
        window: bpy.types.Window | MaybeNone
        window_manager: bpy.types.WindowManager
        workspace: bpy.types.WorkSpace | MaybeNone

    class Socket(bpy.types.NodeSocket):
        """A node's socket that has a constant, as all have but those of shaders and geometry."""

        default_value: Any

    class Link(bpy.types.NodeLink):
        """A link between nodes, which has both ends."""

        from_node: bpy.types.Node
        from_socket: bpy.types.NodeSocket
        to_node: bpy.types.Node
        to_socket: bpy.types.NodeSocket

else:
    Context, Socket, Link = bpy.types.Context, bpy.types.NodeSocket, bpy.types.NodeLink


def context() -> Context:
    """Where Blender is: its scene, its view layer."""
    return cast(Context, bpy.context)


def mesh_of(thing: bpy.types.Object) -> bpy.types.Mesh:
    """The mesh of an object that is known to hold one."""
    return cast(bpy.types.Mesh, thing.data)


def meshes_of(things: Iterable[bpy.types.Object]) -> Iterator[bpy.types.Mesh]:
    """The mesh of each of some objects, read as fast as Python can."""
    return map(attrgetter("data"), things)


def camera_of(thing: bpy.types.Object) -> bpy.types.Camera:
    """The lens of an object that is known to be a camera."""
    return cast(bpy.types.Camera, thing.data)


def inputs_of(node: bpy.types.Node) -> "bpy.types.bpy_prop_collection[Socket]":
    """The inputs of a node, of which those with a constant are asked for."""
    return cast("bpy.types.bpy_prop_collection[Socket]", node.inputs)


def links_of(tree: bpy.types.NodeTree) -> "bpy.types.bpy_prop_collection[Link]":
    """The links of a node tree."""
    return cast("bpy.types.bpy_prop_collection[Link]", tree.links)


def values_of(attribute: bpy.types.Attribute) -> bpy.types.bpy_prop_collection:
    """The values of an attribute, of which the stand-in knows by its kind alone."""
    return cast(Any, attribute).data


def pixels_of(image: bpy.types.Image) -> "bpy.types.bpy_prop_array[float]":
    """The values of a picture, which the stand-in takes for one number."""
    return cast("bpy.types.bpy_prop_array[float]", image.pixels)


def items_of(kind: type[bpy.types.bpy_struct], name: str) -> bpy.types.bpy_prop_collection:
    """What can be chosen for a property of a kind of things."""
    return cast(bpy.types.EnumProperty, kind.bl_rna.properties[name]).enum_items


def choose(owner: bpy.types.bpy_struct | None, **items: str) -> None:
    """Chooses items that Blender lists when it is asked, of which the stand-in has few; every owner is there."""
    for name, item in items.items():
        setattr(owner, name, item)
