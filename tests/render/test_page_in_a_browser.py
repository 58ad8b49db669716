"""The page in a real browser: it asks nobody for anything, and is read and moved as a person does."""

import io
import shutil

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

from addon import usecases
from addon.cli import page
from tests.blender.scenes import PRESET

BROWSERS = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome", "microsoft-edge")
FOUND = next(filter(None, map(shutil.which, BROWSERS)), None)
pytestmark = [
    pytest.mark.shared_out,
    pytest.mark.skipif(
        FOUND is None, reason="NO BROWSER ON THIS MACHINE: THE PAGE WAS NOT OPENED. Install chromium-headless-shell"
    ),
]
READ = 4.5  # contrast of text to what it stands on: WCAG 2.2, 1.4.3


@pytest.fixture(scope="module")
def browser() -> Browser:
    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=FOUND, args=["--no-sandbox"])  # as root there is none
        yield opened
        opened.close()


@pytest.fixture
def told(set_up, tmp_path, monkeypatch) -> str:
    """The address of the page of a wall that fills the picture."""
    monkeypatch.setattr(page, "WIDE", 160)
    monkeypatch.setattr(page, "SAMPLES", 4)
    done = usecases.apply(set_up, PRESET, usecases.Dials(seed=7))
    page.write(tmp_path / "told.html", set_up, done, None, usecases.quiet)
    return (tmp_path / "told.html").as_uri()


def opened(browser: Browser, address: str, **how) -> tuple[Page, list[str]]:
    """The page, and what it asked for or complained of, but for itself."""
    view, heard = browser.new_page(**how), []
    view.on("console", lambda said: heard.append(said.text))
    view.on("pageerror", lambda error: heard.append(str(error)))
    view.on("request", lambda asked: heard.append(asked.url) if not asked.url.startswith(("data:", "file:")) else None)
    view.goto(address)
    return view, heard


def seen(view: Page, what: str) -> np.ndarray:
    shot = view.locator(what).first.screenshot()
    return np.asarray(Image.open(io.BytesIO(shot)).convert("RGB")).astype(float)


def test_the_slider_goes_from_before_to_after_by_keys_and_by_mouse(browser, told):
    view, heard = opened(browser, told)
    clean, worn = (view.locator(".pair img").nth(n).get_attribute("src") for n in (0, 1))
    assert clean != worn
    view.keyboard.press("Tab")
    assert view.evaluate("document.activeElement.type") == "range"
    view.keyboard.press("Home")
    after = seen(view, ".pair")
    view.keyboard.press("End")
    before = seen(view, ".pair")
    for _ in range(25):
        view.keyboard.press("ArrowLeft")
    both = seen(view, ".pair")
    wide = both.shape[1]
    left, right = np.s_[20:-60, 10 : int(0.7 * wide)], np.s_[20:-60, int(0.8 * wide) : -10]
    assert np.abs(before[left] - after[left]).mean() > 1.0
    np.testing.assert_array_equal(both[left], before[left])
    np.testing.assert_array_equal(both[right], after[right])
    box = view.locator(".pair").bounding_box()
    view.mouse.click(box["x"] + 0.25 * box["width"], box["y"] + 0.5 * box["height"])
    assert view.locator(".pair input").input_value() in ("24", "25", "26")
    assert heard == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_words_are_read_in_light_and_in_dark(browser, told, scheme):
    view, heard = opened(browser, told, color_scheme=scheme)
    paper = _luminance(view, "document.body", "backgroundColor")
    assert (paper > 0.5) == (scheme == "light")
    card = _luminance(view, "document.querySelector('.charts figure')", "backgroundColor")
    for what in ("h1", "p.quiet", "figcaption", "th", "td", "dt", "dd", "svg text"):
        ink = _luminance(view, f"document.querySelector('{what}')", "fill" if "svg" in what else "color")
        for ground in (paper, card):
            contrast = (max(ink, ground) + 0.05) / (min(ink, ground) + 0.05)
            assert contrast >= READ, what
    assert heard == []


def _luminance(view: Page, what: str, of: str) -> float:
    """Relative luminance, as WCAG 2.2 defines it."""
    told = view.evaluate(f"getComputedStyle({what}).{of}")
    share = np.array([float(word) for word in told[told.index("(") + 1 : -1].split(",")[:3]]) / 255.0
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


@pytest.mark.parametrize("wide", [320, 768, 1920])
def test_no_screen_is_too_narrow(browser, told, wide):
    """320 px: WCAG 2.2, 1.4.10."""
    view, _ = opened(browser, told, viewport={"width": wide, "height": 700})
    assert view.evaluate("document.documentElement.scrollWidth") == wide
    for n in range(view.locator("svg").count()):
        box = view.locator("svg").nth(n).bounding_box()
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= wide
        assert box["height"] > 60


def test_who_does_not_see_it_is_told(browser, told):
    """By the names that the browser gives to those who read to people."""
    view, _ = opened(browser, told)
    names = [view.get_by_role("img").nth(n) for n in range(view.get_by_role("img").count())]
    told = [each.get_attribute("alt") or each.get_attribute("aria-label") for each in names]
    assert len(told) == 9  # two pictures and seven charts
    assert all(len(each) > 20 for each in told)
    assert view.get_by_role("slider").count() == 1
    assert view.get_by_role("heading", level=1).count() == 1
