"""Places: what a sphere of the artist's makes of a picture, that it moves by itself, and that it stays."""

from dataclasses import replace

import bpy
import numpy as np
import pytest

from addon import usecases
from addon.core.errors import BuildProblem, DialProblem
from addon.core.wear.layers import LAYERS
from addon.core.wear.names import PLACE
from addon.core.wear.place import Place
from addon.core.wear.quality import QUALITIES
from addon.nodes import builder, places
from addon.nodes.attach import attach
from addon.nodes.groups.places import KIND, told
from addon.scene import files
from addon.scene.build.build import read
from addon.transaction import transaction
from tests.blender import scenes
from tests.blender.wear import node_text
from tests.blender.wear.renders import glossy, look, pictures, render, shining, stage
from tests.blender.wear.test_layers import ALONE

OF_USE = [name for name, each in LAYERS.items() if each.of_use]
SIDE_MM = 24.0


def sphere(radius, place=(0.0, 0.0, 0.0), size=1.0):
    """An empty that reaches so far, drawn in a size that its scale makes up for."""
    empty = bpy.data.objects.new("sill", None)
    empty.empty_display_size, empty.location, empty.scale = size, place, (radius / size,) * 3
    bpy.context.scene.collection.objects.link(empty)
    bpy.context.view_layer.update()
    return empty


@pytest.fixture
def seen(tmp_path):
    """The picture of a brick with one layer alone, at an amount of its material."""
    worn = glossy()
    stage(worn)
    drawn = pictures()

    def at(layer, share=1.0):
        record, strength = getattr(ALONE[layer], layer), LAYERS[layer].strength
        wear = replace(ALONE[layer], **{layer: replace(record, **{strength: share * getattr(record, strength)})})
        attach([worn], wear, drawn, 0.001)
        return render(tmp_path, 24, 4)

    return at


@pytest.mark.shared_out
@pytest.mark.parametrize("layer", LAYERS)
def test_a_place_far_away_changes_nothing_and_a_clean_one_all_around_is_clean(layer, seen):
    clean, worn = seen(layer, 0.0), seen(layer)
    wanted = clean if layer in OF_USE else worn
    empty = sphere(0.02, (0.0, 0.0, 1.0))
    places.lay([(empty, Place(0.0))])
    assert np.array_equal(seen(layer), worn)
    empty.location, empty.scale = (0.0, 0.0, 0.0), (1e7,) * 3
    assert np.array_equal(seen(layer), wanted)
    places.lay([])
    assert np.array_equal(seen(layer), worn)


def test_a_worn_place_fades_no_colour(seen):
    """It is hands that wear there, and no light."""
    worn = {layer: seen(layer) for layer in ("fade", "smudges")}
    spheres = [(sphere(1e7), Place(4.0))]
    for layer, is_same in (("fade", True), ("smudges", False)):
        places.lay([])
        assert np.array_equal(seen(layer), worn[layer])
        places.lay(spheres)
        assert np.array_equal(seen(layer), worn[layer]) == is_same


@pytest.mark.shared_out
@pytest.mark.parametrize("is_smooth", [True, False])
@pytest.mark.parametrize("size", [1.0, 3.0])
def test_amounts_go_from_the_middle_to_the_rim_as_said(is_smooth, size, tmp_path):
    """A rubbed film of smudges over a face, 1 mm a pixel: its change is that without a place, times what the way says.

    Linear: 1 + (amount - 1) (1 - d / r); smooth: by 3 t^2 - 2 t^3 (smoothstep) of the same.
    """
    shining((0.5, 0.01, 0.02), replace(ALONE["smudges"], rounding_mm=0.0), "Roughness")
    look(SIDE_MM)
    scene = bpy.context.scene
    radius, at, amount = 8.0, np.array((3.0, -2.0)), 3.0
    empty = sphere(radius, (*at, 0.5 * SIDE_MM), size)

    def picture():
        return render(tmp_path, 24, 16)[..., 0].astype(float)

    worn = picture()
    scene["playworn_wear"] = 0.0
    clean = picture()
    scene["playworn_wear"] = 1.0
    places.lay([(empty, Place(amount, is_smooth))])
    near = picture()
    ways = np.arange(24) - 11.5
    away = np.hypot(ways[None, :] - at[0], ways[:, None] - at[1])
    t = np.clip(1.0 - away / radius, 0.0, 1.0)
    wanted = 1.0 + (amount - 1.0) * (t * t * (3.0 - 2.0 * t) if is_smooth else t)
    change = np.abs(worn - clean)
    told_by = change > 0.3 * change.max()
    times = np.abs(near - clean)[told_by] / change[told_by]
    assert times == pytest.approx(wanted[told_by], abs=0.12)
    assert np.array_equal(near[away > radius + 1.0], worn[away > radius + 1.0])
    empty.location.x += 100.0  # it follows by itself
    assert np.array_equal(picture(), worn)


def test_two_places_multiply(tmp_path):
    shining((0.5, 0.01, 0.02), replace(ALONE["smudges"], rounding_mm=0.0), "Roughness")
    look(SIDE_MM)
    worn = render(tmp_path, 16, 4)
    spheres = [sphere(1e7), sphere(1e7)]
    places.lay([(spheres[0], Place(2.0)), (spheres[1], Place(0.5))])
    np.testing.assert_allclose(render(tmp_path, 16, 4), worn, atol=1e-5)
    (tree,) = (each for each in bpy.data.node_groups if builder.stamp(each) == KIND)
    assert [each[:2] for each in told(tree)] == [(spheres[0], Place(2.0)), (spheres[1], Place(0.5))]


def test_a_place_that_is_deleted_comes_back_from_a_failure_as_it_was():
    shining((0.5, 0.01, 0.02), ALONE["smudges"], "Roughness")
    gone, there = sphere(0.02), sphere(0.03, size=0.5)
    places.lay([(gone, Place(2.0)), (there, Place(0.5))])
    bpy.data.objects.remove(gone)
    (tree,) = (each for each in bpy.data.node_groups if builder.stamp(each) == KIND)
    with pytest.raises(DialProblem):
        _laid_in_vain([(there, Place(0.5))])
    assert told(tree) == [(None, Place(2.0), 1.0), (there, Place(0.5), 0.5)]


def _laid_in_vain(spheres):
    with transaction():
        places.lay(spheres)
        raise DialProblem("given up")


@pytest.fixture
def room(extension, export, textures):
    """A workshop with a look on it and two places."""
    build = usecases.bring_in(export[0])
    texts = {material.name: node_text.text_of(material.node_tree) for material in bpy.data.materials}
    usecases.apply(build, scenes.PRESET, usecases.Dials(textures=textures))
    usecases.put_place(sphere(0.03), Place(4.0, is_smooth=False))
    usecases.add_place(bpy.context.scene, read(build).objects[:3], Place(0.0))
    return build, texts


def known():
    """The places that the wear of the file tells of."""
    trees = [each for each in bpy.data.node_groups if builder.stamp(each) == KIND]
    return [[(thing.name, place) for thing, place, _ in told(tree)] for tree in trees]


WANTED = [("Clean here", Place(0.0)), ("sill", Place(4.0, is_smooth=False))]


@pytest.mark.shared_out
def test_places_stay_through_everything(room, textures, export):
    build, texts = room
    scene = bpy.context.scene
    names = {thing.name for thing in bpy.data.objects if thing.type == "EMPTY"}
    assert known() == [WANTED]
    usecases.apply(build, usecases.find_preset("fresh"), usecases.Dials(textures=textures))
    assert known() == [WANTED]
    for quality in QUALITIES:
        usecases.apply(build, scenes.PRESET, usecases.Dials(textures=textures, quality=quality, rounding="geometry"))
        assert known() == [WANTED]
    usecases.dial(build, scenes.PRESET, usecases.Dials(seed=4, textures=textures, rounding="geometry"))
    usecases.update(build, export[1])
    assert known() == [WANTED]
    path = textures / "places.blend"
    usecases.save(path)
    build = usecases.open_build(path, build.name)
    assert known() == [WANTED]
    assert usecases.inspect(build).by_hand == "more worn near sill; less worn near Clean here"
    usecases.clear(build)
    assert known() == []
    assert names <= {thing.name for thing in bpy.data.objects}
    usecases.apply(build, scenes.PRESET, usecases.Dials(textures=textures))
    assert known() == [WANTED]
    usecases.take_place(bpy.data.objects["sill"])
    assert known() == [WANTED[:1]]
    usecases.clear_everything()
    assert not any(PLACE in thing for thing in bpy.data.objects)
    assert names <= {thing.name for thing in bpy.data.objects}
    del scene, texts


def test_clear_leaves_materials_as_they_were(room):
    build, texts = room
    usecases.clear(build)
    assert {one.name: node_text.text_of(one.node_tree) for one in bpy.data.materials} == texts


@pytest.mark.shared_out
def test_what_cannot_be_a_place_is_refused_and_nothing_is_changed(room):
    build, _ = room
    brick, frame = read(build).objects[0], next(one for one in bpy.data.objects if one.type == "EMPTY" and one.children)
    before = [thing.name for thing in bpy.data.objects]
    for act, error, words in (
        (lambda: usecases.put_place(brick, Place(2.0)), BuildProblem, "select an empty"),
        (lambda: usecases.put_place(frame, Place(2.0)), BuildProblem, "nothing hangs on"),
        (lambda: usecases.put_place(bpy.data.objects["sill"], Place(11.0)), DialProblem, "from 0 to 10"),
        (lambda: usecases.put_place(bpy.data.objects["sill"], Place(float("nan"))), DialProblem, "from 0 to 10"),
        (lambda: usecases.add_place(bpy.context.scene, [], Place(2.0)), BuildProblem, "nothing is selected"),
        (lambda: usecases.take_place(brick), BuildProblem, "is no place"),
        (lambda: usecases.empties_like("nobody*"), BuildProblem, "no empty of the file"),
    ):
        with pytest.raises(error, match=words):
            act()
    assert [thing.name for thing in bpy.data.objects] == before
    assert known() == [WANTED]


@pytest.mark.shared_out
def test_a_job_that_fails_leaves_them(room, monkeypatch):
    monkeypatch.setattr(usecases.wear.places, "lay", lambda *_: 1 / 0)
    before = {thing.name for thing in bpy.data.objects}
    for act in (
        lambda: usecases.put_place(bpy.data.objects["sill"], Place(1.5)),
        lambda: usecases.add_place(bpy.context.scene, read(room[0]).objects[:1], Place(2.0)),
        lambda: usecases.take_place(bpy.data.objects["sill"]),
    ):
        with pytest.raises(ZeroDivisionError):
            act()
    assert {thing.name for thing in bpy.data.objects} == before
    assert usecases.place_of(bpy.data.objects["sill"]) == WANTED[1][1]
    assert known() == [WANTED]


@pytest.mark.shared_out
def test_one_that_was_deleted_is_gone_with_the_next_apply(room, textures):
    build, _ = room
    bpy.data.objects["sill"].users_collection[0].objects.unlink(bpy.data.objects["sill"])
    usecases.apply(build, scenes.PRESET, usecases.Dials(textures=textures))
    assert known() == [WANTED[:1]]


@pytest.mark.shared_out
def test_a_click_makes_one_and_its_fields_are_the_active_one_s(room):
    build, _ = room
    settings = bpy.context.scene.playworn
    settings.build = build
    bpy.ops.object.select_all(action="DESELECT")
    brick = read(build).objects[5]
    brick.select_set(True)
    bpy.context.view_layer.objects.active = brick
    assert bpy.ops.playworn.add_place(amount=3.0) == {"FINISHED"}
    made = bpy.context.view_layer.objects.active
    assert (made.name, made.empty_display_type) == ("Worn here", "SPHERE")
    assert (settings.place_amount, settings.place_smooth) == (3.0, True)
    settings.place_amount, settings.place_smooth = 5.0, False
    assert usecases.place_of(made) == Place(5.0, is_smooth=False)
    assert ("Worn here", Place(5.0, is_smooth=False)) in known()[0]
    corners = [made.matrix_world.inverted() @ brick.matrix_world @ point.co for point in brick.data.vertices]
    assert max(corner.length for corner in corners) <= 1.0 + 1e-5  # it holds the brick
    assert bpy.ops.playworn.add_place(amount=0.0) == {"FINISHED"}  # the empty itself now
    assert usecases.place_of(made).amount == 0.0
    assert bpy.ops.playworn.take_place() == {"FINISHED"}
    assert known() == [WANTED]
    files.new()
