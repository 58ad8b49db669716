"""What a file states of its materials, told from the formats' defaults."""

import json

import pytest

from addon.core.exports import fbx, gltf, mtl, stated
from addon.core.exports.stated import IOR, METALLIC, ROUGHNESS, SPECULAR, TRANSMISSION, Surface
from addon.core.wear import kinds

EVERYTHING = frozenset({ROUGHNESS, METALLIC, IOR, TRANSMISSION, SPECULAR})


def of_gltf(*materials):
    return gltf.stated({"materials": list(materials)})


def test_a_gltf_material_states_what_stands_in_it_and_not_the_standards_defaults():
    assert of_gltf({"name": "red"}) == {"red": frozenset()}
    bare = {"name": "red", "pbrMetallicRoughness": {"baseColorFactor": [1, 0, 0, 1]}}
    assert of_gltf(bare) == {"red": frozenset()}
    full = {
        "name": "red",
        "pbrMetallicRoughness": {"metallicFactor": 1.0, "roughnessFactor": 1.0},
        "extensions": {"KHR_materials_ior": {}, "KHR_materials_transmission": {}, "KHR_materials_specular": {}},
    }
    assert of_gltf(full) == {"red": EVERYTHING}
    pictured = {"name": "red", "pbrMetallicRoughness": {"metallicRoughnessTexture": {"index": 0}}}
    assert of_gltf(pictured) == {"red": {ROUGHNESS, METALLIC}}


def test_gltf_materials_without_a_name_are_told_by_their_number_and_those_of_one_name_together():
    glossy, metal = {"roughnessFactor": 0.3}, {"metallicFactor": 1.0}
    assert of_gltf({}, {"pbrMetallicRoughness": glossy}) == {"Material_0": frozenset(), "Material_1": {ROUGHNESS}}
    both = of_gltf(
        {"name": "a", "pbrMetallicRoughness": glossy},
        {"name": "a", "pbrMetallicRoughness": metal},
    )
    assert both == {"a": {ROUGHNESS, METALLIC}}


@pytest.mark.parametrize("data", [b"", b"glTF", b"[]", b"\xff\xfe", b"{"])
def test_what_is_no_gltf_is_a_value_error(data):
    with pytest.raises(ValueError, match=r"Expecting|no glTF|decode"):
        gltf.document(data)


def test_the_json_of_a_gltf_is_read_with_a_byte_order_mark_too():
    assert gltf.document(b"\xef\xbb\xbf" + json.dumps({"asset": {}}).encode()) == {"asset": {}}


def test_the_transparency_of_an_mtl_counts_where_no_dissolve_does():
    library = b"Tr 0.9\nnewmtl a\nTr 0.25\nnewmtl b\nTr 0.25\nd 0.5\nnewmtl c\ntr .5\nnewmtl d\nTr nan"
    assert mtl.by_transparency(library) == {"a": 0.75, "c": 0.5}


def test_an_mtl_states_by_its_keys_and_an_illumination_model_states_nothing():
    library = b"""
    newmtl bare
    Kd 1 0 0
    illum 3
    Ks 0.000 0 0
    newmtl full colour
      Ns 250
    Pm 0.5
    Ni 1.5
    d 0.4
    Ks 0.5 0.5 0.5
    newmtl physical
    map_Pr rough.png
    Tf 1 1 1
    Pm
    """
    assert mtl.stated(library) == {
        "bare": frozenset(),
        "full colour": EVERYTHING,
        "physical": {ROUGHNESS, TRANSMISSION},
    }


def test_the_libraries_of_an_obj_are_found_wherever_they_are_named():
    data = b"# mtllib no.mtl\nmtllib my bricks.mtl\no a\nv 0 0 0\n  mtllib b.mtl\r\nmtllib b.mtl\n"
    assert list(mtl.libraries(data)) == ["my bricks.mtl", "my", "bricks.mtl", "b.mtl"]


@pytest.mark.parametrize("cut", [25, 60, 200, 1000])
def test_a_torn_fbx_is_a_value_error_and_no_other(cut):
    """Offsets that lead beyond the end, and junk in place of records."""
    junk = bytes(range(1, 256)) * 8
    with pytest.raises(ValueError, match=r"records|name"):
        fbx.stated((fbx.MAGIC + (7500).to_bytes(4, "little") + junk)[:cut])
    with pytest.raises(ValueError, match="no binary FBX"):
        fbx.stated(b"; FBX 7.4.0 project file")


def test_what_was_left_out_is_told_in_one_sentence_with_its_count():
    all_, gloss = frozenset({ROUGHNESS, METALLIC, IOR}), frozenset({ROUGHNESS})
    assert stated.taken([all_] * 5).endswith("plastic: gloss, metal and refraction of all 5 materials.")
    assert stated.taken([gloss, all_, frozenset()]).endswith(
        "gloss of 2 of 3 materials; metal and refraction of 1 of 3 materials."
    )
    assert stated.taken([gloss]).endswith("plastic: gloss of the one material.")
    assert stated.taken([frozenset({TRANSMISSION, SPECULAR})]) == stated.taken([]) == ""


def test_a_build_that_is_metal_or_matt_all_over_is_told_and_no_other():
    metal, matt, plastic, pictured = Surface(0.3, 1.0), Surface(0.6, 0.0), Surface(0.5, 0.0), Surface(None, None)
    told = stated.unlike_plastic([metal] * 5, "the export")
    assert len(told) == 1
    assert told[0].startswith("Metal by the export: all 5 materials.")
    assert stated.unlike_plastic([matt, Surface(1.0, 0.0)], "the scene")[0].startswith(
        "Matt by the scene: all 2 materials, roughness 0.6 or more."
    )
    assert len(stated.unlike_plastic([Surface(1.0, 1.0)], "the export")) == 2
    for builds in ([], [metal, plastic], [matt, plastic], [plastic], [matt, pictured], [metal, pictured]):
        assert stated.unlike_plastic(builds, "the export") == ()


def test_plastics_values_are_those_of_its_kind():
    for kind, plastic in kinds.MOULDED.items():
        values = stated.moulded(kind)
        assert values[ROUGHNESS] == plastic.roughness
        assert values[IOR] == plastic.index_of_refraction
        assert values[METALLIC] == values[TRANSMISSION] == 0.0
