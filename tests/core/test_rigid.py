import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.spatial.transform import Rotation

from addon.core import rigid

ORDERS = ["XYZ", "XZY", "YXZ", "YZX", "ZXY", "ZYX"]
vectors = arrays(float, (5, 3), elements=st.floats(-3.0, 3.0))


def by_scipy(order: str, angles: np.ndarray) -> np.ndarray:
    """scipy's extrinsic rotations: lower-case letters, angles in the order of the letters."""
    return Rotation.from_euler(order.lower(), angles[:, ["XYZ".index(letter) for letter in order]]).as_matrix()


@given(vectors)
def test_rotation_is_rodrigues(vector):
    assert np.allclose(rigid.rotation(vector), Rotation.from_rotvec(vector).as_matrix(), atol=1e-14)


def test_rotation_of_a_worked_example():
    # (4, 5, 6) turned by 40 degrees about (1, 2, 3): computed with scipy and OpenCV, which agree to 6e-17.
    vector = np.radians(40.0) * np.array([1.0, 2.0, 3.0]) / np.sqrt(14.0)
    turned = rigid.turned(rigid.rotation(vector), np.array([4.0, 5.0, 6.0]))
    assert np.allclose(turned, [3.0835566865088757, 5.930486621869735, 5.685156689917219], atol=1e-13)


@given(arrays(float, (5, 3), elements=st.sampled_from([0.0, -0.0, 1e-300, -1e-300, 0.02, -3.0])))
def test_a_rotation_has_no_zero_below_nothing(vector):
    matrix = rigid.rotation(vector)  # files and hashes tell -0.0 from 0.0 (IEEE 754)
    assert not np.signbit(matrix[matrix == 0.0]).any()
    assert rigid.rotation(np.array([0.0, -0.0, 0.0])).tobytes() == np.eye(3).tobytes()


@given(arrays(float, (5, 3), elements=st.floats(-1.0, 1.0)))
def test_rotation_vector_undoes_rotation(vector):
    assert np.allclose(rigid.rotation_vector(rigid.rotation(vector)), vector, atol=1e-12)


@pytest.mark.parametrize("order", ORDERS)
@given(angles=vectors)
def test_euler_angles_of_every_order(order, angles):
    matrix = rigid.from_euler(angles, order)
    assert np.allclose(matrix, by_scipy(order, angles), atol=1e-14)
    assert np.allclose(rigid.from_euler(rigid.to_euler(matrix, order), order), matrix, atol=1e-7)


@pytest.mark.parametrize("order", ORDERS)
def test_euler_angles_where_two_axes_fall_together(order):
    angles = np.array([[0.3, 0.3, 0.3]])
    angles[0, "XYZ".index(order[1])] = np.pi / 2
    matrix = rigid.from_euler(angles, order)
    assert np.allclose(rigid.from_euler(rigid.to_euler(matrix, order), order), matrix, atol=1e-9)


@given(vectors)
def test_quaternions(vector):
    expected = Rotation.from_rotvec(vector)
    w_first = expected.as_quat()[:, [3, 0, 1, 2]]
    assert np.allclose(rigid.from_quaternion(2.5 * w_first), expected.as_matrix(), atol=1e-14)
    assert np.allclose(
        rigid.from_quaternion(rigid.to_quaternion(expected.as_matrix())), expected.as_matrix(), atol=1e-14
    )
    assert (rigid.to_quaternion(expected.as_matrix())[:, 0] >= 0).all()


@given(arrays(float, 50, elements=st.floats(-1e4, 1e4)))
def test_sine_and_cosine(angle):
    sine, cosine = rigid.sine_cosine(angle)
    assert np.allclose(sine, np.sin(angle), atol=1e-14)
    assert np.allclose(cosine, np.cos(angle), atol=1e-14)


@pytest.mark.shared_out
@given(arrays(float, (2, 50), elements=st.floats(-10, 10).filter(lambda x: x == 0 or abs(x) > 1e-9)))
def test_arctangent(yx):
    assert np.allclose(rigid.arctangent(*yx), np.arctan2(*(yx + 0.0)), atol=1e-14)


@given(arrays(float, (4, 3, 3), elements=st.floats(-2, 2)))
def test_inverse_and_product(matrix):
    matrix = matrix + 7.0 * np.eye(3)
    assert np.allclose(rigid.inverse(matrix), np.linalg.inv(matrix), atol=1e-12)
    assert np.allclose(rigid.product(matrix, matrix[::-1]), matrix @ matrix[::-1], atol=1e-12)
