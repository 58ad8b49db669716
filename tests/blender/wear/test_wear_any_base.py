"""Wear reads on a base of any gloss, in the direction that real marks have: gloss is dulled and matt polished."""

import bpy
import numpy as np
import pytest

from addon.core.wear.kinds import MOULDED, OPAQUE, RUBBER
from addon.core.wear.layers import PICTURES, Finish, Scratches, Smudges, Wear
from addon.core.wear.texture import Texture
from addon.nodes.attach import attach
from tests.blender.wear.renders import (
    ONLY_SCRATCHED,
    ONLY_SMUDGED,
    WHITE,
    glossy,
    picture_of,
    pictures,
    render,
    shining,
)

BASES = (0.0, 0.16, 0.3, 0.32, 0.34, 0.5, 0.7, 1.0)
LEAST = 0.13  # of roughness, between a full mark and what is clean
BOTH = Wear(0.0, Scratches(0.6, 40.0, 6.0), Smudges(0.6, 60.0))


def stripes(period):
    """A picture of full marks and none, as wide as each other."""
    return picture_of(np.broadcast_to((np.arange(64) // period % 2).astype(float), (64, 64)))


def face(wear, base, tmp_path):
    """The roughness over ten millimetres of a face, as the shader gets it."""
    images = {kind: Texture(stripes(2 if kind == "scratches" else 4)) for kind in PICTURES}
    shining(WHITE, wear, "Roughness", images=images, Roughness=base)
    return render(tmp_path, 64, 1)[..., 0]


@pytest.mark.shared_out
@pytest.mark.parametrize("base", BASES)
@pytest.mark.parametrize("wear", [ONLY_SCRATCHED, ONLY_SMUDGED], ids=["scratches", "smudges"])
def test_marks_show_on_every_base_dull_on_gloss_and_bright_on_matt(wear, base, tmp_path):
    seen = face(wear, base, tmp_path)
    assert np.ptp(seen) > LEAST
    kept, marked = (seen.min(), seen.max()) if base < 0.33 else (seen.max(), seen.min())
    assert kept == pytest.approx(base, abs=1e-6)
    assert 0.1 < marked <= 0.5 + 1e-6  # neither a mirror nor chalk


@pytest.mark.parametrize("base", BASES)
def test_scratches_and_smudges_of_one_preset_never_undo_each_other(base, tmp_path):
    seen = face(BOTH, base, tmp_path)
    assert np.ptp(seen) > LEAST * 0.6
    assert seen.min() >= base - 1e-6 if base < 0.33 else seen.max() <= base + 1e-6


def test_the_stand_ins_show_on_matt_at_least_as_they_do_on_the_edge_of_gloss(tmp_path):
    """With the pictures that are there without a folder, on bases that hid them altogether."""
    spreads = {}
    for base in (0.3, 0.5, 0.7, 1.0):
        shining(WHITE, BOTH, "Roughness", Roughness=base)
        spreads[base] = float(np.ptp(render(tmp_path, 64, 1)[..., 0]))
        bpy.data.batch_remove(bpy.data.objects)
    assert min(spreads.values()) == spreads[0.3] > 0.05


@pytest.mark.parametrize(("wear", "most"), [(ONLY_SCRATCHED, 0.16 + 0.8 * (0.5 - 0.16)), (ONLY_SMUDGED, 0.5)])
def test_moulded_gloss_wears_as_it_always_did(wear, most, tmp_path):
    """On 0.16 marks go to 0.5, a scratch four fifths of the way: shipped looks are made for it."""
    assert face(wear, 0.16, tmp_path).max() == pytest.approx(most, abs=1e-6)


def moulded(*bases):
    """The roughness that a full finish gives the materials of a build with these bases."""
    materials = []
    for base in bases:
        material = glossy()
        shader = next(n for n in material.node_tree.nodes if n.bl_idname == "ShaderNodeBsdfPrincipled")
        shader.inputs["Roughness"].default_value = base
        materials.append(material)
    attach(materials, Wear(finish=Finish(1.0)), pictures(), 1.0)
    ours = [next(n for n in m.node_tree.nodes if n.label == "Playworn wear") for m in materials]
    return [round(node.inputs["Moulded roughness"].default_value, 3) for node in ours]


def test_a_build_that_is_dull_all_over_is_no_rubber_and_what_is_dull_among_gloss_is():
    plastic, rubber = MOULDED[OPAQUE].roughness, MOULDED[RUBBER].roughness
    assert moulded(1.0, 0.9, 0.8) == [plastic] * 3
    assert moulded(1.0, 0.3) == [rubber, plastic]
    assert moulded(1.0) == [plastic]
    assert moulded(1.0, 0.5) == [rubber, plastic]


def test_the_kind_is_the_same_where_the_wear_is_put_in_anew():
    rubber, plastic = glossy(), glossy()
    for material, base in ((rubber, 0.9), (plastic, 0.2)):
        shader = next(n for n in material.node_tree.nodes if n.bl_idname == "ShaderNodeBsdfPrincipled")
        shader.inputs["Roughness"].default_value = base
    for _ in range(2):
        attach([rubber, plastic], Wear(finish=Finish(1.0)), pictures(), 1.0)
        ours = next(n for n in rubber.node_tree.nodes if n.label == "Playworn wear")
        assert ours.inputs["Moulded roughness"].default_value == pytest.approx(MOULDED[RUBBER].roughness)
    assert len([g for g in bpy.data.node_groups if g.name.startswith("Playworn wear")]) == 1
