"""Dust as Cycles shows it: on what faces the sky, beside walls, grey, and not inside glass."""

from dataclasses import replace

import numpy as np
import pytest

from addon.core.wear import cielab
from addon.core.wear.layers import Smudges
from addon.core.wear.quality import STANDARD
from addon.nodes.attach import attach
from tests.blender.wear.renders import (
    BLUE,
    ONLY_DUSTY,
    WHITE,
    apart,
    cube,
    glossy,
    look,
    pictures,
    render,
    shining,
    stage,
)

TAN, BLACK = (0.62, 0.47, 0.27), (0.012, 0.012, 0.014)


@pytest.mark.parametrize("turn", [0.0, np.pi], ids=["upright", "upside down"])
def test_dust_lies_on_what_faces_the_sky_thinner_on_slopes_and_nowhere_on_walls(turn, tmp_path):
    """The face of a cube tipped further and further, seen square on: the world's up counts, not its own."""
    brick = shining(BLUE, ONLY_DUSTY)
    covers = []
    for degrees in (0.0, 35.0, 50.0, 75.0):
        brick.rotation_euler = (turn + np.radians(degrees), 0.0, 0.0)
        look(10.0, (np.radians(degrees), 0.0, 0.0))
        covers.append(render(tmp_path, 16, 4)[..., :3].mean(axis=(0, 1))[0] - BLUE[0])
    assert covers[0] > covers[1] > covers[2] > 0.02
    assert covers[3] == pytest.approx(0.0, abs=1e-7)
    look(10.0, (np.pi, 0.0, 0.0))  # from below
    brick.rotation_euler = (turn, 0.0, 0.0)
    assert render(tmp_path, 16, 4)[..., 0] == pytest.approx(BLUE[0], abs=1e-7)


def test_dust_is_pale_and_never_paler_than_dust(tmp_path):
    shining(BLUE, ONLY_DUSTY)
    seen = render(tmp_path, 64, 1)[..., :3]
    light = cielab.lab(seen)[..., 0]
    assert cielab.lab(BLUE)[0] + 5.0 < light.min()  # a film everywhere
    assert light.max() < 62.0
    assert light.std() > 1.0  # and specks in it


def test_dust_lies_thicker_beside_a_wall_and_as_ever_a_centimetre_from_it(tmp_path):
    shining(BLUE, ONLY_DUSTY)
    look(20.0)
    free = render(tmp_path, 20, 64)[..., 0] - BLUE[0]
    wall = cube(24.0, None)
    wall.location = (-18.0, 0.0, 12.0)  # covers the top face from its edge to x = -6: four columns of the picture
    beside = render(tmp_path, 20, 64)[..., 0] - BLUE[0]
    assert beside[:, 4].mean() > 1.2 * free[:, 4].mean()
    assert beside[:, 10:] == pytest.approx(free[:, 10:], abs=1e-7)


@pytest.mark.parametrize("colour", [WHITE, TAN, BLUE, BLACK], ids=["white", "tan", "blue", "black"])
def test_dust_is_seen_on_pale_plastic_as_on_dark(colour, tmp_path):
    """2.3 of CIE 1976 is a just noticeable difference (Mahy, Van Eycken, Oosterlinck 1994); CIEDE2000 tells less."""
    shining(colour, ONLY_DUSTY, quality=STANDARD)
    assert 3.0 < apart(colour, render(tmp_path, 64, 4)[..., :3].reshape(-1, 3).mean(axis=0)) < 25.0


@pytest.mark.parametrize("amount", [0.2, 1.0])
def test_thin_dust_dulls_what_it_lies_on_more_than_it_hides_it(amount, tmp_path):
    """Shares of the way to dust's colour and to matt: grains apart scatter a highlight, and let the colour through."""
    thin = replace(ONLY_DUSTY, dust=replace(ONLY_DUSTY.dust, amount=amount))
    shining((0.0, 0.0, 0.0), thin, quality=STANDARD)
    hidden = render(tmp_path, 64, 4)[..., 0].mean() / 0.30
    shining(BLACK, thin, "Roughness", quality=STANDARD)
    dulled = (render(tmp_path, 64, 4)[..., 0].mean() - 0.2) / 0.8
    assert 0.03 < hidden < dulled / 1.5
    assert dulled < 1.0


def test_no_finger_draws_its_ridges_into_the_dust(tmp_path):
    dusty = []
    for smudged in (ONLY_DUSTY, replace(ONLY_DUSTY, smudges=Smudges(1.0, 60.0))):
        shining(BLUE, smudged, quality=STANDARD)
        dusty.append(render(tmp_path, 64, 4))
    assert np.array_equal(*dusty)


@pytest.mark.parametrize("how", [("Transmission Weight", 1.0), ("Alpha", 0.3)])
def test_no_dust_inside_glass(how, tmp_path):
    material = glossy()
    shader = next(node for node in material.node_tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    shader.inputs[how[0]].default_value = how[1]
    stage(material)
    untouched = render(tmp_path)
    attach([material], ONLY_DUSTY, pictures(), 0.001)
    assert np.array_equal(render(tmp_path), untouched)
