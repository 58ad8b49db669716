"""Faces that are not flat, as Cycles shows them: their normals held against differences of the height that is meant.
And how far bricks differ in gloss."""

from dataclasses import dataclass

import numpy as np
import pytest
from mathutils import Euler, Matrix

from addon.core.sizes import TRADE
from addon.core.wear.layers import Finish, Wear
from addon.core.wear.names import OFFSET, SPOT, TURN
from addon.core.wear.quality import CLOSE_UP, STANDARD
from tests.blender.wear.renders import BLUE, lay_marks, look, pictures, render, shining

PIXELS, WIDE_MM, HALF_MM = 32, 10.0, 12.0  # of the picture, and of the cube
STEP_MM = 0.01


@dataclass(frozen=True)
class Face:
    """Where a brick stands before the camera that looks down z."""

    turn: tuple[float, float, float] = (0.0, 0.0, 0.0)
    scale: float = 1.0  # of the object, whose mesh then is that much smaller


FACES = {
    "flat": Face(),
    "on its side": Face((0.5 * np.pi, 0.0, 0.0)),
    "askew": Face((0.35, -0.25, 0.6)),
    "in other units": Face(scale=4.0),
}


@pytest.fixture
def normals(tmp_path):
    """The normals (rows, columns, 3) in the world that a brick shows with a finish."""

    def measured(finish, face, **properties):
        brick = shining(BLUE, Wear(finish=finish), "Normal")
        _as_colours(brick.data.materials[0])
        brick.data.transform(Matrix.Scale(1.0 / face.scale, 4))
        brick.scale, brick.rotation_euler = (face.scale,) * 3, face.turn
        lay_marks(brick, 37, face.scale)
        for name, value in properties.items():
            brick[name] = value
        look(WIDE_MM)
        return 2.0 * render(tmp_path, PIXELS, 64)[..., :3].astype(float) - 1.0

    return measured


def _as_colours(material):
    """Has a material shine with half of what it shone with and half of white: light is never below 0."""
    tree = material.node_tree
    shine = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeEmission")
    half = tree.nodes.new("ShaderNodeVectorMath")
    half.operation = "MULTIPLY_ADD"
    half.inputs[1].default_value = half.inputs[2].default_value = (0.5, 0.5, 0.5)
    tree.links.new(shine.inputs["Color"].links[0].from_socket, half.inputs[0])
    tree.links.new(half.outputs[0], shine.inputs["Color"])


def expected(height, face):
    """The normals of a face that stands so high (mm, of places in mm along the brick's own axes), by differences."""
    turn = np.array(Euler(face.turn).to_matrix())
    facing = int(np.abs(turn[2]).argmax())
    flat = np.sign(turn[2, facing]) * np.eye(3)[facing]
    up = turn @ flat
    at = ((np.arange(PIXELS) + 0.5) / PIXELS - 0.5) * WIDE_MM
    x, y = np.meshgrid(at, at)
    seen = np.stack([x, y, (HALF_MM - up[0] * x - up[1] * y) / up[2]], axis=-1) @ turn
    slope = np.stack(
        [(height(seen + STEP_MM * way) - height(seen - STEP_MM * way)) / (2.0 * STEP_MM) for way in np.eye(3)], axis=-1
    )
    bent = (flat - slope) @ turn.T
    return bent / np.linalg.norm(bent, axis=-1, keepdims=True)


def waves(place):
    """Three waves, each of a sixth of 90 µm, along the cross product of what they are long by and the place."""
    return 0.090 / 6.0 * np.sin(np.cross(2.0 * np.pi / np.array([52.0, 37.0, 44.0]), place)).sum(axis=-1)


@pytest.mark.parametrize("face", FACES.values(), ids=list(FACES))
def test_a_face_is_bent_as_a_height_in_space_says(face, normals):
    shift = np.array([411.0, 87.5, 902.25])
    seen = normals(Finish(1.0, 90.0), face, **{OFFSET: shift.tolist()})
    assert seen == pytest.approx(expected(lambda place: waves(place + shift), face), abs=3e-4)
    flat = expected(lambda place: 0.0 * place[..., 0], face)
    assert np.abs(seen - flat).max() > 3e-3


def test_a_large_face_is_no_farther_from_flat_than_is_said():
    place = np.stack(np.meshgrid(*(np.arange(0.0, 400.0, 0.5),) * 2, [HALF_MM]), axis=-1)
    assert 80.0 < 1000.0 * np.ptp(waves(place)) <= 90.0


@pytest.mark.parametrize("turn", [0.0, 0.5 * np.pi], ids=["as drawn", "turned"])
def test_the_top_sinks_at_studs_and_tubes_by_what_is_said(turn, normals):
    def sunk(place):
        """20 µm from the lowest, at whole pitches and in the middle of four, to the highest, between two studs."""
        x, y = (2.0 * np.pi / TRADE.pitch * place[..., axis] for axis in (0, 1))
        return -0.010 * np.cos(x) * np.cos(y)

    face = Face((0.0, 0.0, turn))
    seen = normals(Finish(1.0, 0.0, 20.0), face, **{TURN: (0.0, 0.0, -1.0), SPOT: (0.0, 0.0, 0.0)})
    assert seen == pytest.approx(expected(sunk, face), abs=3e-4)


def test_a_wall_sinks_along_the_ribs_behind_its_studs(normals, tmp_path):
    normals(Finish(1.0, 0.0, 20.0), Face(), **{TURN: (0.0, 0.0, -1.0), SPOT: (0.0, 0.0, 0.0)})
    look(WIDE_MM, (0.5 * np.pi, 0.0, 0.0))
    seen = 2.0 * render(tmp_path, PIXELS, 64)[..., :3].astype(float) - 1.0
    turns = 2.0 * np.pi / TRADE.pitch
    across = turns * (((np.arange(PIXELS) + 0.5) / PIXELS - 0.5) * WIDE_MM)
    assert seen[..., 0] == pytest.approx(np.broadcast_to(-0.010 * turns * np.sin(across), seen.shape[:2]), abs=3e-4)
    assert seen[..., 2] == pytest.approx(np.zeros(seen.shape[:2]), abs=1e-6)


def test_where_no_stud_is_counted_nothing_sinks(normals):
    seen = normals(Finish(1.0, 0.0, 20.0), Face(), **{TURN: (0.0, 0.0, 1.0), SPOT: (0.0, 0.0, 0.0)})
    assert seen == pytest.approx(np.broadcast_to((0.0, 0.0, 1.0), seen.shape), abs=1e-6)


def test_no_two_bricks_are_bent_alike(normals):
    first, second = (normals(Finish(1.0, 90.0), Face(), **{OFFSET: shift}) for shift in ((0.0,) * 3, (500.0,) * 3))
    assert np.abs(first - second).max() > 3e-3


@pytest.mark.parametrize("quality", [STANDARD, CLOSE_UP], ids=["standard", "close-up"])
def test_bricks_differ_in_gloss_by_as_much_as_is_said_and_at_no_quality_else(quality, tmp_path):
    brick = shining(BLUE, Wear(finish=Finish(1.0, spread=0.3)), "Roughness", pictures(), quality)
    seen = []
    for key in range(24):
        lay_marks(brick, key)
        brick.update_tag()
        seen.append(float(render(tmp_path, 4, 1)[..., 0].mean()) / 0.16)
    assert 0.7 - 1e-4 < min(seen) < 0.85
    assert 1.15 < max(seen) < 1.3 + 1e-4
