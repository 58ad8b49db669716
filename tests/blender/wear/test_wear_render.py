"""The wear as Cycles shows it: exactly clean where it must be, seen where it is."""

from dataclasses import replace

import bpy
import numpy as np
import pytest

from addon import compat
from addon.core.wear.layers import LAYERS, Dust, Fade, Finish, Rub, Scratches, Smudges, Tint, Wear
from addon.core.wear.quality import QUALITIES
from addon.nodes.attach import attach, detach
from addon.scene.wear import stamps
from tests.blender.wear.renders import (
    CLEAN,
    ONLY_DUSTY,
    ONLY_FADED,
    ONLY_MOULDED,
    ONLY_ROUNDED,
    ONLY_RUBBED,
    ONLY_SCRATCHED,
    ONLY_SMUDGED,
    ONLY_TINTED,
    WEAR,
    cube,
    forget_brick,
    forget_dial,
    glossy,
    lay_marks,
    look,
    pictures,
    render,
    stage,
    turn_dial_down,
)


@pytest.mark.shared_out
@pytest.mark.parametrize("normal_map", [False, True], ids=["constant", "normal map"])
@pytest.mark.parametrize("way", [forget_brick, forget_dial, turn_dial_down])
def test_outside_a_build_or_without_the_dial_it_is_the_untouched_material(way, normal_map, tmp_path):
    material = glossy(normal_map)
    brick = stage(material)
    untouched = render(tmp_path)
    attach([material], WEAR, pictures(), 0.001)
    worn = render(tmp_path)
    way(brick)
    assert np.abs(worn - untouched).max() > 0.02
    assert np.array_equal(render(tmp_path), untouched)


@pytest.mark.shared_out
@pytest.mark.parametrize("quality", QUALITIES.values(), ids=list(QUALITIES))
def test_amounts_of_nothing_are_exactly_clean_and_detached_too(quality, tmp_path):
    material = glossy()
    stage(material)
    untouched = render(tmp_path)
    attach([material], CLEAN, pictures(), 0.001, quality)
    assert np.array_equal(render(tmp_path), untouched)
    attach([material], WEAR, pictures(), 0.001, quality)
    assert not np.array_equal(render(tmp_path), untouched)
    detach([material])
    assert np.array_equal(render(tmp_path), untouched)


@pytest.mark.shared_out
@pytest.mark.parametrize(
    "wear",
    [ONLY_ROUNDED, ONLY_SCRATCHED, ONLY_SMUDGED, ONLY_DUSTY, ONLY_RUBBED, ONLY_TINTED, ONLY_FADED, ONLY_MOULDED],
)
def test_every_layer_alone_changes_the_picture(wear, tmp_path):
    material = glossy()
    stage(material)
    untouched = render(tmp_path, samples=16)
    attach([material], wear, pictures(), 0.001)
    change = np.abs(render(tmp_path, samples=16) - untouched)[..., :3].max(axis=2)
    assert (change > 0.01).mean() > 0.005


@pytest.mark.parametrize(("transmission", "index"), [(0.0, 1.54), (1.0, 1.585)], ids=["opaque", "clear"])
def test_a_moulded_brick_mirrors_what_fresnel_says_of_its_plastic(transmission, index, tmp_path):
    """At normal incidence ((n - 1) / (n + 1))^2 of the light comes back: 0.0452 for ABS, 0.0512 for polycarbonate.

    Black all through in a white world, so that the mirror is all there is to see. The moulded gloss of 0.16 spreads
    what comes back over a few degrees, where Fresnel's formula is still flat.
    """
    material = glossy()
    entries = next(n for n in material.node_tree.nodes if n.bl_idname == "ShaderNodeBsdfPrincipled").inputs
    entries["Base Color"].default_value = (0.0, 0.0, 0.0, 1.0)
    entries["Transmission Weight"].default_value = transmission
    cube(24.0, material)
    look(20.0)
    scene = bpy.context.scene
    scene["playworn_wear"] = 1.0
    scene.world = bpy.data.worlds.new("white")
    background = next(n for n in compat.node_tree(scene.world).nodes if n.bl_idname == "ShaderNodeBackground")
    background.inputs["Color"].default_value = (1.0, 1.0, 1.0, 1.0)
    bare = render(tmp_path, 32, 256)[..., 0].mean()
    attach([material], ONLY_MOULDED, pictures(), 0.001)
    moulded = render(tmp_path, 32, 256)[..., 0].mean()
    assert bare == pytest.approx(0.04, rel=0.02)  # the index of a default material is 1.5
    assert moulded == pytest.approx(((index - 1.0) / (index + 1.0)) ** 2, rel=0.02)


@pytest.mark.shared_out
@pytest.mark.parametrize("layer", LAYERS)
def test_the_scene_gives_one_layer_more_or_none_of_what_the_preset_says(layer, tmp_path):
    """Held against a preset that says so itself, pixel for pixel."""
    half = Wear(
        0.4, Scratches(0.4, 40.0, 6.0), Smudges(0.4, 60.0), Dust(0.4, 30.0), Rub(0.4), Tint(1.0), Fade(6.0), Finish(0.4)
    )
    strength = "delta_e" if layer in ("tint", "fade") else "amount"

    def says(amount):
        return replace(half, **{layer: replace(getattr(half, layer), **{strength: amount})})

    def rendered(wear, more):
        attach([material], wear, pictures(), 0.001)
        bpy.context.scene[stamps.MORE[layer]] = more
        return render(tmp_path, 48)

    material = glossy()
    stage(material)
    assert np.array_equal(rendered(half, -1.0), rendered(says(0.0), 0.0))
    twice = rendered(half, 1.0)
    assert not np.array_equal(twice, rendered(half, 0.0))
    if strength == "amount":
        assert np.array_equal(twice, rendered(says(0.8), 0.0))


def test_smudges_lie_in_the_sheen_and_nowhere_else(tmp_path):
    """A surface that reflects nothing (Specular IOR Level 0) shows no smudge at all."""
    material = glossy(specular=0.0)
    stage(material)
    untouched = render(tmp_path)
    attach([material], ONLY_SMUDGED, pictures(), 0.001)
    assert render(tmp_path) == pytest.approx(untouched, abs=1e-6)


def test_rounding_stays_at_the_edges(tmp_path):
    material = glossy()
    stage(material)
    look(0.020, (0.0, 0.0, 0.0), 0.3)
    untouched = render(tmp_path, samples=1)
    attach([material], ONLY_ROUNDED, pictures(), 0.001)
    assert np.array_equal(render(tmp_path, samples=1), untouched)  # 20 of 24 mm in view: nothing within 1 mm of an edge


def test_bricks_differ_and_a_name_does_not_matter(tmp_path):
    material = glossy()
    brick = stage(material)
    attach([material], WEAR, pictures(), 0.001)
    first = render(tmp_path)
    brick.name = "another name"
    assert np.array_equal(render(tmp_path), first)
    lay_marks(brick, 38, 1000.0)
    assert not np.array_equal(render(tmp_path), first)
