"""Dust as Cycles shows it: on what faces the sky, beside walls, pale, and not inside glass."""

import numpy as np
import pytest

from addon.core.wear import cielab
from addon.nodes.attach import attach
from tests.blender.wear.renders import BLUE, ONLY_DUSTY, cube, glossy, look, pictures, render, shining, stage


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
    assert light.max() < 75.0
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


@pytest.mark.parametrize("how", [("Transmission Weight", 1.0), ("Alpha", 0.3)])
def test_no_dust_inside_glass(how, tmp_path):
    material = glossy()
    shader = next(node for node in material.node_tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    shader.inputs[how[0]].default_value = how[1]
    stage(material)
    untouched = render(tmp_path)
    attach([material], ONLY_DUSTY, pictures(), 0.001)
    assert np.array_equal(render(tmp_path), untouched)
