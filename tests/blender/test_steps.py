"""Long jobs step by step: given up after any step, the file is as it was; gone through, as after the job in one go."""

import gc
from contextlib import suppress
from pathlib import Path
from time import sleep

import bpy
import pytest

from addon import usecases
from addon.core.errors import FileProblem
from addon.core.slices import slicing
from addon.scene import files
from addon.ui.steps import _some
from addon.usecases.progress import done
from tests.blender import faults, scenes
from tests.blender.faults import DIALS, OTHER, ROUND, all_of_it, build
from tests.blender.scenes import PRESET
from tests.blender.turns import third


def _files() -> list[Path]:
    return [faults._export("first"), faults._export("next")]


def _two_builds() -> None:
    faults._wall()
    other = scenes.collection("other")
    for n in range(3):
        scenes.put(other, scenes.brick_mesh(f"other {n}", 4, 2, 3), f"other.{n}", (0.5, 0.0, 0.0096 * n))
    bpy.context.view_layer.update()


def _both() -> list[bpy.types.Collection]:
    return [build(), bpy.data.collections["other"]]


def _updated() -> None:
    """Its next version has come, and with it bricks that nobody has touched."""
    faults._imported()
    usecases.update(build(), faults._export("next"))


JOBS = {
    "apply": (faults._wall, lambda: usecases.applying(build(), PRESET, ROUND)),
    "apply another": (faults._keyed, lambda: usecases.applying(build(), OTHER, DIALS)),
    "clear": (faults._keyed, lambda: usecases.clearing(build())),
    "clear everything": (faults._keyed, usecases.clearing_everything),
    "update": (faults._imported, lambda: usecases.updating(build(), faults._export("next"))),
    "update back": (_updated, lambda: usecases.updating(build(), faults._export("first"))),
    "bring in": (faults._worn, lambda: usecases.bringing_in(_files())),
    "apply to all": (_two_builds, lambda: usecases.applying_to_all(_both(), PRESET, DIALS)),
}
LEAST = 5  # steps of any of them


def _ready(name: str) -> dict:
    files.new()
    JOBS[name][0]()
    return all_of_it()


def _gone_into(name: str, step, further: int):
    """The job in the midst of a step. How often one rests is the clock's: where the job ends before, anew, less far."""
    while True:
        steps = JOBS[name][1]()
        with suppress(StopIteration), slicing():
            while next(steps) != step:
                pass
            for _ in range(further):
                if next(steps) != step:
                    break
            return steps
        _ready(name)
        further //= 2


@pytest.mark.parametrize("name", JOBS)
def test_given_up_after_any_step_the_file_is_as_it_was(name, extension):
    before = _ready(name)
    with slicing():
        said = list(JOBS[name][1]())
    assert all_of_it() != before
    assert _ready(name) == before
    words = list(dict.fromkeys(said))
    for step in third(words):
        steps = _gone_into(name, step, said.count(step) // 2)
        steps.close()
        now = all_of_it()
        assert {part: now[part] for part in now if now[part] != before[part]} == {}, step
    assert len(words) > LEAST


@pytest.mark.shared_out
@pytest.mark.parametrize("name", JOBS)
def test_in_slices_it_comes_to_the_same(name, extension):
    _ready(name)
    done(JOBS[name][1](), usecases.quiet)
    at_once = all_of_it()
    _ready(name)
    with slicing():
        done(JOBS[name][1](), usecases.quiet)
    assert all_of_it() == at_once


def test_of_several_files_one_that_cannot_be_read_stops_no_other(tmp_path, extension):
    broken = tmp_path / "broken.obj"
    broken.write_text("nothing")
    found = done(usecases.bringing_in([broken, *_files()]), usecases.quiet)
    assert [each.build is not None for each in found] == [False, True, True]
    assert isinstance(found[0].problem, FileProblem)
    assert [each.inspection.bricks > 0 for each in found[1:]] == [True, True]
    with suppress(FileProblem):
        done(usecases.bringing_in([broken]), usecases.quiet)
        pytest.fail("a file that comes alone tells why it cannot be read")


def test_each_step_is_told_once(extension):
    _ready("apply")
    told = []
    done(usecases.applying(build(), PRESET, ROUND), lambda *step: told.append(step))
    assert len(told) == len(set(told))
    assert [fraction for fraction, _ in told] == sorted(fraction for fraction, _ in told)


def test_no_turn_waits_until_python_has_looked_for_garbage():
    within = []

    def job():
        for _ in range(3):
            within.append(gc.isenabled())
            sleep(0.06)  # longer than a turn, so that each step is one
            yield 0.0, "working"
        raise FileProblem("on purpose")

    steps, between = job(), []
    with suppress(FileProblem):
        while True:
            _some(steps, 0.0)
            between.append(gc.isenabled())
    assert (within, between) == ([False] * 3, [True] * 3)
    assert gc.isenabled()
