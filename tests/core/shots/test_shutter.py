"""Where between two frames one shot may take over: never while a shutter is open."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from addon.core.shots.shutter import CENTRE, END, LONGEST, START, Shutter


def opened(position: str, length: float, frame: float) -> tuple[float, float]:
    """As Blender's manual tells it (Motion Blur, Position): starting on the frame, about it, or ending on it."""
    before = {START: 0.0, CENTRE: 0.5, END: 1.0}[position] * length
    return frame - before, frame - before + length


@given(
    st.sampled_from([START, CENTRE, END]),
    st.floats(0.01, LONGEST),
    st.integers(-2_000, 2_000),
    st.tuples(st.integers(25, 400), st.integers(25, 400)),
)
@example(START, LONGEST, 20_000, (100, 100))
@example(END, LONGEST, -20_000, (900, 100))
def test_a_cut_falls_into_no_open_shutter_whatever_is_rendered(position, length, first, remapped):
    """In the single precision that Blender evaluates curves in; all frames about the cut that are rendered."""
    old, new = remapped
    shutter = Shutter(position, length, old / new)
    cut = shutter.cut(first)
    assert shutter.parts(first, cut)
    number = int(np.ceil(first * new / old - 1e-6))  # Blender renders frame n at the time n old / new
    assert number * old / new == pytest.approx(shutter.shown(first), abs=1e-6 * abs(first) + 1e-6)
    for n in range(number - 3, number + 4):
        times = np.float32([time * old / new for time in opened(position, length, n)])
        assert ((times >= np.float32(cut)) == (n >= number)).all()


def test_a_cut_does_not_depend_on_how_long_the_shutter_is_open():
    for position, before in ((START, 0.01), (CENTRE, 0.5), (END, 0.99)):
        cuts = [Shutter(position, length).cut(100) for length in (0.0, 0.3, 0.98, 1.0, 2.0)]
        assert cuts == pytest.approx([100.0 - before] * 5)


def test_a_shutter_that_is_open_into_the_next_is_told():
    assert [Shutter(length=length).is_open_too_long for length in (0.0, 0.5, 0.98, 0.99, 1.0, 2.0)] == [
        *[False] * 3,
        *[True] * 3,
    ]
    assert not Shutter(CENTRE, 0.5).parts(100, 100.0)  # keys on the frame itself
    assert Shutter(CENTRE, 0.0).parts(100, 100.0)
    assert not Shutter(END, 0.7).parts(100, Shutter(CENTRE).cut(100))
    assert not Shutter(step=0.5).parts(100, Shutter().cut(100))
