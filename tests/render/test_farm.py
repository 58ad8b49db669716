"""A job of shots, judged and run by the reference implementation of Open Job Description (openjd-cli)."""

import os
import shlex
import subprocess
import sys
from pathlib import Path

import bpy
import numpy as np
import pytest

from addon import cli, usecases
from addon.core.errors import ShotProblem
from addon.core.shots import job
from addon.core.shots.shot import Shot
from tests.blender import scenes
from tests.render.layered import Layered

# Blender as a program, of which only what follows the two dashes is told on: the wheel has none.
BLENDER = """#!/bin/sh
while [ "$1" != --python ]; do shift; done
exec {python} "$2" "$@"
"""


@pytest.fixture
def folder(set_up, tmp_path, monkeypatch) -> Path:
    """A file of three shots of two frames with its passes on, and a job for them."""
    scene = bpy.context.scene
    for number in range(3):
        scene.timeline_markers.new(f"sh0{number}0", frame=1 + 2 * number).camera = scene.camera
    scene.frame_end, scene.cycles.samples = 6, 1
    lost = bpy.data.images.new("plate", 4, 4)
    lost.filepath_raw, lost.file_format, lost.use_fake_user = str(tmp_path / "plate.png"), "PNG", True
    lost.save()
    usecases.apply(set_up, scenes.PRESET, usecases.Dials(seed=7))
    usecases.put_passes_on(set_up, scene)
    usecases.save(tmp_path / "worn.blend")
    program = tmp_path / "blender"
    program.write_text(BLENDER.format(python=shlex.quote(sys.executable)))
    program.chmod(0o755)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def openjd(*words) -> subprocess.CompletedProcess:
    environment = {**os.environ, "PYTHONPATH": ""}
    return subprocess.run(
        [sys.executable, "-m", "openjd", *map(str, words)], capture_output=True, text=True, timeout=300, env=environment
    )


def run(folder: Path, *words) -> subprocess.CompletedProcess:
    given = ("-p", f"Blender={folder / 'blender'}", "-p", f"Folder={folder / 'frames'}")
    return openjd("run", "job.yaml", *given, *words)


@pytest.mark.shared_out
def test_a_job_renders_every_frame_of_every_shot_and_says_what_is_missing(folder):
    assert cli.main(["job", "worn.blend", "--chunk", "2", "--out", "job.yaml"]) == 0
    checked = openjd("check", "job.yaml")
    assert checked.returncode == 0, checked.stdout + checked.stderr

    done = run(folder, "--step", "Whole", "--run-dependencies")
    assert done.returncode == 0, done.stdout + done.stderr
    names = sorted(path.name for path in (folder / "frames").iterdir())
    assert names == [f"sh0{shot}0.{1 + 2 * shot + frame:04d}.exr" for shot in range(3) for frame in range(2)]
    whole = Layered(folder / "frames" / "sh010.0003.exr")
    assert whole.value("playworn_dust").max() > 0.0

    # Once more only what is not there, by other dials.
    (folder / "frames" / "sh010.0004.exr").unlink()
    kept = (folder / "frames" / "sh010.0003.exr").stat()
    lacking = run(folder, "--step", "Whole")
    assert lacking.returncode != 0
    assert "sh010.0004.exr" in lacking.stdout
    one = ("-tp", "Shot=sh010", "-tp", "Camera=camera", "-tp", "Frames=3..4")
    again = run(folder, "--step", "Render", *one, "-p", "Dust=0", "-p", "Wear=0.5")
    assert again.returncode == 0, again.stdout + again.stderr
    assert (folder / "frames" / "sh010.0003.exr").stat() == kept
    clean = Layered(folder / "frames" / "sh010.0004.exr")
    assert clean.value("playworn_dust").max() == 0.0
    assert 0.0 < clean.value("playworn_scratches").mean() < 0.8 * whole.value("playworn_scratches").mean()
    motions = [each.value("playworn_motion") for each in (whole, clean)]
    assert np.abs(motions[0] - motions[1]).max() < 1e-6

    # A picture that is gone fails the first step, and is named.
    (folder / "plate.png").unlink()
    failed = run(folder, "--step", "Check")
    assert failed.returncode != 0
    assert "plate.png" in failed.stdout


def test_what_a_farm_would_show_otherwise_is_refused(folder, capfd):
    build, scene = bpy.data.collections["build"], bpy.context.scene
    usecases.keep_shots(scene)
    usecases.dial_shots(scene, {("sh010", "dust"): 0.5})
    usecases.save(folder / "dialled.blend")
    usecases.take_passes_off(scene)
    usecases.save(folder / "without.blend")
    for file, words in (("dialled", "put it on the timeline"), ("without", "has no passes")):
        assert cli.main(["job", f"{file}.blend", "--out", "job.yaml"]) == 1
        assert words in capfd.readouterr().err
    assert cli.main(["job", "worn.blend", "--chunk", "0", "--out", "job.yaml"]) == 2
    assert not (folder / "job.yaml").exists()
    assert build


def test_tasks_are_within_what_a_job_may_have():
    shots = [Shot("sh010", "far", 1, 1024), Shot("sh020", "{near}", 2000, 2002)]
    assert [part for _, part in job.chunks(shots[1:], 2)] == ["2000..2001", "2002..2002"]
    assert len(job.chunks(shots[:1], 1)) == job.MOST_TASKS
    with pytest.raises(ShotProblem, match="1027 tasks are more"):
        job.chunks(shots, 1)
    with pytest.raises(ShotProblem, match="takes for a parameter"):
        job.template("j", "f", [Shot("sh010", "{{far}}", 1, 1)], 1, "")
