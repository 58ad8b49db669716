"""How the wear enters materials and leaves them again without a trace."""

from collections.abc import Collection, Generator, Iterable, Iterator
from functools import partial

import bpy

from .. import compat
from ..core.report import Skipped
from ..core.slices import whole
from ..core.wear import fade, kinds, layers, tint
from ..core.wear.layers import Wear
from ..core.wear.names import SWATCHES
from ..core.wear.quality import CLOSE_UP, Quality
from ..core.wear.texture import BROUGHT_IN, STAND_IN, WearImages
from ..transaction import at_end, transaction
from . import builder, hand, insertion, passes, seals, shaders, swatches
from .groups import wear as worn
from .surfaces import surfaces
from .trees import trees

_OF_PICTURES = (STAND_IN, BROUGHT_IN, SWATCHES)

_ALL_BUT = 0.95  # of a difference asked; what falls short of it is told

Materials = Iterable[bpy.types.Material | None]


def attach(
    materials: Materials, wear: Wear, images: WearImages, metres_per_mm: float, quality: Quality = CLOSE_UP
) -> tuple[Skipped, ...]:
    """Puts the wear before every shader of the materials that can wear; where it already is, it is put in anew.

    metres_per_mm: world units per millimetre. Returns the materials left alone, each with the reason. When something
    raises, all of the materials are as they were.

    A material or a node group that an object outside the build shows as well renders there in Cycles as it did, bit for
    bit: the wear reads the raw property `playworn_share` of the object, and without it lets through what comes in.
    Where light scatters below the surface, it is the same within the noise of the render.
    """
    return whole(attaching(materials, wear, images, metres_per_mm, quality))


def attaching(
    materials: Materials, wear: Wear, images: WearImages, metres_per_mm: float, quality: Quality = CLOSE_UP
) -> Generator[None, None, tuple[Skipped, ...]]:
    """The same in parts."""
    with transaction():
        return (yield from _attach(_distinct(materials), wear, images, metres_per_mm, quality))


def detach(materials: Materials, keep: Materials = ()) -> None:
    """Takes the wear out: whatever feeds it goes back to wherever it led. Groups and pictures only it used go too.

    What the materials share with those to `keep` stays worn.
    """
    whole(detaching(materials, keep))


def detaching(materials: Materials, keep: Materials = ()) -> Generator[None, None, None]:
    """The same in parts."""
    kept = {tree for material in _distinct(keep) for tree in trees(material)}
    for material in _distinct(materials):
        for tree in trees(material):
            if tree not in kept and not _is_foreign(material) and not _is_foreign(tree):
                insertion.take_out(tree)
        yield
    at_end(_sweep)


def detaching_everywhere() -> Generator[None, None, int]:
    """Takes the wear out of every tree of the file, in parts; out of how many materials."""
    worn = [material for material in bpy.data.materials if is_attached(material) and not _is_foreign(material)]
    yield from detaching(worn)
    for tree in bpy.data.node_groups:
        if not builder.stamp(tree) and not _is_foreign(tree):
            insertion.take_out(tree)
    return len(worn)


def ours() -> list[bpy.types.ID]:
    """Our groups and pictures in the file."""
    groups = [tree for tree in bpy.data.node_groups if builder.stamp(tree)]
    return [*groups, *(image for image in bpy.data.images if any(image.get(each) for each in _OF_PICTURES))]


def is_attached(material: bpy.types.Material) -> bool:
    """Whether the wear stands anywhere in the material."""
    return any(insertion.ours(tree) for tree in trees(material))


def _attach(
    materials: Collection[bpy.types.Material], wear: Wear, images: WearImages, metres_per_mm: float, quality: Quality
) -> Generator[None, None, tuple[Skipped, ...]]:
    skipped, entered = [], set()
    at_end(_sweep)

    made = dict[tuple, insertion.Group]()  # asked for, each makes Blender update all that uses it

    def grouping(surface: str, on: Wear, of_nodes: bool) -> Generator[None, None, insertion.Group]:
        textures = {kind: several.on(surface) for kind, several in images.items()}
        shown, coloured = worn.shown(on, quality), of_nodes and layers.changes_colours(on)
        wanted = shown, coloured, tuple(textures.values())
        if wanted not in made:
            looked_up = None
            if coloured:
                looked_up = yield from swatches.making(wear.tint.delta_e, wear.fade.delta_e)
            tree = yield from worn.wearing(textures, shown, quality, looked_up)
            made[wanted] = tree, worn.left_out(quality, shown, coloured)
            seals.put_on_new()
        return made[wanted]

    by_hand = dict[bpy.types.NodeTree, hand.Hand]()
    for tree in {tree for material in materials for tree in trees(material) if not _is_foreign(tree)}:
        by_hand[tree] = insertion.take_out(tree)
        yield
    dull = kinds.all_dull([each.roughness for each in surfaces(materials)])
    for material in materials:
        reason = _reason_to_skip(material)
        if reason:
            skipped.append(Skipped(material.name, reason))
            continue
        for tree in trees(material):
            skipped += [Skipped(material.name, reason) for reason in _left_out(tree)]
            if tree not in entered and not _is_foreign(tree):
                skipped += [Skipped(material.name, reason) for reason in _short(tree, wear)]
                entered.add(tree)
                surface = material.name if tree == material.node_tree else tree.name
                group = partial(grouping, surface)
                yield from insertion.putting_in(tree, wear, metres_per_mm, group, dull, by_hand[tree])
                yield
    passes.share(materials)
    return tuple(skipped)


def _distinct(materials: Materials) -> list[bpy.types.Material]:
    return list(dict.fromkeys(material for material in materials if material))


def _reason_to_skip(material: bpy.types.Material) -> str:
    if _is_foreign(material):
        return "is linked from another file: make it local to wear it"
    if not compat.shades_with_nodes(material):
        return "has no nodes"
    groups = (getattr(node, "node_tree", None) for tree in trees(material) for node in tree.nodes)
    if any(builder.stamp(group) not in (None, worn.KIND) for group in groups):
        return "has its wear taken apart by hand (Ungroup), and keeps it: with another it would be worn twice"
    if not any(shaders.shaders(tree) for tree in trees(material)):
        return "has no shader that can wear, such as Principled BSDF"
    return ""


def _left_out(tree: bpy.types.NodeTree) -> Iterator[str]:
    """What of a tree cannot wear, each as a reason."""
    found = shaders.shaders(tree)
    if found and _is_foreign(tree):
        yield f'has the node group "{tree.name}", which is linked from another file'
        return
    for shader in found:
        for socket in shaders.animated(tree, shader):
            yield f'has an animated {socket} in "{shader.name}", which is left as it is'


def _short(tree: bpy.types.NodeTree, wear: Wear) -> Iterator[str]:
    """What of the colour differences asked the constant colours of a tree cannot show, each as a reason."""
    for shader in shaders.shaders(tree):
        colour = shaders.colour(tree, shader)
        if colour is None:
            continue
        for asked, most, words in (
            (wear.fade.delta_e, fade.furthest(colour), "fades by {:.1f} of the {:g} asked"),
            (wear.tint.delta_e, tint.furthest(colour), "has lots that differ by {:.1f} of the {:g} asked"),
        ):
            if most < _ALL_BUT * asked:
                yield f"{words.format(most, asked)} (CIEDE2000): its colour can go no further"


def _is_foreign(block: bpy.types.ID) -> bool:
    return bool(block.library or block.override_library)


def _sweep() -> None:
    """Removes our groups and our pictures that nothing uses any more but what goes with them."""
    users = {block: block.users for block in ours()}
    gone = [block for block, count in users.items() if not count]
    for block in gone:  # it grows meanwhile
        for used in _used(block):
            if used in users:
                users[used] -= 1
                if not users[used]:
                    gone.append(used)
    if gone:  # removing none too makes Blender link up all objects
        bpy.data.batch_remove(gone)


def _used(block: bpy.types.ID) -> Iterator[bpy.types.ID]:
    """The groups and pictures that a group shows, once for each of its nodes."""
    for node in block.nodes if isinstance(block, bpy.types.NodeTree) else ():
        for used in (getattr(node, "node_tree", None), getattr(node, "image", None)):
            if used is not None:
                yield used
