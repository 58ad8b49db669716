"""The material slots of bricks: what they show, and a material for those that show nothing which could wear.

A slot sits on the mesh that bricks share, so one material there serves them all. Where something outside the build
shares the mesh, the slots of the bricks themselves take the material and the mesh's own stays as it is.
"""

from collections.abc import Callable, Generator, Iterable
from functools import partial

import bpy
import numpy as np

from ... import compat, raw
from ...blender import mesh_of, values_of
from ...core.report import Skipped
from ...core.slices import is_over, whole
from ...transaction import Back, at_end, keep
from . import originals

GIVEN = "playworn_given"  # on a material: its name, as long as it is ours; copied or renamed it is the artist's
INSTEAD_OF = "playworn_instead_of"  # on it: the material without nodes whose place it takes
ADDED = "playworn_slot"  # on a mesh: its only slot is ours
TURNED = "playworn_slots"  # on a brick: slot number -> what its own slot held while the mesh's was shown, or 0

Make = Callable[[bpy.types.Material | None], bpy.types.Material]


def materials(objects: Iterable[bpy.types.Object]) -> list[bpy.types.Material]:
    """The materials that objects show, whether by their mesh or by themselves, each once."""
    shown = dict.fromkeys(slot.material for thing in objects for slot in thing.material_slots)
    return [material for material in shown if material is not None]


def fill(objects: Iterable[bpy.types.Object], make: Make) -> tuple[Skipped, ...]:
    """Gives every slot that is empty, or shows a material without nodes, what `make` makes to take its place.

    An object without any slot gets one. Returns the meshes left alone, each with the reason.
    """
    return whole(filling(objects, make))


def filling(objects: Iterable[bpy.types.Object], make: Make) -> Generator[None, None, tuple[Skipped, ...]]:
    """The same in parts."""
    by_mesh = _by_mesh(objects)
    yield
    _keep(by_mesh)
    yield
    given, skipped = _Given(make), list[Skipped]()
    for mesh, things in by_mesh.items():
        if left := _fill(mesh, things, given):
            skipped.append(left)
        if is_over():
            yield
    return tuple(skipped)


def own(material: bpy.types.Material | None) -> bpy.types.Material | None:
    """The material itself; of one of ours that whose place it takes, None where that was an empty slot."""
    if not _is_ours(material):
        return material
    taken = material.get(INSTEAD_OF)
    return taken if isinstance(taken, bpy.types.Material) else None


def of_object(thing: bpy.types.Object) -> list[tuple[int, str]]:
    """The slots that an object fills by itself, and with what, ours taken out again."""
    filled = [(n, slot.material) for n, slot in enumerate(thing.material_slots) if slot.link == "OBJECT"]
    turned = _turned(thing)
    return [(n, _named(one)) for n, one in filled if not (str(n) in turned and _is_ours(one))]


def of_mesh(mesh: bpy.types.Mesh) -> list[str]:
    """What the slots of a mesh hold, ours taken out again."""
    found = [_named(material) for material in mesh.materials]
    return [] if ADDED in mesh and found == [""] else found


def _named(material: bpy.types.Material | None) -> str:
    taken = own(material)
    return taken.name_full if taken else ""


def give_back(objects: Iterable[bpy.types.Object]) -> None:
    """Takes our materials and slots out again, of meshes that nothing shows any more too: every slot holds what it held
    before."""
    whole(giving_back(objects))


def giving_back(objects: Iterable[bpy.types.Object]) -> Generator[None, None, None]:
    """The same in parts."""
    by_mesh = _by_mesh(objects) | _unshown()
    yield
    _keep(by_mesh)
    yield
    for mesh, things in by_mesh.items():
        for thing in things:
            if TURNED in thing:
                _turn_back(thing)
            for slot in thing.material_slots:
                if slot.link == "OBJECT" and _is_ours(slot.material):
                    slot.material = own(slot.material)
        for number, material in enumerate(mesh.materials):
            if _is_ours(material):
                mesh.materials[number] = own(material)
        over = _over(mesh, things) if ADDED in mesh else []
        if ADDED in mesh and not any(map(_is_ours, over)):  # else it is another build's, too
            del mesh[ADDED]
            if not over and list(mesh.materials) == [None]:
                _clear_slots(mesh)
        if is_over():
            yield
    if left := [material for material in ours() if material.users]:
        _take_from_beneath(left)
    at_end(_sweep)


def show_meshes(objects: Iterable[bpy.types.Object]) -> None:
    """Lets bricks show the slots of their meshes again where ours are in the way."""
    turned = [thing for thing in objects if TURNED in thing]
    if turned:
        _keep(_by_mesh(turned))
    for thing in turned:
        _turn_back(thing)


def ours() -> list[bpy.types.Material]:
    """Our materials in the file."""
    return [material for material in bpy.data.materials if _is_ours(material)]


def _sweep() -> None:
    """Removes our materials that nothing shows."""
    if unused := [material for material in ours() if not material.users]:
        bpy.data.batch_remove(unused)  # removing none too makes Blender link up all objects anew


def _take_from_beneath(materials: list[bpy.types.Material]) -> None:
    """Takes ours out of slots that an artist let show the mesh's since: what such a slot holds itself it still uses."""
    users = set().union(*bpy.data.user_map(subset=materials, value_types={"OBJECT"}).values())
    for thing in [each for each in bpy.data.objects if each in users]:
        for slot in thing.material_slots if not _is_foreign(thing) else ():
            if slot.link == "DATA":
                slot.link = "OBJECT"
                held, slot.link = slot.material, "DATA"
                if _is_ours(held):
                    keep(partial(partial, _hold, thing, slot.slot_index, held))
                    _hold(thing, slot.slot_index, own(held))


def _hold(thing: bpy.types.Object, number: int, material: bpy.types.Material | None) -> None:
    """Puts a material into a brick's own slot, beneath its mesh's that is shown."""
    slot = thing.material_slots[number]
    slot.link = "OBJECT"
    slot.material = material
    slot.link = "DATA"


def _keep(by_mesh: dict[bpy.types.Mesh, list[bpy.types.Object]]) -> None:
    raw.keep_all(by_mesh, (ADDED,))
    raw.keep_all([thing for things in by_mesh.values() for thing in things], (TURNED,))
    keep(lambda: _before(by_mesh))


def _before(by_mesh: dict[bpy.types.Mesh, list[bpy.types.Object]]) -> Back:
    """What every slot holds now, on meshes and on the bricks themselves."""
    on_mesh = {mesh: list(mesh.materials) for mesh in by_mesh}
    own = [
        (thing, n, slot.material)
        for things in by_mesh.values()
        for thing in things
        for n, slot in enumerate(thing.material_slots)
        if slot.link == "OBJECT"
    ]

    def back() -> None:
        for thing in (thing for things in by_mesh.values() for thing in things):
            if TURNED in thing:
                _turn_back(thing)
        for mesh, materials in on_mesh.items():
            _set(mesh, materials)
        for thing, n, material in own:
            slot = thing.material_slots[n]
            slot.link = "OBJECT"
            slot.material = material

    return back


def _set(mesh: bpy.types.Mesh, materials: list[bpy.types.Material | None]) -> None:
    if len(mesh.materials) != len(materials):
        _clear_slots(mesh)
        for _ in materials:
            mesh.materials.append(None)
    for n, material in enumerate(materials):
        if mesh.materials[n] != material:
            mesh.materials[n] = material


class _Given:
    """Our materials, one for all empty slots and one for each material without nodes."""

    def __init__(self, make: Make):
        self._make = make
        self._made = {one.get(INSTEAD_OF): one for one in bpy.data.materials if _is_ours(one) and not one.library}

    def __call__(self, instead_of: bpy.types.Material | None) -> bpy.types.Material:
        if instead_of not in self._made:
            made = self._made[instead_of] = self._make(instead_of)
            made[GIVEN] = made.name
            if instead_of is not None:
                made[INSTEAD_OF] = instead_of
        return self._made[instead_of]


def _fill(mesh: bpy.types.Mesh, things: list[bpy.types.Object], given: _Given) -> Skipped | None:
    free = [thing for thing in things if not _is_foreign(thing)]
    if not mesh.materials:
        if _is_foreign(mesh) or not free:
            return Skipped(mesh.name, "has no material and is linked from another file: give it one there")
        mesh.materials.append(None)
        mesh[ADDED] = True
    if not any(map(_is_lacking, {slot.material for thing in things for slot in thing.material_slots})):
        return None
    if _is_alone(mesh, things) and not _is_foreign(mesh):
        shown = {n for thing in things for n, slot in enumerate(thing.material_slots) if slot.link == "DATA"}
        for number, material in enumerate(mesh.materials):
            if number in shown and _is_lacking(material):
                mesh.materials[number] = given(material)
    for thing in free:
        for number, slot in enumerate(thing.material_slots):
            if _is_lacking(slot.material) and slot.link == "DATA":
                _turn(thing, number, given(slot.material))
            elif _is_lacking(slot.material):
                slot.material = given(slot.material)
    if any(_is_lacking(slot.material) for thing in things for slot in thing.material_slots):
        return Skipped(mesh.name, "shows no material on bricks that are linked from another file")
    return None


def _turn(thing: bpy.types.Object, number: int, material: bpy.types.Material) -> None:
    """Lets a brick show its own slot instead of its mesh's."""
    slot = thing.material_slots[number]
    slot.link = "OBJECT"
    thing[TURNED] = {**_turned(thing), str(number): slot.material or 0}
    slot.material = material


def _turn_back(thing: bpy.types.Object) -> None:
    for number, held in _turned(thing).items():
        slot = thing.material_slots[int(number)] if int(number) < len(thing.material_slots) else None
        if slot is not None and slot.link == "OBJECT" and _is_ours(slot.material):
            slot.material = held if isinstance(held, bpy.types.Material) else None
            slot.link = "DATA"
    del thing[TURNED]


def _turned(thing: bpy.types.Object) -> dict[str, bpy.types.Material | int]:
    return thing[TURNED].to_dict() if TURNED in thing else {}


def _is_alone(mesh: bpy.types.Mesh, things: list[bpy.types.Object]) -> bool:
    """Whether no other objects than these show the mesh."""
    return len(things) == mesh.users - mesh.use_fake_user


def _over(mesh: bpy.types.Mesh, things: list[bpy.types.Object]) -> list[bpy.types.Material | None]:
    """What objects, of another build or by the artist's hand, show in slots of their own over the mesh's."""
    if not _is_alone(mesh, things):
        things = [thing for thing in bpy.data.objects if thing.data == mesh]
    return [slot.material for thing in things for slot in thing.material_slots if slot.link == "OBJECT"]


def _clear_slots(mesh: bpy.types.Mesh) -> None:
    """Removes the slots; which faces would show which, a mesh may know without any, and Blender forgets that here."""
    wanted = mesh.attributes.get("material_index")
    numbers = np.zeros(len(mesh.polygons), np.int32)
    if wanted is not None:
        wanted.data.foreach_get("value", numbers)
    mesh.materials.clear()
    if wanted is not None:
        values_of(mesh.attributes.new("material_index", "INT", "FACE")).foreach_set("value", numbers)


def _by_mesh(objects: Iterable[bpy.types.Object]) -> dict[bpy.types.Mesh, list[bpy.types.Object]]:
    grouped: dict[bpy.types.Mesh, list[bpy.types.Object]] = {}
    for thing in objects:
        if thing.type == "MESH":
            grouped.setdefault(mesh_of(thing), []).append(thing)
    return grouped


def _unshown() -> dict[bpy.types.Mesh, list[bpy.types.Object]]:
    """Meshes with materials of ours that no object shows, nor a twin for it: their bricks were given another, or are
    gone."""
    found = [mesh for mesh in bpy.data.meshes if not _is_foreign(mesh) and any(map(_is_ours, mesh.materials))]
    shown = {thing.data for thing in bpy.data.objects} if found else set()
    shown.update([originals.original(data) for data in shown])
    return {mesh: [] for mesh in found if mesh not in shown}


def _is_lacking(material: bpy.types.Material | None) -> bool:
    return material is None or not (_is_foreign(material) or compat.shades_with_nodes(material))


def _is_ours(material: bpy.types.Material | None) -> bool:
    return material is not None and material.get(GIVEN) == material.name


def _is_foreign(block: bpy.types.ID) -> bool:
    return bool(block.library or block.override_library)
