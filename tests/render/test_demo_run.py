"""The demo from end to end, at the size of a stamp; Pillow reads its pictures as an independent reader."""

import json
from pathlib import Path

import bpy
import numpy as np
import pytest
from PIL import Image

from addon.core.errors import FileProblem
from addon.demo import run, sheet
from addon.demo.lighthouse import bricks

STAMP = run.Size(96, 54, 2)


@pytest.fixture
def demo(extension, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[run.Demo, Path, list[float]]:
    monkeypatch.setattr(run, "QUICK", STAMP)
    heard: list[float] = []
    told = run.run(tmp_path / "out", quick=True, progress=lambda fraction, words: heard.append(fraction))
    return told, tmp_path / "out", heard


def pixels(path: Path) -> np.ndarray:
    return np.asarray(Image.open(path).convert("RGB"))


def test_the_whole_job(demo):
    told, out, heard = demo

    assert sorted(p.name for p in out.iterdir()) == sorted(run.FILES)
    assert heard == sorted(heard)
    assert heard[-1] == 1.0

    assert told.build.bricks == told.applied.bricks == len(bricks())
    assert told.build.loose == told.build.duplicates == 0
    assert told.build.size_mm[:2] == pytest.approx((256.0, 160.0), abs=1e-2)
    assert told.applied.skipped == ()
    report = json.loads((out / "report.json").read_text(encoding="utf-8"))
    assert report["applied"]["moved"] == told.applied.moved > 0

    pictures = {name: pixels(out / name) for name in run.FILES if name.endswith(".png")}
    for view in ("wide", "close"):
        clean, worn = (pictures[f"{view}_{state}.png"].astype(int) for state in ("clean", "worn"))
        assert clean.shape == worn.shape == (STAMP.height, STAMP.width, 3)
        assert clean.std() > 20  # a picture, neither black nor burnt out
        assert np.abs(clean - worn).mean() > 0.5

    joined, line = pictures["before_after.png"], 2
    assert joined.shape == (2 * STAMP.height + line, 2 * STAMP.width + line, 3)
    for row, view in enumerate(("wide", "close")):
        for column, state in enumerate(("clean", "worn")):
            top, left = row * (STAMP.height + line), column * (STAMP.width + line)
            part = joined[top : top + STAMP.height, left : left + STAMP.width]
            assert np.array_equal(part, pictures[f"{view}_{state}.png"])

    bpy.ops.wm.open_mainfile(filepath=str(out / "lighthouse.blend"))
    assert bpy.context.scene.camera.name == "wide"
    assert sum(1 for thing in bpy.context.scene.objects if "playworn_share" in thing) == len(bricks())


def test_a_folder_that_cannot_be_used_is_told_in_one_sentence(extension, tmp_path):
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(FileProblem, match="choose another"):
        run.run(tmp_path / "taken")
    assert [p.name for p in tmp_path.iterdir()] == ["taken"]


def test_a_sheet_that_cannot_be_written_leaves_nothing_behind(tmp_path):
    Image.new("RGB", (8, 4), (10, 20, 30)).save(tmp_path / "a.png")
    (tmp_path / "sheet.png").mkdir()
    with pytest.raises(FileProblem, match="cannot be written"):
        sheet.join([[tmp_path / "a.png"]], tmp_path / "sheet.png")
    assert not bpy.data.images
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.png", "sheet.png"]
