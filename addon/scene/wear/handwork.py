"""What an artist did to rounded bricks, and where it goes, so that none of it is lost with the twins.

Without us all bricks of a part would show one mesh, and the hand would have been on that one. So what the mesh that a
twin stands for can take goes there: materials, names, settings, custom properties, a way that all points went. A copy
of a twin means a copy of that mesh. Anything else is in the twin alone: it becomes the bricks' own mesh, which nothing
of ours rounds, replaces or removes any more. Only a twin that is what was made, to the last bit, is ever let go.
"""

from collections.abc import Generator, Iterable, Sequence
from contextlib import suppress
from itertools import chain
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix

from ... import raw
from ...blender import meshes_of
from ...core.errors import BuildProblem
from ...core.report import Skipped
from ...core.slices import is_over, whole
from ...transaction import Back, at_end, keep
from . import imprint
from .imprint import FAKE_USER, IMPRINT, MATERIALS, NAME, SETTING, Change, told
from .originals import BODY, ORIGINAL, SHAPE, SHRINK, are_there, original
from .slots import ADDED

_SAME_WAY = 1e-6  # of a way, and of its length
KEPT = "keeps the mesh that you changed"
_intact: set[int] = set()  # session numbers of the twins that are what was made, as known in the open transaction


def adopt(objects: Sequence[bpy.types.Object]) -> tuple[Skipped, ...]:
    """What was changed of the twins of some objects goes where it stays. Returns those of the objects that have a mesh
    of their own from here on; BuildProblem where one is being edited.

    To be called before a build is read: what its bricks are measured by may be another mesh afterwards.
    """
    return whole(adopting(objects))


def adopting(objects: Sequence[bpy.types.Object]) -> Generator[None, None, tuple[Skipped, ...]]:
    """The same in parts."""
    if not are_there(SHAPE):
        return ()
    twins = [twin for twin in _twins(thing.data for thing in objects) if twin.session_uid not in _intact]
    if not twins:
        return ()
    things = _things(twins)
    _refuse_modes(chain.from_iterable(things.values()))
    hands = []
    for twin in twins:
        hands.append(_Hand(twin, things[twin]))
        if is_over():
            yield
    copies = _copies(hands)
    hands = [hand for hand in hands if hand.change or hand in copies or not hand.original]
    _settle(hands, copies, twins)
    keep(lambda: _intact.clear)
    _intact.update(twin.session_uid for twin in twins if SHAPE in twin)
    at_end(_intact.clear)
    own = {hand.twin for hand in hands if SHAPE not in hand.twin}
    return tuple(Skipped(thing.name, KEPT) for thing in objects if thing.data in own)


def adopt_moved(objects: Sequence[bpy.types.Object]) -> tuple[Skipped, ...]:
    """The same where points of any of the twins have moved; nothing else matters to a job that leaves twins where they
    are."""
    shown = {mesh for mesh in meshes_of(objects) if mesh and SHAPE in mesh}
    return adopt(objects) if any(map(imprint.is_moved, shown)) else ()


def _settle(hands: list["_Hand"], copies: set["_Hand"], twins: list[bpy.types.Mesh]) -> None:
    if not hands:
        return
    originals = {hand.original for hand in hands if hand.original}
    alike = [twin for twin in twins if twin.get(ORIGINAL) in originals]
    keep(lambda: dressed([*originals, *{*alike, *(hand.twin for hand in hands)}]))
    left = Left()
    stood_for = [hand.stood_for(hand in copies, left) for hand in hands]  # each before another's hand is on it
    for hand, mesh in zip(hands, stood_for, strict=True):
        hand.settle(mesh, left)
    for twin in alike:
        if SHAPE in twin:
            dress(twin, twin[ORIGINAL])
    at_end(left.sweep)


def dress(twin: bpy.types.Mesh, mesh: bpy.types.Mesh) -> None:
    """Gives a twin what hangs on no point of the mesh that it stands for: materials, settings, custom properties."""
    have, wanted = told(twin), told(mesh)
    other = [key for key in have.keys() | wanted.keys() if have.get(key) != wanted.get(key)]
    _copy(mesh, twin, [key for key in other if key not in (NAME, FAKE_USER)])
    if IMPRINT in twin:
        imprint.retell(twin)


def dressed(meshes: Iterable[bpy.types.Mesh]) -> Back:
    """How meshes are now, but for their points, edges and faces."""
    were = [
        (mesh, mesh.name, list(mesh.materials), imprint.settings(mesh), imprint.properties(mesh)) for mesh in meshes
    ]

    def back() -> None:
        for mesh, name, materials, settings, written in were:
            if mesh.name != name:
                mesh.name = name
            _show(mesh, materials)
            now = imprint.settings(mesh)
            for each, value in settings.items():
                if now.get(each) != value:
                    setattr(mesh, each, value)
            for each in imprint.properties(mesh).keys() - written.keys():
                del mesh[each]
            for each, value in written.items():
                mesh[each] = value

    return back


class _Hand:
    """A twin, and what was done to it."""

    def __init__(self, twin: bpy.types.Mesh, things: list[bpy.types.Object]):
        self.twin, self.things = twin, things
        self.original: bpy.types.Mesh | None = own if (own := original(twin)) is not twin else None
        self.change: Change | None = imprint.change(twin, things)

    def stood_for(self, is_copy: bool, left: "Left") -> bpy.types.Mesh | None:
        """The mesh that it stands for, or is measured by, from here on; None where it is its bricks' own alone."""
        change, mesh = self.change or imprint.NONE, self.original
        if mesh is None or not change.is_of_part:
            return None
        if change.way is not None and change.is_moved:
            mesh = left.moved(mesh, change.way, is_copy)
        elif change.is_light and (is_copy or not mesh.is_editable):
            mesh = left.copied(mesh)
        return mesh

    def settle(self, mesh: bpy.types.Mesh | None, left: "Left") -> None:
        """Lets what was done go where it stays: into the mesh that it stands for, or with the twin."""
        change = self.change or imprint.NONE
        if mesh is not None and change.is_light:
            self._stand_for(mesh, change.own)
        else:
            self._become_own(mesh, left)

    def _stand_for(self, mesh: bpy.types.Mesh, own: tuple[str, ...]) -> None:
        _carry(self.twin, mesh, own)
        if mesh != self.original:
            self.twin[ORIGINAL] = mesh
            self.twin[SHAPE] = f"{self.twin[SHAPE].split(' ')[0]} {mesh.name_full}"
            imprint.put(self.twin, self.things)

    def _become_own(self, body: bpy.types.Mesh | None, left: "Left") -> None:
        """`body` is what the bricks are measured by, where that is not the twin itself."""
        twin = self.twin
        marks = (SHAPE, ORIGINAL, IMPRINT) if self.things else (SHAPE, ORIGINAL, IMPRINT, SHRINK)
        for mark in (mark for mark in marks if mark in twin):
            del twin[mark]
        if body is not None and self.things:
            twin[BODY] = body
        if self.original is not None:
            left.may_go(self.original)
            if ADDED in self.original:
                twin[ADDED] = True


class Left:
    """Meshes that nothing may need any more, and that go where it is so; a copy in the place of one takes its name,
    unless the artist has given it another."""

    def __init__(self) -> None:
        self._heirs: dict[int, list[tuple[bpy.types.Mesh, str]]] = {}
        self._moved: list[tuple[bpy.types.Mesh, np.ndarray, bpy.types.Mesh]] = []
        self._owed: list[tuple[bpy.types.Mesh, str, str]] = []

    def copied(self, mesh: bpy.types.Mesh) -> bpy.types.Mesh:
        made: list[bpy.types.Mesh] = []
        keep(lambda: lambda: bpy.data.batch_remove(made))
        made.append(mesh.copy())
        self._heirs.setdefault(mesh.session_uid, []).append((made[0], made[0].name))
        return made[0]

    def moved(self, mesh: bpy.types.Mesh, way: np.ndarray, is_single: bool) -> bpy.types.Mesh:
        """A copy whose points all went a way (4, 4); bricks of one mesh that went the same way go on sharing one."""
        shared = (copy for of, along, copy in self._moved if of == mesh and _is_same_way(along, way))
        if not is_single and (there := next(shared, None)):
            return there
        made = self.copied(mesh)
        made.transform(Matrix(way.tolist()))
        if not is_single:
            self._moved.append((mesh, way, made))
        return made

    def may_go(self, mesh: bpy.types.Mesh) -> None:
        self._heirs.setdefault(mesh.session_uid, [])

    def sweep(self) -> None:
        gone = [mesh for mesh in bpy.data.meshes if mesh.session_uid in self._heirs and not mesh.users]
        for mesh in gone:
            unnamed = [heir for heir, as_copied in self._heirs[mesh.session_uid] if heir.name == as_copied]
            self._owed += [(heir, heir.name, mesh.name) for heir in unnamed[:1]]  # also if interrupted next
            bpy.data.meshes.remove(mesh)
        for heir, as_copied, name in self._owed:
            if heir.name == as_copied:
                heir.name = name


def _is_same_way(one: np.ndarray, other: np.ndarray) -> bool:
    """As far as the points' own digits tell."""
    is_turned_alike = np.abs(one[:3, :3] - other[:3, :3]).max() <= _SAME_WAY
    return is_turned_alike and np.abs(one[:3, 3] - other[:3, 3]).max() <= _SAME_WAY * np.abs(one[:3, 3]).max()


def _twins(meshes: Iterable[bpy.types.ID | None]) -> list[bpy.types.Mesh]:
    """The twins of this file that stand for what any of some meshes is or stands for, shown or not."""
    shown = {mesh for mesh in meshes if mesh is not None and SHAPE in mesh}
    wanted = set(map(original, shown))
    return [
        mesh
        for mesh in bpy.data.meshes
        if SHAPE in mesh and mesh.is_editable and (mesh.get(ORIGINAL) in wanted or mesh in shown)
    ]


def _things(twins: list[bpy.types.Mesh]) -> dict[bpy.types.Mesh, list[bpy.types.Object]]:
    """The objects of the file that show each."""
    found: dict[bpy.types.Mesh, list[bpy.types.Object]] = {twin: [] for twin in twins}
    for thing in bpy.data.objects:
        if thing.data in found:
            found[thing.data].append(thing)
    return found


def _refuse_modes(things: Iterable[bpy.types.Object]) -> None:
    for thing in things:
        if thing.mode != "OBJECT":
            raise BuildProblem(f'the brick "{thing.name}" is being edited: go back to Object Mode, then do this again')


def _copies(hands: list[_Hand]) -> set[_Hand]:
    """Those that Blender made as copies of another, by making a brick a single user or by duplicating it."""
    alike: dict[tuple, list[_Hand]] = {}
    for hand in hands:
        if hand.things and hand.original:
            alike.setdefault((hand.twin[SHAPE], hand.original), []).append(hand)
    found = set[_Hand]()
    for members in alike.values():
        if len(members) > 1:
            members.sort(key=lambda hand: not imprint.is_named(hand.twin))
            found.update(members[1:])
    return found


def _carry(twin: bpy.types.Mesh, mesh: bpy.types.Mesh, own: tuple[str, ...]) -> None:
    """Gives the mesh that a twin stands for what was changed of the twin's data-block."""
    _copy(twin, mesh, [key for key in own if key not in (NAME, FAKE_USER)])
    if FAKE_USER in own:
        mesh.use_fake_user, twin.use_fake_user = True, False
    if NAME in own:
        name = twin.name
        twin.name = f"{name} rounded"
        mesh.name = name
    if own and IMPRINT in twin:
        imprint.retell(twin)


def _copy(source: bpy.types.Mesh, target: bpy.types.Mesh, keys: list[str]) -> None:
    """Makes the target like the source in what some keys of `told` tell."""
    for key in keys:
        name = key.partition(" ")[2]
        if key == MATERIALS:
            _show(target, list(source.materials))
        elif key.startswith(SETTING):
            setattr(target, name, getattr(source, name))
        elif name in source:
            target[name] = raw.plain(source[name])
            with suppress(TypeError):  # groups and data-blocks have no range
                known: Any = target.id_properties_ui(name)
                known.update_from(source.id_properties_ui(name))
        elif name in target:
            del target[name]


def _show(mesh: bpy.types.Mesh, materials: list[bpy.types.Material | None]) -> None:
    while len(mesh.materials) > len(materials):
        mesh.materials.pop()
    for number, material in enumerate(materials):
        if number == len(mesh.materials):
            mesh.materials.append(material)
        elif mesh.materials[number] != material:
            mesh.materials[number] = material
