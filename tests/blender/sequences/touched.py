"""What an artist did to bricks while they bore something of ours: by object, whatever it is called by then."""

import bpy

from addon.scene import curves
from addon.scene.fit import deltas
from addon.scene.wear import originals, stamps

MADE_REAL = "make_instances_real"
Uid = int


class Touched:
    """Remembers the names of actions by object; what is made out of a touched one was touched too."""

    def __init__(self) -> None:
        self._of: dict[Uid, set[str]] = {}
        self._named: dict[Uid, str] = {}
        self._made_of: list[Uid] = []
        self._with_mesh: dict[Uid, list[Uid]] = {}  # the touched objects that show each mesh
        self._real: set[Uid] = set()  # the meshes of what bears ours, while instances of it are made real

    def before(self, action: str, chosen: list) -> None:
        """An action is about to be done to those of the chosen that are objects."""
        self._look()
        names = [name for each in chosen for name in (each if isinstance(each, list) else [each])]
        found = [bpy.context.view_layer.objects.get(name) for name in names if isinstance(name, str)]
        things = [thing for thing in found if thing]
        self._made_of = [thing.session_uid for thing in things]
        self._with_mesh = {}
        for thing in bpy.data.objects:
            if thing.data and thing.session_uid in self._of:
                self._with_mesh.setdefault(thing.data.session_uid, []).append(thing.session_uid)
        worn = (thing.data.session_uid for thing in bpy.data.objects if thing.data and _bears_ours(thing))
        self._real = set(worn) if action == MADE_REAL else set()
        if action == "parent_to_brick":
            things += [below for below in things[0].children_recursive if below not in things] if things else []
        if any(map(_bears_ours, things)):  # what is done to several goes by where all of them stand
            for thing in things:
                for sharing in _sharing(thing):
                    how = {action if sharing == thing else f"{action} of another"}
                    if originals.ORIGINAL in (thing.data or {}):
                        how.add("its rounded mesh")
                    if curves.held(sharing, (1,)):
                        how.add("its keys")
                    self._of.setdefault(sharing.session_uid, set()).update(how)
        if action == "join" and any(uid in self._of for uid in self._made_of[1:]):
            of_first = self._of.setdefault(self._made_of[0], set())
            of_first.add("join of one that was touched")
            if any("its rounded mesh" in self._of.get(uid, ()) for uid in self._made_of[1:]):
                of_first.add("its rounded mesh")
        if action in ("rotate", "scale") and any(uid in self._of for uid in self._made_of):
            for uid in self._made_of:
                self._of.setdefault(uid, set()).add(f"{action} with one that was touched")

    def after(self) -> None:
        """It is done: new objects were made out of the chosen ones, or where none were chosen, as with instances made
        real, out of those with their mesh; a file opened again gives all other numbers."""
        known, by_name = self._named, {name: uid for uid, name in self._named.items()}
        if known and not any(thing.session_uid in known for thing in bpy.data.objects):
            self._of = {
                thing.session_uid: self._of[by_name[thing.name]]
                for thing in bpy.data.objects
                if by_name.get(thing.name) in self._of
            }
        else:
            for thing in bpy.data.objects:
                if thing.session_uid not in known:
                    alike = self._with_mesh.get(thing.data.session_uid, []) if thing.data else []
                    made = set().union(*(self._of.get(uid, set()) for uid in self._made_of or alike))
                    if thing.data and thing.data.session_uid in self._real:
                        made.add(MADE_REAL)
                    if made:
                        self._of.setdefault(thing.session_uid, set()).update(made)
        self._look()

    def by_name(self) -> dict[str, set[str]]:
        return {thing.name: self._of[thing.session_uid] for thing in bpy.data.objects if thing.session_uid in self._of}

    def _look(self) -> None:
        self._named = {thing.session_uid: thing.name for thing in bpy.data.objects}


def _bears_ours(thing: bpy.types.Object) -> bool:
    return getattr(thing, deltas.RECORD)[0] > 0 or stamps.SHARE in thing


def _sharing(thing: bpy.types.Object) -> list[bpy.types.Object]:
    """The object itself, and those that show the same mesh or one rounded from it."""
    own = originals.original(thing.data)
    return [thing, *(other for other in bpy.data.objects
                     if own is not None and other != thing and originals.original(other.data) == own)]  # fmt: skip
