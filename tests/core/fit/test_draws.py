import numpy as np
import pytest
from scipy import special, stats

from addon.core import draws

N = 100_000
KEYS = draws.mixed(np.arange(N, dtype=np.uint64))


def test_mixing_is_splitmix64():
    # Published outputs for seed 0 and for seed 1234567: Steele, Lea, Flood 2014; Vigna's splitmix64.c; Rosetta Code.
    with np.errstate(over="ignore"):
        from_0 = draws.mixed(np.arange(3, dtype=np.uint64) * draws.GAMMA)
        from_1234567 = draws.mixed(np.uint64(1234567) + np.arange(5, dtype=np.uint64) * draws.GAMMA)
    assert [f"{word:016x}" for word in from_0] == ["e220a8397b1dcdaf", "6e789e6aa1b965f4", "06c45d188009454f"]
    assert from_1234567.tolist() == [
        6457827717110365317, 3203168211198807973, 9817491932198370423, 4593380528125082431, 16408922859458223821,
    ]  # fmt: skip


def test_inverse_of_the_clipped_normal_against_scipy():
    u = draws.uniform(1, KEYS, 0)
    low = special.ndtr(-draws.CLIP_SIGMA)
    exact = special.ndtri(low + u * (1.0 - 2.0 * low)) / draws.CLIP_SIGMA
    assert np.abs(draws.clipped_normal(1, KEYS, 0) - exact).max() < 2e-9


@pytest.mark.parametrize("seed", [0, 1, 2**64 - 1, -5, 10**30])
def test_clipped_normal_has_the_moments_and_the_shape_of_scipys(seed):
    # scipy.stats.truncnorm; sd of a normal cut at 2 sigma is 0.8796256610 sigma (Johnson, Kotz, Balakrishnan,
    # Continuous Univariate Distributions 1, 10.1). The bound on D is Massart's (1990):
    # P(D > e) <= 2 exp(-2 n e^2) = 1e-6.
    z = draws.clipped_normal(seed, KEYS, 3) * draws.CLIP_SIGMA
    cut = stats.truncnorm(-draws.CLIP_SIGMA, draws.CLIP_SIGMA)
    assert stats.kstest(z, cut.cdf).statistic < np.sqrt(np.log(2e6) / (2 * N))
    assert z.mean() == pytest.approx(0.0, abs=5 * 0.88 / np.sqrt(N))
    assert z.std() == pytest.approx(0.8796256610, rel=0.01)
    assert stats.kurtosis(z) == pytest.approx(-0.634463, abs=0.03)
    assert np.abs(z).max() <= draws.CLIP_SIGMA


def test_uniform_is_uniform_and_open():
    u = draws.uniform(4, KEYS, 1)
    assert stats.kstest(u, "uniform").statistic < np.sqrt(np.log(2e6) / (2 * N))
    assert 0.0 < u.min() < u.max() < 1.0


def test_a_draw_depends_on_its_key_alone():
    shuffled = np.random.default_rng(0).permutation(N)
    assert np.array_equal(draws.uniform(9, KEYS[shuffled], 2), draws.uniform(9, KEYS, 2)[shuffled])
    assert np.array_equal(draws.uniform(9, KEYS[:10], 2), draws.uniform(9, KEYS, 2)[:10])


def test_seeds_channels_and_neighbouring_keys_are_unrelated():
    plain = np.arange(N, dtype=np.uint64)
    first = draws.clipped_normal(0, plain, 0)
    for other in (draws.clipped_normal(1, plain, 0), draws.clipped_normal(0, plain, 1), np.roll(first, 1)):
        assert abs(np.corrcoef(first, other)[0, 1]) < 5 / np.sqrt(N)


def test_one_bit_of_the_key_changes_half_the_bits():
    words = draws.words(3, KEYS[:20_000], 0)
    flipped = draws.words(3, KEYS[:20_000] ^ np.uint64(1 << 17), 0)
    changed = np.unpackbits((words ^ flipped).view(np.uint8)).mean()
    assert changed == pytest.approx(0.5, abs=5 * 0.5 / np.sqrt(64 * 20_000))


def test_bits_are_frozen():
    # Our own output, frozen: a change would move every brick of every file made so far.
    keys = np.array([1, 2, 3], dtype=np.uint64)
    assert draws.clipped_normal(7, keys, 0).tobytes().hex() == "09bfedb2e624ecbf1041d4769b52e8bf3d201e8dffdba2bf"
