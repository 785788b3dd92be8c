"""Published examples and edges of the statistics."""

import math

import numpy as np
import pytest
from scipy import stats as sps

from eventlab.stats import (
    adjusted,
    chatter_index,
    count_interval,
    count_within,
    rate_interval,
    rate_ratio,
    share_interval,
)


# Garwood (1936), Biometrika 28: exact 95 % limits for counts 0, 1, 5, 10, 20.
@pytest.mark.parametrize(
    ("count", "low", "high"),
    [
        (0, 0, 3.6889),
        (1, 0.0253, 5.5716),
        (5, 1.6235, 11.6683),
        (10, 4.7954, 18.3904),
        (20, 12.2165, 30.8884),
    ],
)
def test_poisson_limits_are_garwoods(count, low, high):
    got = count_interval(count)
    assert got.low == pytest.approx(low, abs=5e-5)
    assert got.high == pytest.approx(high, abs=5e-5)


def test_time_between_failures_of_the_nist_handbook():
    # NIST/SEMATECH e-Handbook 8.4.5.1: 800 h, 2 failures, 90 %: 127 h to 2251 h.
    rate = rate_interval(2, 800, level=0.9)
    assert 1 / rate.high == pytest.approx(127.06896827442834)
    assert 1 / rate.low == pytest.approx(2251.228610625704)
    # and zero failures: the 90 % upper bound of one side is ln 10 over the time
    assert count_interval(0, level=0.8).high == pytest.approx(math.log(10))


def test_no_exposure_gives_no_rate():
    got = rate_interval([0, 3], [0, 0])
    assert np.isnan(got.estimate).all()
    assert np.isnan(got.high).all()


def test_shares_are_clopper_pearsons():
    hits, trials = np.array([0, 1, 7, 20, 20]), np.array([20, 20, 20, 20, 180])
    got = share_interval(hits, trials)
    for i, (k, n) in enumerate(zip(hits, trials, strict=True)):
        wanted = sps.binomtest(int(k), int(n)).proportion_ci(method="exact")
        assert got.low[i] == pytest.approx(wanted.low, abs=1e-9)
        assert got.high[i] == pytest.approx(wanted.high, abs=1e-9)
    assert np.isnan(share_interval(0, 0).low)


GU = (60, 51477.5, 30, 54308.7)  # Gu, Ng, Tang, Schucany (2008), Biom. J. 50, example 1


def test_two_rates_of_gu_2008():
    got = rate_ratio(*GU)
    # The plain ratio, by hand; the printed 2.104135 is an estimate corrected for bias.
    assert got.ratio == pytest.approx(2 * 54308.7 / 51477.5)
    assert got.p_exact == pytest.approx(0.0006751826586863219, rel=1e-6)
    assert got.p_mid == pytest.approx(0.0005572624, rel=1e-6)
    assert got.low == pytest.approx(1.3397357, rel=1e-6)
    assert got.high == pytest.approx(3.3883656, rel=1e-6)
    one = rate_ratio(*GU, alternative="greater")
    assert one.p_exact == pytest.approx(0.0004280526940501244, rel=1e-6)
    # R exactci, as carried by the tests of statsmodels: null ratio 1.2
    shifted = rate_ratio(*GU, null=1.2, alternative="greater")
    assert shifted.p_exact == pytest.approx(0.0066517746, rel=1e-6)
    assert shifted.p_mid == pytest.approx(0.0050946035, rel=1e-6)


def test_two_rates_of_the_r_help_page():
    # R help page of poisson.test: eba1977, 11/800 against 21/3011.
    got = rate_ratio(11, 800, 21, 3011)
    assert got.ratio == pytest.approx(1.9714880952380953)
    assert got.p_exact == pytest.approx(0.0796686330333295, rel=1e-6)
    assert got.low == pytest.approx(0.8584264, rel=1e-6)
    assert got.high == pytest.approx(4.2772659, rel=1e-6)


def test_clover_seed_of_przyborowski_and_wilenski():
    # Biometrika 31 (1940): 0 against 3 dodder seeds in 100 g each.
    assert rate_ratio(0, 100, 3, 100, alternative="less").p_exact == pytest.approx(0.125)
    assert rate_ratio(0, 100, 3, 100).p_exact == pytest.approx(0.25)
    assert rate_ratio(0, 100, 3, 100).low == 0


def test_two_rates_agree_with_scipy_everywhere():
    grid = np.array([(a, b) for a in range(9) for b in range(9) if a + b])
    for share in (0.1, 0.37, 0.5, 0.8):
        got = rate_ratio(grid[:, 0], share, grid[:, 1], 1 - share)
        wanted = [sps.binomtest(int(a), int(a + b), share).pvalue for a, b in grid]
        np.testing.assert_allclose(got.p_exact, wanted, rtol=1e-6)


def test_two_rates_at_the_edges():
    swapped = rate_ratio(GU[2], GU[3], GU[0], GU[1])
    straight = rate_ratio(*GU)
    assert swapped.ratio == pytest.approx(1 / straight.ratio)
    assert swapped.low == pytest.approx(1 / straight.high)
    scaled = rate_ratio(60, 51477.5 * 24, 30, 54308.7 * 24)
    assert scaled.p_exact == pytest.approx(float(straight.p_exact))
    nothing = rate_ratio(0, 10, 0, 20)
    assert (float(nothing.p_exact), float(nothing.p_mid)) == (1.0, 1.0)
    assert math.isinf(float(nothing.high))
    assert np.isnan(rate_ratio(3, 0, 4, 10).p_exact)
    assert math.isinf(float(rate_ratio(3, 10, 0, 10).high))


# Benjamini and Hochberg (1995), section 4.
BH = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262,
      0.5719, 0.6528, 0.7590, 1.0]  # fmt: skip


def test_false_discoveries_as_benjamini_and_hochberg_count_them():
    got = adjusted(BH)
    assert got[:5] == pytest.approx([0.0015, 0.003, 0.0095, 0.035625, 0.0603])
    assert int((got <= 0.05).sum()) == 4
    np.testing.assert_allclose(got, sps.false_discovery_control(BH))


def test_families_do_not_see_each_other():
    both = adjusted([*BH, np.nan, 0.04, 0.01], ["a"] * 15 + ["b"] * 3)
    np.testing.assert_allclose(both[:15], adjusted(BH))
    assert np.isnan(both[15])
    assert both[16:] == pytest.approx([0.04, 0.02])
    assert adjusted([]).size == 0


# Kondaveeti et al. (2013), Chem. Eng. Res. Des. 91: psi = sum of P_r / r; worked by hand.
@pytest.mark.parametrize(
    ("times", "psi"),
    [
        (range(0, 500, 10), 0.1),
        (range(0, 500, 20), 0.05),
        (range(0, 600, 60), 1 / 60),
        ([0, 5, 10, 15, 75, 135], 0.12666666666666665),
        ([0, 2, 4, 8, 3608], 0.31256944444444446),
        ([0, 0, 1], 1.0),
    ],
)
def test_chatter_index(times, psi):
    assert chatter_index(list(times)).psi == pytest.approx([psi])


def test_chatter_index_by_series_and_clock():
    times = [0, 0, 10, 3, 20, 100]
    got = chatter_index(times, [1, 2, 1, 2, 1, 7])
    assert list(got.group) == [1, 2, 7]
    assert got.psi[:2] == pytest.approx([0.1, 1 / 3])
    assert np.isnan(got.psi[2])
    assert list(got.runs) == [2, 1, 0]
    assert chatter_index([0, 0, 60], step=60.0).psi == pytest.approx([1 / 60])


def test_counts_in_a_sliding_window():
    # ISA-18.2 / IEC 62682: three or more in a minute. 0, 20, 40 s chatter; 0, 30, 61 s do not.
    assert count_within([0, 20, 40], 59).max() == 3
    assert count_within([0, 30, 61], 59).max() == 2
    assert list(count_within([40, 0, 20, 0], 30, ["a", "a", "a", "b"])) == [1, 2, 2, 1]
    assert list(count_within([5, 5, 5], 0)) == [3, 2, 1]
    assert count_within([], 5).size == 0


def test_counts_in_a_window_agree_with_counting():
    rng = np.random.default_rng(5)
    times, series = rng.integers(0, 400, 300), rng.integers(0, 5, 300)
    window = rng.integers(0, 60, 300)
    wanted = [
        sum(
            1
            for s, t in zip(series, times, strict=True)
            if s == series[i] and times[i] < t <= times[i] + window[i]
        )
        for i in range(300)
    ]
    got = count_within(times, window, series)
    later = [
        int(((times == times[i]) & (series == series[i]) & (np.arange(300) >= i)).sum())
        for i in range(300)
    ]
    assert list(got) == [a + b for a, b in zip(wanted, later, strict=True)]
