"""The material slots of a build: worn whoever holds them, filled where they are empty, all as they were after clear."""

from dataclasses import replace

import bpy
import numpy as np
import pytest

from addon import compat, usecases
from addon.core.wear.layers import PICTURES
from addon.nodes import attach as module
from addon.nodes import builder
from addon.nodes.attach import detach, is_attached
from addon.scene import files
from tests.blender import scenes
from tests.blender.wear import torture
from tests.blender.wear.node_text import text_of_file, text_of_slots
from tests.blender.wear.test_wear_attach import wear_nodes
from tests.blender.wear.test_wear_torture import UNWORN, differences

pytestmark = pytest.mark.usefixtures("extension")


@pytest.fixture
def dials(tmp_path):
    """With small pictures: the stand-ins take their time."""
    folder = tmp_path / "textures"
    folder.mkdir()
    for kind in PICTURES:
        picture = bpy.data.images.new(kind, 8, 8)
        picture.save(filepath=str(folder / f"{kind}.png"))
        bpy.data.images.remove(picture)
    return usecases.Dials(textures=folder)


def text():
    return f"{text_of_file()}\n\n{text_of_slots()}"


def gallery():
    """A brick for each material, its mesh its own, a slot of the mesh's or the object's; more that share one mesh."""
    build = scenes.collection()
    for number, one in enumerate(torture.materials().values()):
        mesh = scenes.brick_mesh(f"2x2 {number}", 2, 2, 3)
        thing = scenes.put(build, mesh, f"brick {number:02d}", (0.016 * number, 0.0, 0.0))
        mesh.materials.append(one)
        if number % 3 == 1:
            thing.material_slots[0].link = "OBJECT"
            thing.material_slots[0].material = one
            mesh.materials[0] = None
    return build


def bare_bricks(build, count=4, slots=0, name="bare"):
    mesh = scenes.brick_mesh(name, 2, 4, 3)
    for _ in range(slots):
        mesh.materials.append(None)
    return [scenes.put(build, mesh, f"{name} {n}", (0.016 * n, 0.1, 0.0)) for n in range(count)]


def outside(mesh):
    elsewhere = bpy.data.collections.get("elsewhere") or scenes.collection("elsewhere")
    return scenes.put(elsewhere, mesh, f"outside {mesh.name}", (0.0, 1.0, 0.0))


def shown(thing):
    return [slot.material for slot in thing.material_slots]


@pytest.mark.shared_out
def test_a_build_of_all_of_them_is_as_it_was_after_clear(dials):
    build = gallery()
    bare_bricks(build)
    hidden = bare_bricks(build, 2, slots=2, name="mixed")[1]
    outside(hidden.data)
    hidden.material_slots[1].link = "OBJECT"
    hidden.material_slots[1].material = bpy.data.materials["constant"]
    hidden.material_slots[1].link = "DATA"
    bpy.context.view_layer.update()
    before = text()
    usecases.apply(build, scenes.PRESET, dials)
    once = text()
    applied = usecases.apply(build, scenes.PRESET, dials)
    assert differences(once, text()) == []
    assert {left.object for left in applied.skipped} == {*UNWORN, "animated roughness, driven colour"}
    assert applied.materials == sum(map(is_attached, bpy.data.materials))
    cleared = usecases.clear(build)
    assert cleared.materials == applied.materials
    assert differences(before, text()) == []
    assert text() == before


def test_bricks_without_a_slot_share_one_material_on_their_mesh_in_their_own_colours(dials):
    build = scenes.collection()
    bricks = bare_bricks(build) + bare_bricks(build, 2, slots=1, name="empty")
    bricks[0].color = (0.6, 0.1, 0.2, 1.0)
    bricks[0].data.attributes.new("material_index", "INT", "FACE").data[3].value = 2
    before = text()
    applied = usecases.apply(build, scenes.PRESET, dials)
    (given,) = {material for brick in bricks for material in shown(brick)}
    assert (applied.materials, applied.skipped) == (1, ())
    assert is_attached(given)
    assert all(slot.link == "DATA" for brick in bricks for slot in brick.material_slots)
    assert [n.bl_idname for n in given.node_tree.nodes if n.bl_idname == "ShaderNodeObjectInfo"]
    usecases.clear(build)
    assert text() == before
    assert [polygon.material_index for polygon in bricks[0].data.polygons][:5] == [0, 0, 0, 2, 0]


def test_a_mesh_that_is_shown_outside_too_keeps_its_empty_slot(dials):
    build = scenes.collection()
    bricks = bare_bricks(build) + bare_bricks(build, 2, slots=1, name="empty")
    strangers = [outside(mesh) for mesh in {brick.data: None for brick in bricks}]
    before = text()
    usecases.apply(build, scenes.PRESET, dials)
    (given,) = {material for brick in bricks for material in shown(brick)}
    assert is_attached(given)
    assert [shown(stranger) for stranger in strangers] == [[None], [None]]
    usecases.clear(build)
    assert text() == before


def test_a_slot_of_ours_that_the_artist_filled_on_a_brick_is_the_artists(dials):
    build = scenes.collection()
    thing = scenes.put(build, scenes.brick_mesh("2x2", 2, 2, 3), "brick")
    own = bpy.data.materials.new("own")
    usecases.apply(build, scenes.PRESET, dials)
    thing.material_slots[0].link = "OBJECT"
    thing.material_slots[0].material = own
    usecases.clear(build)
    assert [(slot.link, slot.material) for slot in thing.material_slots] == [("OBJECT", own)]
    assert list(thing.data.materials) == [None]
    assert not [key for key in thing.data.keys() if key.startswith("playworn")]  # noqa: SIM118  a mesh is no dict


def test_two_builds_of_one_mesh_without_a_slot(dials):
    first, second = scenes.collection("first"), scenes.collection("second")
    brick = bare_bricks(first, 1)[0]
    twin = scenes.put(second, brick.data, "twin", (0.0, 0.5, 0.0))
    before = text()
    usecases.apply(first, scenes.PRESET, dials)
    one = text()
    usecases.apply(second, scenes.PRESET, dials)
    usecases.clear(second)
    assert text() == one
    usecases.apply(second, scenes.PRESET, dials)
    usecases.clear(first)
    assert is_attached(shown(twin)[0])
    assert shown(brick) == [None]
    usecases.clear(second)
    assert text() == before


def test_a_build_cleared_leaves_what_another_wears(dials):
    first, second = scenes.wall(), scenes.collection("second")
    scenes.put(second, bpy.data.meshes["2x4"], "twin", (0.0, 0.5, 0.0))
    before = text()
    usecases.apply(first, scenes.PRESET, dials)
    usecases.apply(second, scenes.PRESET, dials)
    assert usecases.clear(first).materials == 0
    assert is_attached(bpy.data.materials["red"])
    assert usecases.clear(second).materials == 1
    assert text() == before


def test_a_material_no_brick_shows_any_more_is_given_back_too(dials):
    build = scenes.wall()
    usecases.apply(build, scenes.PRESET, dials)
    blue = bpy.data.materials.new("blue")
    compat.node_tree(blue)
    for mesh in {brick.data: None for brick in build.objects}:
        mesh.materials[0] = blue
    usecases.clear(build)
    assert not any(is_attached(one) for one in bpy.data.materials)
    assert len(bpy.data.node_groups) == 0


@pytest.mark.parametrize("is_kept", [False, True])
@pytest.mark.parametrize("slots", [0, 1])
def test_a_mesh_that_its_brick_shows_no_more_is_given_back_too(dials, slots, is_kept):
    """Link Object Data: the brick shows another's mesh, and its own is left without a user, or with a property that
    keeps it, as a brick has that an update recoloured."""
    build = scenes.wall()
    (brick,) = bare_bricks(build, 1, slots)
    left = brick.data
    usecases.apply(build, scenes.PRESET, dials)
    if is_kept:
        brick["kept"] = left
    brick.data = next(thing.data for thing in build.objects if thing.data != left)
    usecases.clear(build)
    assert list(left.materials) == [None] * slots
    assert not [one.name for one in bpy.data.materials if one.name.startswith("Playworn")]


def test_a_material_an_artist_puts_in_the_place_of_ours_stays(dials):
    build = scenes.collection()
    kept, turned = bare_bricks(build, 2), bare_bricks(build, 2, name="shared")
    outside(turned[0].data)
    usecases.apply(build, scenes.PRESET, dials)
    mine, _ = torture.material("mine")
    kept[0].data.materials[0] = mine
    turned[0].material_slots[0].material = mine
    usecases.clear(build)
    assert [shown(brick) for brick in (*kept, *turned)] == [[mine], [mine], [mine], [None]]
    assert not [one for one in bpy.data.materials if one != mine]


def test_a_copy_of_ours_and_one_that_is_renamed_are_the_artists(dials):
    build = scenes.collection()
    (copied,), (renamed,) = bare_bricks(build, 1), bare_bricks(build, 1, slots=1, name="renamed")
    usecases.apply(build, scenes.PRESET, dials)
    copied.data.materials[0] = copied.data.materials[0].copy()
    renamed.data.materials[0].name = "mine"
    usecases.clear(build)
    assert [[one.name for one in shown(brick)] for brick in (copied, renamed)] == [["Playworn plain.001"], ["mine"]]
    assert not any(is_attached(one) for one in bpy.data.materials)


def test_slots_are_as_they_were_after_save_load_and_clear(dials, tmp_path):
    """A first time to disk and back, so that both sides of the comparison have been read from a file."""
    build = gallery()
    turned = bare_bricks(build, 2) + bare_bricks(build, 2, slots=1, name="shared")
    turned[2].data.materials[0] = bpy.data.materials["never had nodes"]
    for brick in (turned[0], turned[2]):
        outside(brick.data)
    turned[1].color = (0.2, 0.3, 0.4, 1.0)
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "clean.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "clean.blend"))
    before = text()
    usecases.apply(bpy.data.collections["build"], scenes.PRESET, dials)
    worn = text()
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "worn.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "worn.blend"))
    assert differences(worn, text()) == []
    usecases.clear(bpy.data.collections["build"])
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "cleared.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "cleared.blend"))
    assert differences(before, text()) == []
    assert text() == before


@pytest.mark.parametrize("shared", [False, True])
def test_a_material_without_nodes_gives_its_place_to_one_that_shows_its_viewport_values(dials, shared):
    named = torture.materials()
    plain = named["never had nodes"]
    if compat.shades_with_nodes(plain):
        pytest.skip("this Blender knows no materials without nodes")
    build = scenes.collection()
    bricks = bare_bricks(build, 3, slots=1)
    bricks[0].data.materials[0] = plain
    if shared:
        stranger = outside(bricks[0].data)
    before = text()
    usecases.apply(build, scenes.PRESET, dials)
    (given,) = {material for brick in bricks for material in shown(brick)}
    assert given != plain
    (node,) = wear_nodes(given.node_tree)
    read = {name: builder.group_socket(node, "INPUT", name).default_value for name in ("Base Color", "Roughness")}
    assert np.allclose(read["Base Color"], (0.2, 0.4, 0.1, 1.0))
    assert read["Roughness"] == pytest.approx(0.35)
    assert not compat.shades_with_nodes(plain)
    if shared:
        assert shown(stranger) == [plain]
    usecases.clear(build)
    assert text() == before


@pytest.mark.shared_out
@pytest.mark.parametrize("rounding", ["shading", "geometry"])
def test_a_slot_that_was_given_to_bricks_that_are_gone_goes_too(dials, rounding):
    """Rounded, nothing but a twin that nobody shows any more keeps their mesh; it goes with Clear."""
    build = gallery()
    gone = bare_bricks(build, 3)
    mesh, was = gone[0].data, list(gone[0].data.materials)
    usecases.apply(build, scenes.PRESET, replace(dials, rounding=rounding))
    bpy.data.batch_remove(gone)
    usecases.clear(build)
    assert list(mesh.materials) == was
    assert not list(mesh.keys())
    assert not [material.name for material in bpy.data.materials if material.name.startswith("Playworn")]


def test_a_failed_attach_gives_the_slots_back(dials, monkeypatch):
    build = gallery()
    bare_bricks(build)
    before = text()

    def fails(*_):
        raise MemoryError("on purpose")

    monkeypatch.setattr(module, "_sweep", lambda: None)
    monkeypatch.setattr(module.insertion, "putting_in", fails)
    with pytest.raises(MemoryError):
        usecases.apply(build, scenes.PRESET, dials)
    monkeypatch.undo()
    detach([])
    assert differences(before, text()) == []


def test_bricks_of_another_file_without_a_material_are_listed(dials, tmp_path):
    library = scenes.collection("library")
    brick = bare_bricks(library, 1)[0]
    bpy.data.libraries.write(str(tmp_path / "library.blend"), {brick})
    files.new()
    with bpy.data.libraries.load(str(tmp_path / "library.blend"), link=True) as (_, into):
        into.objects = ["bare 0"]
    build = scenes.wall()
    build.objects.link(bpy.data.objects["bare 0"])
    bpy.context.view_layer.update()
    applied = usecases.apply(build, scenes.PRESET, dials)
    assert "bare" in {left.object for left in applied.skipped if "no material" in left.reason}
    usecases.clear(build)


def test_what_ours_lies_beneath_a_mesh_that_is_shown_again_goes_at_clear(dials):
    build = scenes.collection()
    (thing,) = bare_bricks(build, 1, slots=1)
    thing.material_slots[0].link = "OBJECT"
    usecases.apply(build, scenes.PRESET, dials)
    assert thing.material_slots[0].material is not None
    thing.material_slots[0].link = "DATA"
    usecases.clear(build)
    thing.material_slots[0].link = "OBJECT"
    assert thing.material_slots[0].material is None
    assert not len(bpy.data.materials)
