"""The drawn textures: seamless, deep, the same for the same seed; read back by Pillow."""

import io

import numpy as np
import pytest
from PIL import Image
from scipy import ndimage, stats

from addon.core.pictures import png
from addon.core.wear import marks, standin
from addon.core.wear.layers import PICTURES
from addon.core.wear.standin import hairlines, noise, specks
from addon.core.wear.standin.tracks import TRACK, carve
from addon.core.wear.texture import levels


@pytest.fixture(scope="module", params=PICTURES)
def kind(request):
    return request.param


@pytest.fixture(scope="module")
def drawn(kind):
    return PICTURES[kind].stand_in()


@pytest.mark.shared_out
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


@pytest.mark.shared_out
def test_from_afar_pixels_are_the_means_of_those_near(drawn):
    """Outside check: a box filter of Pillow."""
    whole = Image.fromarray(drawn.astype(np.float32), mode="F").resize((512, 512), Image.Resampling.BOX)
    assert standin.seen_from_afar(drawn) == pytest.approx(np.asarray(whole), abs=1e-5)


@pytest.mark.shared_out
def test_same_seed_same_bytes_and_another_seed_another_picture(kind, drawn):
    assert png.encode(PICTURES[kind].stand_in(0)) == png.encode(drawn)
    assert np.abs(PICTURES[kind].stand_in(1) - drawn).mean() > 0.01


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


def test_all_are_large_and_sixteen_bits_deep(drawn):
    assert drawn.shape == (2048, 2048)
    assert len(np.unique(np.round(drawn * 65535.0))) > 4096  # more than 12 bits could tell


@pytest.mark.parametrize("seed", [0, 5])
def test_hairlines_have_the_widths_lengths_and_directions_of_hairlines(seed):
    """Common practice, no published source: 10 to 50 µm wide, most under 2 mm long and few over 5, mostly one way."""
    mm_per_px = standin.SCRATCHES_SIZE_MM / 2048
    depth = 1.0 - standin.scratches(seed)
    assert 0.010 < marks.width_px(depth) * mm_per_px < 0.050
    run = marks.run(depth)
    assert min(run.direction_deg, 180.0 - run.direction_deg) < 5.0
    assert 0.15 < run.alignment < 0.6
    # Pieces by scipy's labels: lines that cross hang together, so the longest are a little too long, never too short.
    pieces, count = ndimage.label(depth > 0.25, np.ones((3, 3)))
    sides = [[part.stop - part.start for part in piece] for piece in ndimage.find_objects(pieces)]
    lengths_mm = np.hypot(*np.array(sides).T) * mm_per_px
    assert count > 500
    assert np.median(lengths_mm) < 2.0
    assert 0.0 < (lengths_mm > 5.0).mean() < 0.1


def test_lengths_and_widths_of_scratches_have_heavy_tails():
    """Outside check: scipy's Pareto law, cut off at its far end; a wide one that is short is narrower than drawn."""
    tracks = hairlines.strokes(noise.source(3), 20_000)
    (shortest, longest), tail = hairlines.LENGTH_MM, hairlines.LENGTH_TAIL
    law = stats.truncpareto(tail, longest / shortest, scale=shortest)
    assert stats.kstest(tracks["length_mm"], law.cdf).pvalue > 0.01
    (finest, widest), tail = hairlines.WIDTH_UM, hairlines.WIDTH_TAIL
    of_long = tracks["width_um"][tracks["length_mm"] > 6.0]
    assert stats.kstest(of_long, stats.truncpareto(tail, widest / finest, scale=finest).cdf).pvalue > 0.01
    area = np.sort(tracks["length_mm"] * tracks["width_um"] * tracks["depth"])
    assert area[-len(area) // 10 :].sum() > 0.5 * area.sum()  # one in ten makes most of what is seen


def test_scratches_are_straight_and_bent_smooth_and_chattering():
    """Common practice, no published source."""
    tracks = hairlines.strokes(noise.source(4), 20_000)
    radius_mm = 1.0 / np.abs(tracks["bend_per_mm"])
    assert (radius_mm > 40.0).mean() > 0.5
    assert 0.02 < (radius_mm < 8.0).mean() < 0.2
    assert 0.2 < (tracks["chatter"] > 0.0).mean() < 0.5


@pytest.mark.parametrize("width_um", [5.0, 12.0, 17.0, 22.0, 60.0])
def test_a_thin_line_covers_of_each_pixel_what_lies_in_it(width_um):
    """Closed form: the drawn area of a straight line is its length times its width, less what its ends taper off and
    its depth trembles; the mean of the square root of a sine's half wave is 0.7628 (a beta function)."""
    tracks = np.zeros(60, TRACK)
    tracks["x_mm"], tracks["y_mm"] = noise.source(1).random((2, 60)) * 20.0
    tracks["angle"] = np.arange(60) * 0.1
    tracks["length_mm"], tracks["width_um"], tracks["depth"], tracks["skew"] = 3.0, width_um, 1.0, 1.0
    drawn = 0.0
    for track in tracks:  # one by one: where they cross the deeper one wins
        page = np.zeros((1024, 1024), np.float32)
        carve(page, track[None], 51.2, noise.source(2))
        drawn += page.sum() / 51.2**2
    assert drawn == pytest.approx(60 * 3.0 * width_um * 1e-3 * 0.7628 * 0.85, rel=0.1)


def test_fibres_are_those_of_clothes_and_as_many_as_some_months_let_fall():
    """1586 to 11 130 fibres settle a day on a square metre of a home, two thirds of them cellulose: Dris et al. 2017,
    A first overview of textile fibers, Environmental Pollution 221. Cotton is 11 to 22 µm wide, as textile handbooks
    have it (recalled); lengths: common practice, no published source."""
    found = specks.fibres(noise.source(0), 5000)
    assert found["width_um"].min() >= 11.0
    assert found["width_um"].max() <= 22.0
    assert 15.0 < found["width_um"].mean() < 20.0
    assert (found["length_mm"].min(), found["length_mm"].max()) == pytest.approx((0.5, 3.0), abs=0.02)
    square_metre = specks.FIBRES / (1e-3 * standin.DUST_SIZE_MM) ** 2
    assert 30 < square_metre / 11130 < square_metre / 1586 < 365


def test_fingers_leave_ridges_and_drags_of_no_one_direction():
    """Ridges lie 0.43 (women) to 0.48 mm (men) apart: Cummins, Waits, McQuitty 1941, Am. J. Anatomy 68 (recalled);
    drags have finer and wider streaks."""
    film = standin.smudges()
    assert marks.run(film).alignment < 0.2
    power = np.abs(np.fft.rfft2(film - film.mean())) ** 2
    per_mm = np.hypot(np.fft.fftfreq(2048)[:, None], np.fft.rfftfreq(2048)) * 2048 / standin.SMUDGES_SIZE_MM

    def mean_power(longest_mm, shortest_mm):
        return power[(per_mm > 1.0 / longest_mm) & (per_mm < 1.0 / shortest_mm)].mean()

    # A film without ridges loses power evenly from wide to fine; theirs stands out above that slope.
    slope = np.sqrt(mean_power(1.0, 0.8) * mean_power(0.28, 0.22))
    assert mean_power(0.55, 0.41) > 1.5 * slope


def test_dust_lies_all_ways_and_has_fibres_among_its_specks():
    thick = standin.dust()
    assert marks.run(thick).alignment < 0.1
    pieces, _ = ndimage.label(thick > 0.45, np.ones((3, 3)))
    longest_mm = max(part.stop - part.start for piece in ndimage.find_objects(pieces) for part in piece)
    assert longest_mm * standin.DUST_SIZE_MM / 2048 > 0.4


@pytest.mark.parametrize(("bits", "mode"), [(16, "I;16"), (8, "L")])
def test_pillow_reads_grey_as_it_was_written(bits, mode):
    """Oracle: Pillow's own PNG reader."""
    grey = np.linspace(0.0, 1.0, 7 * 300).reshape(7, 300)
    with Image.open(io.BytesIO(png.encode(grey, bits))) as picture:
        picture.load()
        assert picture.size == (300, 7)
        assert picture.mode == mode
        assert np.array_equal(np.asarray(picture), np.round(grey * (2**bits - 1)).astype(f"u{bits // 8}"))


def test_values_outside_the_range_are_clipped():
    with Image.open(io.BytesIO(png.encode(np.array([[-1.0, 2.0]])))) as picture:
        assert np.asarray(picture).tolist() == [[0, 65535]]
