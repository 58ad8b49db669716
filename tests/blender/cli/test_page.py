"""The page of one apply: what stands in it is what was done, and the file is the same as without it."""

import base64
import io
import json
import re
import sys
from xml.etree import ElementTree

import bpy
import html5lib
import numpy as np
import pytest
from PIL import Image

from addon import usecases
from addon.cli import charts, page
from addon.core.pictures.spread import Spread
from tests.blender import scenes
from tests.blender.cli.folders import DONE, WRONG, answer, contents, folder_of_pictures
from tests.blender.shots.test_shots import marker

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def small(monkeypatch):
    """Pictures that take no time."""
    monkeypatch.setattr(page, "WIDE", 64)
    monkeypatch.setattr(page, "SAMPLES", 1)


@pytest.fixture
def worn(run, somewhere, small):
    """Applies to a file and gives what was told, and the page as a parser of HTML reads it."""
    pictures = folder_of_pictures(somewhere, "scratches.png", "smudges.png", "dust.png")  # to draw them takes seconds

    def apply(file, *words):
        told = answer(run("apply", file, "--preset", "toy-box", "--seed", 3, "--textures", pictures, *words,
                          "--out", "worn.blend", "--report", "told.html", "--json"))  # fmt: skip
        text = (somewhere / "told.html").read_text("utf-8")
        return told, html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)

    return apply


def pictures(root) -> list[np.ndarray]:
    shown = [base64.b64decode(each.get("src").partition("base64,")[2]) for each in root.iter("img")]
    return [np.asarray(Image.open(io.BytesIO(each))).astype(float) for each in shown]


def sections(root) -> dict[str, str]:
    return {next(each.iter("h2")).text: "".join(each.itertext()) for each in root.iter("section")}


def test_the_page_tells_what_was_done(worn, export):
    told, root = worn(export)
    shown = {next(each.iter("dt")).text: next(each.iter("dd")).text for each in root.iter("dl") for each in each}
    assert shown["bricks"] == str(told["bricks"]) == "17"
    assert shown["moved"] == str(told["moved"])
    assert shown["median shift"] == f"{told['median_shift_mm']:.3f} mm"
    assert shown["deepest cut"] == "0.000 mm"
    clean, dirty = pictures(root)
    assert clean.shape == dirty.shape == (48, 64, 3)  # of the studio, the file having no camera
    assert clean.std() > 5.0
    assert np.abs(clean - dirty).mean() > 0.5
    found = sections(root)
    assert "no camera" in found["Before and after"]
    assert "no camera" in found["What it reads as"]
    assert "Nothing" in found["Left alone"]
    assert "scratches.png" in found["Left alone"]


def test_the_file_is_saved_before_and_has_no_studio_in_it(worn, export, somewhere, monkeypatch):
    saved, write = [], page.write

    def watched(*words):
        saved.append((somewhere / "worn.blend").read_bytes())
        write(*words)

    monkeypatch.setattr(page, "write", watched)
    worn(export)
    assert [(somewhere / "worn.blend").read_bytes()] == saved
    usecases.open_build(somewhere / "worn.blend")
    assert {thing.type for thing in bpy.data.objects} <= {"MESH", "EMPTY"}
    assert bpy.context.scene.camera is None


def test_shots_and_what_is_left_alone_stand_in_it_whatever_they_are_called(worn, somewhere):
    build, scene = scenes.wall(), bpy.context.scene
    scene.render.engine = "CYCLES"
    build.objects["part.0003"].rotation_mode = "AXIS_ANGLE"
    build.objects["part.0003"].name = "<b>3 & $x_1$"
    for frame, name in ((1, "wide <i>"), (10, "sh$_020$")):
        camera = bpy.data.objects.new(name, bpy.data.cameras.new(name))
        camera.location, camera.rotation_euler, camera.data.clip_start = (0.056, -0.3, 0.03), (1.5, 0.0, 0.0), 0.01
        scene.collection.objects.link(camera)
        marker(name, frame, camera)
    usecases.save(somewhere / "shots.blend")
    _, root = worn("shots.blend")
    found = sections(root)
    assert "<b>3 & $x_1$" in found["Left alone"]
    assert "axis and angle" in found["Left alone"]
    for name in ("wide <i>", "sh$_020$"):
        assert found["What it reads as"].count(name) >= 2  # in the chart and in the table
    assert len(list(root.iter(f"{SVG}svg"))) == 7
    ticks = [each.text for each in root.iter(f"{SVG}text") if each.text.startswith(("0", "1", "2", "3"))]
    assert {"0.1", "0.3", "1", "3"} <= set(ticks)
    assert not [each.text for each in root.iter(f"{SVG}text") if "\\" in each.text]  # no formula as its source
    ids = [each.get("id") for each in root.iter() if each.get("id")]
    assert len(ids) == len(set(ids))
    links = [each.get("href") for each in root.iter() if each.get("href")]
    assert links
    assert {link.removeprefix("#") for link in links} <= set(ids)


def test_both_reports_of_one_apply(run, build, somewhere, small):
    words = ("apply", build, "--preset", "fresh", "--out", "worn.blend")
    told = answer(run(*words, "--report", "told.json", "--report", "told.html", "--json"))
    assert json.loads((somewhere / "told.json").read_text("utf-8")) == told
    first = (somewhere / "told.html").read_bytes()
    run(*words, "--report", "again.html")
    assert (somewhere / "again.html").read_bytes() == first


def test_files_that_are_gone_leave_a_page_without_pictures(worn, build, somewhere):
    usecases.open_build(build)
    image = bpy.data.images.new("gone", 4, 4)
    image.source, image.filepath, image.use_fake_user = "FILE", str(somewhere / "gone.png"), True
    usecases.save(somewhere / "lacks.blend")
    _, root = worn("lacks.blend")
    assert list(root.iter("img")) == []
    assert "gone.png" in sections(root)["Before and after"]


@pytest.mark.parametrize("words", [("--out-dir", "."), ("--all", "scene", "--out", "worn.blend")])
def test_a_page_tells_of_one_build(words, run, build, somewhere):
    before = contents(somewhere)
    code, out, err = run("apply", build, "--preset", "fresh", *words, "--report", "told.html")
    assert (code, out, len(err.splitlines())) == (WRONG, "", 1)
    assert "one build" in err
    assert contents(somewhere) == before


def test_without_the_library_one_sentence_says_what_to_install(run, build, somewhere, monkeypatch):
    monkeypatch.setitem(sys.modules, "matplotlib", None)  # as where it is not installed
    before = contents(somewhere)
    words = ("apply", build, "--preset", "fresh", "--out", "worn.blend")
    code, out, err = run(*words, "--report", "told.html")
    assert (code, out, len(err.splitlines())) == (WRONG, "", 1)
    assert "pip install matplotlib" in err
    assert contents(somewhere) == before
    assert run(*words, "--report", "told.json")[0] == DONE


def test_bars_are_shares_of_a_hundred():
    """Heights as drawn, against numpy's own histogram; the axis by its labels."""
    values = np.random.default_rng(1).gamma(2.0, 0.01, 500)
    svg = charts.spread(Spread("Step", "mm", "joints", values, 0.05, "the play", ""))
    paths = [each for each in ElementTree.fromstring(svg).iter(f"{SVG}path") if "var(--bar)" in each.get("style", "")]
    corners = [re.findall(r"[-\d.]+", each.get("d")) for each in paths]  # x and y in turns
    tall = np.array([np.ptp(np.array(each[1::2], dtype=float)) for each in corners])
    counts, _ = np.histogram(values, np.linspace(0.0, 1.06 * values.max(), charts.BINS + 1))
    np.testing.assert_allclose(tall / tall.sum(), counts / counts.sum(), atol=1e-4)
    assert "var(--limit)" in svg
    assert "#0" not in svg.replace("url(#", "")  # no colour of its own


@pytest.mark.parametrize("values", [np.zeros(0), np.zeros(5), np.full(3, 0.02)])
def test_few_and_equal_values_are_drawn(values):
    svg = charts.spread(Spread("Step", "mm", "joints", values, 0.05, "the play", ""))
    assert svg.startswith("<svg ")
