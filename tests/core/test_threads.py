"""Work on parts of arrays: in order, whole, and the same to the bit whatever the number of threads."""

import numpy as np
import pytest

from addon.core import remembered, threads
from addon.core.build import contacts
from addon.core.fit import fit
from bench import builds


@pytest.mark.parametrize(("number", "most"), [(0, 4), (1, 4), (4, 4), (5, 4), (100, 7)])
def test_slices_hold_everything_once(number, most):
    parts = threads.slices(number, most)
    assert [n for part in parts for n in range(number)[part]] == list(range(number))
    assert max(part.stop - part.start for part in parts) <= most


@pytest.mark.parametrize("workers", [1, 2, 5])
def test_findings_come_in_order_and_mistakes_come_out(workers, monkeypatch):
    monkeypatch.setattr(threads, "WORKERS", workers)
    assert list(threads.each(lambda n: n * n, range(40))) == [n * n for n in range(40)]
    assert list(threads.each(lambda n: n, [])) == []
    with pytest.raises(ZeroDivisionError):
        list(threads.each(lambda n: 1 / n, [1, 0, 1]))


@pytest.mark.parametrize("at_an_angle", [False, True])
@pytest.mark.parametrize("kind", ["city", "block"])
def test_a_fit_is_the_same_to_the_bit_by_one_thread_and_by_several(kind, at_an_angle, monkeypatch):
    """Slices so small that every thread has some; twist and play so large that repairs are needed."""
    bricks = builds.KINDS[kind](600)
    if at_an_angle:
        bricks = builds.with_another_at_an_angle(builds.KINDS[kind](300))
    sliced = threads.slices
    monkeypatch.setattr(threads, "slices", lambda number, most: sliced(number, min(most, 50)))
    found = []
    for workers in (1, 2, 3, 5):
        monkeypatch.setattr(threads, "WORKERS", workers)
        remembered.forget()
        fitted = fit.fitted(bricks, builds.LIMITS, 3, 2.0)
        found.append(np.hstack([fitted.motions.shift, fitted.motions.turn, fitted.motions.shrink]).tobytes())
    assert len(set(found)) == 1
    monkeypatch.undo()
    remembered.forget()
    whole = fit.fitted(bricks, builds.LIMITS, 3, 2.0).motions
    assert np.hstack([whole.shift, whole.turn, whole.shrink]).tobytes() == found[0]


def test_contacts_found_in_many_parts_are_the_same(monkeypatch):
    both = builds.with_another_at_an_angle(builds.city(400))

    def found():
        touching = contacts.contacts(both)
        order = np.lexsort([touching.piece_a, touching.piece_b])
        return [each[order] for each in (*touching.columns.values(), touching.axes)], touching

    whole, touching = found()
    assert (touching.frame > 2).mean() > 0.4
    sliced = threads.slices
    monkeypatch.setattr(threads, "slices", lambda number, most: sliced(number, min(most, 50)))
    frame = list(touching.columns).index("frame")
    for n, (here, there) in enumerate(zip(whole, found()[0], strict=True)):
        assert n == frame or np.array_equal(here, there)
