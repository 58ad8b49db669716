"""Where a file is another by purpose than one that was never worn: each case with its reason, as narrow as it is.

A difference that fits none of these is a fault.
"""

import re
from collections.abc import Callable

import numpy as np

from .case import CARRIED, DRAWN, HANDS, KEYS, MIXING, ON_DELTAS, ON_MESH, OVER_KEYS, TWIN, Case
from .seen import Difference

_FORM = {"points", "bits", "faces", "attributes", "there"}


def reason(each: Difference, case: Case) -> str:
    """Why a difference is meant, "" where it is not."""
    return next((why for why, is_meant in _MEANT.items() if is_meant(each, case)), "")


def _turned_together(each: Difference, case: Case) -> bool:
    """Blender turned them about a middle that it took itself. Clear takes off what is ours of each, and each is off as
    one: nothing of the artist's is lost, and where the middle would have lain nobody wrote down. Once all is cleared,
    one among them that is off by purpose takes the middle along."""
    if each.kind != "objects" or each.part != "world":
        return False
    with_it = ("rotate with one that was touched", "scale with one that was touched")
    return case.did(each.name, "rotate", "scale", *with_it) and case.went_as_one(each.name)


def _in_what_order(each: Difference, case: Case) -> bool:
    """A turn and then a shift are not a shift and then a turn; channels alone do not tell which it was. No mesh and no
    channel that Blender did not mix is let through."""
    is_place = each.kind == "objects" and each.part == "world"
    return is_place and len(HANDS & case.touched.get(each.name, set())) > 1 and case.went_little(each.name)


def _refused_without(each: Difference, case: Case) -> bool:
    """A brick without a slot has one of ours while it is worn: what was taken away was that."""
    return each.kind == "step" and "'remove_slot'" in each.name and "poll() failed" in each.never and not each.now


def _over_own_key(each: Difference, case: Case) -> bool:
    """Blender takes it away whenever it looks at the frame anew, which it does when ours is put on."""
    is_place = each.kind == "objects" and each.part in ("world", "channels")
    return is_place and case.did(each.name, "key") and case.did(each.name, *OVER_KEYS)


def _origin_of_pulled(each: Difference, case: Case) -> bool:
    """How far an origin went is told by the box of the mesh, and that is another since a point was pulled."""
    is_place = each.kind == "objects" and each.part == "world"
    did = case.did(each.name, "origin_to_geometry") and case.did(each.name, *ON_MESH)
    return is_place and did and case.went_little(each.name)


def _origin_of_one(each: Difference, case: Case) -> bool:
    """Rounded to two sizes they share no mesh, and that of the other stays as it is; without ours the other jumps."""
    if each.kind == "meshes":
        moved = [one for one in case.shown.get(each.name, ()) if case.did(one, TWIN, "origin_to_geometry")]
        return each.part in ("points", "bits") and any(map(case.is_parted, moved)) and case.lies_as_if_moved(each.name)
    is_place = each.kind == "objects" and each.part == "world"
    did = case.did(each.name, TWIN) and case.did(each.name, "origin_to_geometry of another")
    return is_place and did and case.jumped(each.name)


def _joined_empty(each: Difference, case: Case) -> bool:
    """Of bricks without a slot one had ours and the other none: Blender makes two of them, empty once ours is gone."""
    things = case.shown.get(each.name, set()) if each.kind == "meshes" else {each.name}
    if not any(case.did(one, "join", "join of another") for one in things):
        return False
    if each.part == "attributes":
        differs = {name for name in each.never.keys() | each.now.keys() if each.never.get(name) != each.now.get(name)}
        return differs == {"material_index"}
    return each.part in ("materials", "slots") and set(each.now) <= {None, ("DATA", None)}


def _origin_below_parent(each: Difference, case: Case) -> bool:
    """What Blender makes of it depends on how the brick stands in the world, ours within, and is told by no channel."""
    hangs = case.never.get(("objects", each.name, "parent"), (None,))[0] is not None
    is_place = each.kind == "objects" and each.part == "world"
    return is_place and hangs and case.did(each.name, "origin_to_geometry") and case.went_as_one(each.name)


def _origin_of_shared(each: Difference, case: Case) -> bool:
    """Where bricks that hang on a turned frame share a mesh, Blender moves all but the first the way that the middle
    goes in the world, as though it were the frame's, and they are seen to jump; rounded to two sizes they share none,
    and stay."""
    is_place = each.kind == "objects" and each.part == "world"
    if not is_place or case.never.get(("objects", each.name, "parent"), (None,))[0] is None:
        return False
    did = all(case.did(each.name, name) for name in (TWIN, "origin_to_geometry", "origin_to_geometry of another"))
    return did and case.jumped(each.name)


def _origin_of_given(each: Difference, case: Case) -> bool:
    """A brick remembers the box of the mesh that it had when it was moved, and not where the middle of another lay that
    it was given since."""
    is_place = each.kind == "objects" and each.part == "world"
    did = case.did(each.name, "link_data") and case.did(each.name, "origin_to_geometry")
    return is_place and did and case.went_as_one(each.name)


def _origin_of_rounded(each: Difference, case: Case) -> bool:
    """The middle that Blender shows as the origin is that of the rounded mesh, with the clearance on one side of it,
    say; those that share the mesh Blender moves by it, and those of another size have one of their own by then, which
    uses its materials once more."""
    if each.kind == "materials":
        moved = [name for name in case.touched if case.did(name, TWIN) and case.did(name, "origin_to_geometry")]
        return each.part == "users" and any(case.is_parted(name) for name in moved)
    whose = {each.name} if each.kind == "objects" else case.shown.get(each.name, set())
    if not any(case.did(one, TWIN) and case.did(one, "origin_to_geometry") for one in _sharing(whose, case)):
        return False
    if each.kind == "objects":
        return each.part == "world" and case.went_as_one(each.name)
    return each.kind == "meshes" and each.part in ("points", "bits") and case.lies_as_one(each.name)


def _sharing(names: set[str], case: Case) -> set[str]:
    """Some objects, and those that show a mesh with one of them in either look."""
    return names.union(*(case.shown_with(name) for name in names))


def _measured(each: Difference, case: Case) -> bool:
    """Where the next version lies on the one before is a mean of measured places, and rounds otherwise by what else is
    there."""
    is_place = each.kind == "objects" and each.part == "channels" and case.is_updated
    return is_place and np.allclose(each.never, each.now, rtol=1e-6, atol=1e-6)


def _another_for_an_update(each: Difference, case: Case) -> bool:
    """It lies where its motion took it, by the way that Clear tells, and an update believes what it measures: the brick
    waits, another came in its place, and what lies on it lies by the middle of others."""
    stays = any(case.did(name, "apply_transforms", "join") for name in case.touched)
    parts = {
        "collections": {"objects"}, "materials": {"users"}, "meshes": {"there"},
        "objects": {"there", "channels", "collections", "world", "shown", "data", "parent"},
    }  # fmt: skip
    return case.is_updated and stays and each.part in parts.get(each.kind, ())


def _parted(each: Difference, case: Case) -> bool:
    """Of a mesh that is shown by others now, or of a brick that shows the mesh as it was, and stands as it should: the
    hand was on the mesh of another, which keeps all of it."""
    if _is_copied_apart(each, case) or _is_rounded_twofold(each, case):
        return True
    if each.kind == "objects" and each.part in ("groups", "slots", "world"):
        is_other = case.is_own(each.name) and not case.did(each.name, *ON_MESH)
        return is_other and (each.part != "world" or case.stands_still(each.name))
    if each.kind != "meshes":
        return False
    shown = [name for name in case.shown.get(each.name, ()) if case.never.get(("objects", name, "data")) == each.name]
    left = [name for name in shown if case.now.get(("objects", name, "data")) != each.name]
    return bool(left) and all(map(case.is_own, shown))


def _is_copied_apart(each: Difference, case: Case) -> bool:
    """Whether it is about a brick, or its mesh, that was made a single user and has none of the other's hand."""
    names = {each.name} if each.kind == "objects" else case.shown.get(each.name, set())
    parts = {"objects": ("data",), "meshes": (*CARRIED, *_FORM)}.get(each.kind, ())
    copied = [case.is_own(name) and case.did(name, "make_single_user") for name in names]
    return each.part in parts and any(copied) and all(copied) and not any(case.did(name, *ON_MESH) for name in names)


def _is_rounded_twofold(each: Difference, case: Case) -> bool:
    """Whether it is about one of bricks that were rounded to two sizes and both changed, and that has its own hand."""
    others = [action for action in ON_MESH if case.did(each.name, f"{action} of another")]
    is_about = each.kind == "objects" and each.part in ("data", "groups", "slots")
    is_parted = is_about and case.is_own(each.name) and case.is_parted(each.name)
    return is_parted and not all(case.did(each.name, action) for action in others)


def _beside_ours(each: Difference, case: Case) -> bool:
    """Where a mesh had no slot ours was its first and its faces show that: what is added comes second, and the brick
    looks as it did when it was added."""
    if each.kind == "meshes" and each.part == "materials":
        names, empty = case.shown.get(each.name, set()), None
    elif each.kind == "objects" and each.part == "slots":
        names, empty = {each.name}, ("DATA", None)
    else:
        return False
    did = any(case.did(name, "add_slot", "add_slot of another") for name in names)
    return did and each.now == [empty, *each.never]


def _numbered(each: Difference, case: Case) -> bool:
    """A name alone: that the mesh carries what it should is asked for. Where all bricks of a part have a rounded mesh
    of their own the part's name is free, and what an update brings takes it."""
    if each.kind == "objects" and each.part == "data":
        is_alike = _stem(each.never) == _stem(each.now) and case.carries_all(each.name)
        return is_alike and (case.did(each.name, TWIN) or _is_free(each.never, case))
    shown = case.shown.get(each.name, ())
    return (
        each.kind == "meshes"
        and each.part == "there"
        and any(
            _stem(look.get(("objects", name, "data"))) == _stem(each.name)
            and (case.did(name, TWIN) or _is_free(each.name, case))
            for name in shown
            for look in ((case.never, case.now)[each.never is not None],)
        )
    )


def _is_free(name: str | None, case: Case) -> bool:
    """Whether the mesh from which a name has its number became its bricks' own."""
    stem = _stem(name)
    had = [thing for thing in case.shown.get(stem, ()) if case.never.get(("objects", thing, "data")) == stem]
    return bool(had) and all(map(case.is_own, had))


def _stem(name: str | None) -> str:
    """A name without the number that Blender gives where there is one of the kind."""
    return re.sub(r"\.\d{3}$", "", name or "")


def _keyed(each: Difference, case: Case) -> bool:
    """A key is an artist's number, which we never change."""
    if each.kind != "objects" or each.part not in ("animation", "world"):
        return False
    return case.did(each.name, "key") and case.did(each.name, *MIXING) and case.stands_near(each.name)


def _hung(each: Difference, case: Case) -> bool:
    """It was moved with its brick, or that was, before we saw that it hangs there: to that it stands as it was hung."""
    above = case.never.get(("objects", each.name, "parent"), (None,))[0]
    went = above is None or any(case.did(name, *HANDS - {"parent_to_brick"}) for name in (above, each.name))
    is_place = each.kind == "objects" and each.part == "world"
    return is_place and went and case.did(each.name, "parent_to_brick") and case.stands_near(each.name)


def _joined(each: Difference, case: Case) -> bool:
    """All of it is where it stood when worn, which Clear tells; no farther than motions and clearance take a point. A
    mesh that others show, too, keeps what was joined to it when the brick gets one of its own."""
    if each.kind == "objects":
        did = case.did(each.name, "join", "join of another")
        return did and each.part in ("world", "channels") and case.stands_as(each.name)
    things = case.shown.get(each.name, set())
    is_form = each.kind == "meshes" and each.part in ("points", "bits")
    if is_form and any(case.did(one, "join") for one in things):
        return True
    return is_form and any(case.did(one, "join of another") for one in things) and case.lies_near(each.name)


def _applied(each: Difference, case: Case) -> bool:
    """As with joined ones Clear tells of it, and the points are off by a motion at the most; so are bricks
    that were given the mesh."""
    if each.kind == "objects":
        is_place = each.part in ("world", "channels") and case.did(each.name, "apply_transforms")
        is_given = each.part == "world" and any(case.did(one, "apply_transforms") for one in case.shown_with(each.name))
        return (is_place or is_given) and case.stands_as(each.name)
    things = case.shown.get(each.name, set())
    is_form = each.kind == "meshes" and each.part in ("points", "bits")
    return is_form and any(case.did(one, "apply_transforms") for one in things)


def _joined_later(each: Difference, case: Case) -> bool:
    """Where the other stood is in the points since; no more than a middle goes. Told of bricks that share the mesh."""
    things = case.shown_with(each.name) if each.kind == "objects" else case.shown.get(each.name, set())
    is_joined = any(case.did(one, "join of one that was touched") for one in things)
    if each.kind == "meshes":
        return is_joined and each.part in ("points", "bits")
    return is_joined and each.part == "world" and case.went_little(each.name)


def _over_key(each: Difference, case: Case) -> bool:
    """Blender says so by the colour of the field, and does it to any value that is set over a key."""
    is_place = each.kind == "objects" and each.part in ("world", "channels")
    return is_place and case.did(each.name, KEYS) and case.did(each.name, *ON_DELTAS)


def _own_mesh(each: Difference, case: Case) -> bool:
    """Its points are those of the rounding, so only that is compared which points do not matter to: that the mesh has
    all layers, keys and materials, and takes up the room that it should. What each layer holds, the tests of hands on
    rounded bricks look at."""
    if each.kind == "objects" and (case.is_own(each.name) or case.shows_anothers(each.name)):
        is_place = each.part == "world" and case.stands_near(each.name)
        return is_place or (each.part == "data" and case.carries_all(each.name))
    if each.kind == "meshes" and any(map(case.is_own, case.shown.get(each.name, ()))):
        if each.part == "attributes":
            return each.never.keys() - DRAWN == each.now.keys() - DRAWN
        return each.part in _FORM
    return each.kind == "materials" and each.part == "users" and any(map(case.is_own, case.touched))


_MEANT: dict[str, Callable[[Difference, Case], bool]] = {
    "bricks turned or scaled together go about the middle that they had worn": _turned_together,
    "of several hands laid on one worn brick the order is not known: it is off by no more than a motion": (
        _in_what_order
    ),
    "where a brick had no slot it was ours that went": _refused_without,
    "what is set over a key of the artist's own, and not keyed, is gone at the next look at the frame": _over_own_key,
    "how far the origin of a mesh that was worked on went is known but for a motion": _origin_of_pulled,
    "of bricks that share a mesh, rounded to two sizes, the origin of one goes alone": _origin_of_one,
    "where slots of bricks without one were joined with ours an empty one stays": _joined_empty,
    "Blender moves origins of a shared mesh by world matrices, parents and all: below a parent it is off as one": (
        _origin_below_parent
    ),
    "of bricks that share a mesh below a turned frame Blender makes the others jump; rounded to two sizes none does": (
        _origin_of_shared
    ),
    "the origin of a mesh that a worn brick was given goes the way that it goes in the world": _origin_of_given,
    "the origin of a rounded mesh is put to its own middle, half a clearance from the other's": _origin_of_rounded,
    "where an update lies on the version before is measured, and rounds": _measured,
    "a brick that stays as it stood when worn is another one for an update": _another_for_an_update,
    "bricks of one mesh part where only some of them were rounded when it was changed": _parted,
    "a slot added beside ours, where there was none, stays the second": _beside_ours,
    "a copy of a rounded mesh, or what an update brings beside one, may have another number behind its name": (
        _numbered
    ),
    "a key set where Blender had mixed ours into a channel keeps its number": _keyed,
    "what was hung on a worn brick that was moved after it goes along when that goes back": _hung,
    "bricks joined while worn stay as they stood": _joined,
    "a brick whose transforms were applied while worn stays as it stood": _applied,
    "what was joined once Clear had put one back that is off by purpose is off as that was": _joined_later,
    "a delta set over a key of ours, and not keyed, is gone with the key": _over_key,
    "a rounded mesh that was changed is its bricks' own, and stays round": _own_mesh,
}
