"""Work on parts of arrays: in order, whole, and the same to the bit whatever the number of threads."""

from dataclasses import replace

import numpy as np
import pytest

from addon.core import (
    contacts,
    draws,
    fit,
    interference,
    motions,
    near,
    play,
    remembered,
    rigid,
    rows,
    solver,
    targets,
    threads,
)
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


@pytest.mark.parametrize("kind", ["city", "block"])
def test_a_fit_is_the_same_to_the_bit_by_one_thread_and_by_several(kind, monkeypatch):
    """Blocks and chunks so small that every thread has some; twist and play so large that repairs are needed."""
    bricks = builds.KINDS[kind](600)
    small = {solver: {"_LEAST": 16, "_MOST": 64, "_CHUNK": 400, "_SHARE": 800}, interference: {"_CLOSE": 7}}
    chunked = (play, motions, targets, rows, interference, contacts, near)
    for module, name, value in (
        *((module, name, value) for module, values in small.items() for name, value in values.items()),
        *((module, "_CHUNK", 50) for module in chunked),
    ):
        monkeypatch.setattr(module, name, value)
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
    """Half of the build stands at an angle, where every contact has axes of its own."""
    upright = builds.city(400)
    about = rigid.rotation(np.array([0.0, 0.0, 0.3]))[None]
    away = rigid.turned(about, upright.origin) + np.array([2000.0, 0.0, 0.0])
    both = replace(
        upright,
        part=np.tile(upright.part, 2),
        turn=np.concatenate([upright.turn, rigid.product(about, upright.turn)]),
        origin=np.concatenate([upright.origin, away]),
        key=np.concatenate([upright.key, draws.mixed(upright.key)]),
    )

    def found():
        touching = contacts.contacts(both)
        order = np.lexsort([touching.piece_a, touching.piece_b])
        return [each[order] for each in (*touching.columns.values(), touching.axes)], touching

    whole, touching = found()
    assert (touching.frame > 2).mean() > 0.4
    monkeypatch.setattr(contacts, "_CHUNK", 50)
    frame = list(touching.columns).index("frame")
    for n, (here, there) in enumerate(zip(whole, found()[0], strict=True)):
        assert n == frame or np.array_equal(here, there)
