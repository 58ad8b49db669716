"""The drawn textures: seamless, deep, the same for the same seed; read back by Pillow."""

import io

import numpy as np
import pytest
from PIL import Image

from addon.core import png, standin
from addon.core.texture import KINDS, levels


@pytest.fixture(scope="module", params=KINDS)
def kind(request):
    return request.param


@pytest.fixture(scope="module")
def drawn(kind):
    return standin.stand_in(kind)


def test_values_fill_the_range(drawn):
    assert drawn.min() >= 0.0
    assert drawn.max() <= 1.0
    assert abs(levels(drawn).marked - levels(drawn).clean) > 0.5


def test_the_join_is_a_row_like_any_other(drawn):
    """Strongest predicate for seamless: turned so that the join lies inside, nothing marks its place."""
    for grey in (drawn, drawn.T):
        steps = np.abs(np.diff(grey, axis=0, append=grey[:1])).mean(axis=1)
        assert steps.min() <= steps[-1] <= np.percentile(steps, 99.5)
    joins = [np.abs(np.diff(drawn, axis=axis)).mean() for axis in (0, 1)]
    halves = np.roll(drawn, (drawn.shape[0] // 2, drawn.shape[1] // 2), (0, 1))
    assert [np.abs(np.diff(halves, axis=axis)).mean() for axis in (0, 1)] == pytest.approx(joins, rel=0.01)


def test_same_seed_same_bytes_and_another_seed_another_picture(kind, drawn):
    assert png.encode(standin.stand_in(kind, 0)) == png.encode(drawn)
    assert np.abs(standin.stand_in(kind, 1) - drawn).mean() > 0.01


def test_scratches_are_hairlines_mostly_along_one_way():
    """Common practice, no published source: hairlines cover a small share, few are deep, most lie one way."""
    depth = 1.0 - standin.scratches()
    assert 0.03 < (depth > 0.02).mean() < 0.2
    assert (depth > 0.5).mean() < 0.2 * (depth > 0.02).mean()
    down, along = np.gradient(depth)
    assert (down**2).sum() > 1.5 * (along**2).sum()


def test_smudges_leave_clean_places_and_stay_soft():
    film = standin.smudges()
    assert (film < 0.06).mean() > 0.2
    assert (film > 0.5).mean() < 0.15
    # Common practice: ridges 0.46 mm apart are the finest thing a finger leaves; half the power lies in far wider ones.
    power = np.abs(np.fft.rfft2(film - film.mean())) ** 2
    waves_per_mm = np.hypot(np.fft.fftfreq(film.shape[0])[:, None], np.fft.rfftfreq(film.shape[1]))
    waves_per_mm *= film.shape[0] / standin.SMUDGES_SIZE_MM
    assert power[waves_per_mm < 1.0].sum() > 0.5 * power.sum()


def test_dust_is_a_thin_film_with_fine_specks():
    """Specks are 10 to 100 µm wide and cover a few per cent of a dusty face; common practice, no published source."""
    thick = standin.dust()
    bright = thick > 0.5
    assert 0.003 < bright.mean() < 0.05
    starts = bright & ~np.roll(bright, 1, axis=1)
    widths_um = bright.sum() / starts.sum() * 1000.0 * standin.DUST_SIZE_MM / thick.shape[1]
    assert 30.0 < widths_um < 110.0
    assert np.median(thick) < 0.25


def test_pillow_reads_sixteen_bit_grey_as_it_was_written():
    """Oracle: Pillow's own PNG reader."""
    grey = np.linspace(0.0, 1.0, 7 * 300).reshape(7, 300)
    with Image.open(io.BytesIO(png.encode(grey))) as picture:
        picture.load()
        assert picture.size == (300, 7)
        assert picture.mode == "I;16"
        assert np.array_equal(np.asarray(picture), np.round(grey * 65535).astype(np.uint16))


def test_values_outside_the_range_are_clipped():
    with Image.open(io.BytesIO(png.encode(np.array([[-1.0, 2.0]])))) as picture:
        assert np.asarray(picture).tolist() == [[0, 65535]]
