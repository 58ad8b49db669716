"""What an export has see-through is clear moulded plastic in every format, unless alpha is to stay; and it is told.

What a clear part lets through is held against Blender's own render of the alpha that was exported.
"""

import bpy
import numpy as np
import pytest

from addon import compat, usecases
from addon.core.exports.stated import seen_through
from addon.core.wear.kinds import MOULDED, RUBBED, TRANSPARENT
from addon.scene.build import told
from addon.scene.exports import importers
from tests.blender.exports.dae import LEGS, bound, dae, geometry, materials, shading
from tests.blender.exports.test_moulded import (
    colour,
    from_blender_in,
    principled,
    written_gltf,
    written_obj,
    written_usda,
)
from tests.blender.wear.renders import cube, glossy, look, render

ASKED = 0.4
CLEAR = "See-through by the export and taken for clear moulded plastic: "


def gltf(path):
    see_through = {"pbrMetallicRoughness": colour(baseColorFactor=[0.5, 0.0, 0.0, ASKED]), "alphaMode": "BLEND"}
    return written_gltf(path / "build.gltf", *[{"name": name} | see_through for name in "abc"])


def obj(path):
    return written_obj(path / "build.obj", f"newmtl bright red\nKd 0.5 0 0\nd {ASKED}\n")


def obj_by_tr(path):
    return written_obj(path / "build.obj", f"newmtl bright red\nKd 0.5 0 0\nTr {1.0 - ASKED}\n")


def usd(path):
    return written_usda(path / "build.usda", f"float inputs:opacity = {ASKED}")


def collada(path):
    clear = shading("phong", diffuse=RED, transparency=f"<float>{ASKED}</float>")
    node = f'<node name="it"><instance_geometry url="#shape">{bound(body="body")}</instance_geometry></node>'
    faces = '<triangles count="4" material="body"><input semantic="VERTEX" source="#shape-v" offset="0"/>'
    shape = geometry(faces=f"{faces}<p>{LEGS}</p></triangles>")
    (path / "build.dae").write_text(dae(node, shape, materials(body=clear)))
    return path / "build.dae"


def fbx(path):
    material = bpy.data.materials.new("red")
    compat.node_tree(material)
    principled(material).inputs["Base Color"].default_value = (0.5, 0.0, 0.0, 1.0)
    principled(material).inputs["Alpha"].default_value = ASKED
    from_blender_in(material, path / "build.fbx")
    return path / "build.fbx"


RED = "<color>0.7 0 0 1</color>"
FORMATS = [gltf, obj, obj_by_tr, usd, collada, fbx]


def shaders():
    return [principled(one) for one in bpy.data.materials]


def values(name):
    return [shader.inputs[name].default_value for shader in shaders()]


def hues():
    return sorted(tuple(each)[:3] for each in values("Base Color"))


@pytest.mark.parametrize("written", FORMATS)
def test_see_through_is_clear_plastic_in_every_format(written, tmp_path):
    path = written(tmp_path)
    kept, _ = importers.bring(path, keep_alpha=True)
    opacities = [
        alpha * (1.0 - clear) for alpha, clear in zip(values("Alpha"), values("Transmission Weight"), strict=True)
    ]
    assert opacities == pytest.approx([ASKED] * len(bpy.data.materials), abs=0.01)
    assert not any(line.startswith(CLEAR) for line in told.of(kept))
    was = hues()
    bpy.data.batch_remove([*kept.objects, *bpy.data.meshes, *bpy.data.materials, kept])
    build, _ = importers.bring(path)
    assert set(values("Alpha")) == set(values("Transmission Weight")) == {1.0}
    assert hues() == [pytest.approx(seen_through(each, ASKED), abs=0.01) for each in was]
    (line,) = (line for line in told.of(build) if line.startswith(CLEAR))
    assert line.endswith(" With Keep Alpha As It Is (--keep-alpha) they stay as exported.")


def test_a_clear_part_has_the_index_and_gloss_of_clear_plastic_where_none_is_stated(tmp_path):
    importers.bring(obj(tmp_path))
    plastic = MOULDED[TRANSPARENT]
    assert values("IOR") == pytest.approx([plastic.index_of_refraction])
    assert values("Roughness") == pytest.approx([plastic.roughness])
    assert 1.54 <= plastic.index_of_refraction <= 1.59  # ABS and polycarbonate


@pytest.mark.parametrize(
    "library",
    ["d 1", "d 0.95", "d 0", "Pm 1\nd 0.5", "map_d print.png"],
    ids=["opaque", "all but", "unseen", "metal", "a picture"],
)
def test_what_is_no_clear_plastic_stays(library, tmp_path):
    bpy.data.images.new("print", 4, 4).save(filepath=str(tmp_path / "print.png"))
    build, _ = importers.bring(written_obj(tmp_path / "build.obj", f"newmtl bright red\nKd 0.5 0 0\n{library}\n"))
    assert values("Transmission Weight") == [0.0]
    assert not any(line.startswith(CLEAR) for line in told.of(build))


def test_glass_that_a_gltf_states_stays_as_stated(tmp_path):
    glass = {"extensions": {"KHR_materials_transmission": {"transmissionFactor": 0.7}}, "alphaMode": "BLEND"}
    glass["pbrMetallicRoughness"] = colour(baseColorFactor=[0.5, 0.0, 0.0, ASKED])
    importers.bring(written_gltf(tmp_path / "build.gltf", *[{"name": name} | glass for name in "abc"]))
    assert values("Transmission Weight") == pytest.approx([0.7] * 3)
    assert values("Alpha") == pytest.approx([ASKED] * 3)


def test_some_of_a_build_are_told_as_some(tmp_path):
    clear = {"pbrMetallicRoughness": colour(baseColorFactor=[0.9, 0.9, 0.9, 0.5]), "alphaMode": "BLEND"}
    solid = {"pbrMetallicRoughness": colour()}
    path = written_gltf(tmp_path / "build.gltf", {"name": "a"} | solid, {"name": "b"} | clear, {"name": "c"} | solid)
    build, _ = importers.bring(path)
    assert any(line.startswith(f"{CLEAR}1 of 3 materials.") for line in told.of(build))
    assert sorted(values("Transmission Weight")) == [0.0, 0.0, 1.0]


def test_wear_takes_clear_parts_for_clear(tmp_path, extension):
    usecases.apply(usecases.bring_in(gltf(tmp_path)), usecases.find_preset("well-loved"), usecases.Dials())
    for shader in shaders():
        ours = shader.inputs["Base Color"].links[0].from_node
        assert ours.inputs["Rub whitening"].default_value == RUBBED[TRANSPARENT].whitening
        assert "Dust amount" not in ours.inputs  # none inside of clear plastic


@pytest.mark.parametrize("hue", [(0.5, 0.01, 0.01), (0.02, 0.1, 0.5), (0.95, 0.95, 0.95)])
@pytest.mark.parametrize("opacity", [0.3, 0.5, 0.7])
def test_white_shows_through_a_clear_part_as_through_the_alpha_that_was_exported(hue, opacity, tmp_path):
    """Both in a white room; of alpha without its gloss."""
    seen = []
    for transmission in (0.0, 1.0):
        material = glossy(specular=0.5 * transmission)
        shader = principled(material)
        shader.inputs["Transmission Weight"].default_value = transmission
        shader.inputs["Alpha"].default_value = 1.0 if transmission else opacity
        shader.inputs["IOR"].default_value = MOULDED[TRANSPARENT].index_of_refraction if transmission else 1.0
        shader.inputs["Roughness"].default_value = MOULDED[TRANSPARENT].roughness
        shader.inputs["Base Color"].default_value = (*(seen_through(hue, opacity) if transmission else hue), 1.0)
        brick = cube(4.0, material)
        look(2.0)
        world = bpy.data.worlds.new("white")
        bpy.context.scene.world = world
        back = next(n for n in compat.node_tree(world).nodes if n.bl_idname == "ShaderNodeBackground")
        back.inputs["Color"].default_value = (1.0, 1.0, 1.0, 1.0)
        seen.append(render(tmp_path, 8, 256)[..., :3].mean(axis=(0, 1)))
        bpy.data.objects.remove(brick)
    assert np.abs(seen[0] - seen[1]).max() < 0.06
