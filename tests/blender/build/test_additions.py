"""What an artist adds to a build: it stays where it is, whatever the next version of the export holds."""

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core import report
from addon.scene.build import arrival, aside
from tests.blender import scenes
from tests.blender.build import versions
from tests.blender.build.test_update import bricks, everything, update
from tests.blender.build.versions import BUILD, CHANGED, COUNT

pytestmark = pytest.mark.usefixtures("extension")


def spread(room) -> dict[str, bpy.types.Object]:
    """What an artist adds to a build: a copy, a linked copy, a mesh of their own, a brick of another build."""
    things = sorted(bricks(room), key=lambda thing: thing.name)
    copy, linked = things[30].copy(), things[31].copy()
    copy.data = copy.data.copy()
    made = bpy.data.objects.new("modelled", things[32].data.copy())
    made.parent = things[32].parent
    added = {"copy": copy, "linked": linked, "modelled": made}
    for number, thing in enumerate(added.values()):
        room.objects.link(thing)
        thing.location = np.array(things[30].location) + np.array((0, 0, 40.0 * (number + 3)))
        thing.rotation_euler = things[30].rotation_euler
    return added


def stand(added) -> dict[str, tuple]:
    return {
        how: (thing.name, tuple(thing.location), tuple(thing.rotation_euler), thing.data.name)
        for how, thing in added.items()
    }


def test_what_the_artist_added_stays_where_it_is_and_is_listed(room, folder, first):
    added = spread(room)
    usecases.apply(room, scenes.PRESET, usecases.Dials(seed=3))
    before, path = stand(added), versions.export(folder, "next", CHANGED)
    told = update(room, path)
    assert stand(added) == before
    assert all(thing.name in room.objects for thing in added.values())
    assert told.yours == len(added)
    assert {each.object for each in told.changes if each.reason == "is yours and stays"} == {
        thing.name for thing in added.values()
    }
    assert told.kept + told.moved + told.recoloured + told.added == len(CHANGED)
    assert f"{len(added)} yours" in told.sentence
    again = update(room, path)
    assert (again.kept, again.yours) == (len(CHANGED), len(added))
    back = update(room, first)
    assert (back.bricks, back.yours) == (COUNT, len(added))
    assert stand(added) == before
    assert len(bricks(room)) == COUNT + len(added)
    usecases.clear(room)
    assert all(not thing.delta_location.length for thing in added.values())


def test_a_copy_stays_where_the_brick_it_was_copied_from_is_gone(room, folder):
    thing = next(thing for thing in bricks(room) if thing.name.startswith("brick-2-1"))
    number = int(thing.name.split()[-1])
    copy = thing.copy()
    room.objects.link(copy)
    copy.location.z += 0.1
    copy.name = "the artist's"
    told = update(room, versions.export(folder, "next", BUILD[:number] + BUILD[number + 1 :]))
    assert (told.removed, told.yours) == (1, 1)
    assert [each.name for each in aside.waiting(room)] == [thing.name]
    bpy.data.objects.remove(thing)
    told = update(room, versions.export(folder, "next", BUILD[:number] + BUILD[number + 2 :]))
    assert copy.name in room.objects
    assert told.yours == 1


def test_where_the_next_version_has_what_the_artist_added_there_is_one(room, folder):
    thing = next(thing for thing in bricks(room) if thing.name.startswith("brick-2-1"))
    number = int(thing.name.split()[-1])
    own = thing.copy()
    own.name = "own"
    room.objects.link(own)
    bpy.data.objects.remove(thing)
    for name in (arrival.CAME, arrival.PLACED):  # as one that was never copied
        del own[name]
    place = tuple(own.location)
    assert update(room, versions.export(folder, "next", BUILD[:number] + BUILD[number + 1 :])).yours == 1
    told = update(room, versions.export(folder, "whole", BUILD))
    assert (told.added, told.yours, told.kept) == (0, 0, COUNT)
    assert report.Skipped("own", "is yours, where a new one would stand") in told.changes
    assert tuple(own.location) == place
    assert len(bricks(room)) == COUNT


def test_in_a_build_that_was_not_brought_in_what_is_added_after_an_update_is_the_artists(room, folder, first):
    for thing in bricks(room):
        arrival.forget(thing)
    del room[arrival.EXPORT]
    path = versions.export(folder, "next", CHANGED)
    assert update(room, path).yours == 0
    added = spread(room)
    assert update(room, first).yours == len(added)


def test_an_update_that_is_given_up_leaves_the_marks_of_what_the_artist_added(room, folder):
    (copy, *_) = spread(room).values()
    before = everything(room), copy[arrival.CAME], list(copy[arrival.PLACED])
    job = usecases.updating(room, versions.export(folder, "next", CHANGED))
    for fraction, _ in job:
        if fraction >= 0.7:
            break
    job.close()
    assert (everything(room), copy[arrival.CAME], list(copy[arrival.PLACED])) == before
