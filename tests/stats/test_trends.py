"""Trends, change points and shrunk rates against published examples and other libraries."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats as sps
from statsmodels.stats.rates import test_poisson_2indep as two_rates

from eventlab.stats import (
    busiest,
    busiest_p,
    change_p,
    change_point,
    gain,
    power_law,
    rate_ratio,
    shrunk_rates,
    trend,
)

# NIST/SEMATECH e-Handbook 8.2.2.3: growth test stopped at 1500 h; the answers of the power law
# are the handbook's own, those of the tests by its 8.2.3.4 worked out again.
GROWTH = (5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478)
# MIL-HDBK-189 (13 Feb 1981) App. C: 27 failures to 300 h; its beta, lambda and intensity are
# cited in two public test suites; the Laplace test worked out again.
HANDBOOK = (
    *(2.6, 16.5, 16.5, 17.0, 21.4, 29.1, 33.3, 56.5, 63.1, 70.6, 73.0, 77.7, 93.9, 95.5, 98.1),
    *(101.1, 132.0, 142.2, 147.7, 149.0, 167.2, 190.7, 193.0, 198.7, 251.9, 282.5, 286.1),
)


def test_the_growth_test_of_the_nist_handbook():
    got = trend(GROWTH, 1500)
    assert got.laplace == pytest.approx(-1.3269491826491824)
    assert got.laplace_p == pytest.approx(0.1845254933674657)
    assert (got.hdbk, got.freedom) == (pytest.approx(37.228081483483166), 20)
    # the handbook tells the upper tail, 0.01099: the two tests disagree
    assert got.hdbk_p == pytest.approx(2 * 0.01098635711579664)
    assert trend(GROWTH, 0, stopped_by="event").laplace == pytest.approx(-1.91096, abs=1e-5)


def test_the_power_law_of_the_nist_handbook():
    assert power_law(GROWTH, 1500).shape == pytest.approx(0.5372288660341876)
    got = power_law(GROWTH, 1500, unbiased=True, level=0.8)
    assert got.shape == pytest.approx(0.4835059794307689)
    assert got.scale == pytest.approx(0.29130026856638164)
    assert 1 / got.rate == pytest.approx(310.2340123623597)
    assert 1 / got.rate_high == pytest.approx(157.71383403939123)
    assert 1 / got.rate_low == pytest.approx(548.5565977314154)


def test_appendix_c_of_mil_hdbk_189():
    got, tested = power_law(HANDBOOK, 300), trend(HANDBOOK, 300)
    assert got.shape == pytest.approx(0.7163392623659983)
    assert got.scale == pytest.approx(0.45384186137267435)
    assert got.rate == pytest.approx(0.06447053361293985)
    assert power_law(HANDBOOK, 300, unbiased=True).shape == pytest.approx(0.689808178574665)
    assert tested.laplace == pytest.approx(-2.318, abs=5e-4)
    assert (tested.hdbk, tested.freedom) == (pytest.approx(75.383, abs=5e-4), 54)


def test_many_series_at_once_are_each_their_own():
    times, group = (*GROWTH, *HANDBOOK), [7] * len(GROWTH) + [3] * len(HANDBOOK)
    end = [1500] * len(GROWTH) + [300] * len(HANDBOOK)
    got = trend(times, end, group)
    assert got.group.tolist() == [3, 7]
    assert got.events.tolist() == [27, 10]
    assert got.hdbk == pytest.approx([75.38327555, 37.22808148])
    assert power_law(times, end, group).shape == pytest.approx([0.71633926, 0.53722887])


def test_one_event_that_ends_the_watch_tells_nothing():
    assert np.isnan(trend([4.0], 9, stopped_by="event").hdbk_p).all()


@pytest.mark.parametrize("change", ["rise", "fall"])
def test_a_cut_is_found_where_the_binomial_says(change):
    at = np.array([0.05, 0.6, 0.63, 0.7, 0.78, 0.81, 0.9, 0.97])
    got = change_point(at if change == "rise" else np.sort(1 - at), change=change)
    assert got.first == (1 if change == "rise" else 7)
    # seven of eight in the last 0.4: the likelihood ratio of two binomials
    wanted = np.log(sps.binom.pmf(7, 8, 7 / 8) / sps.binom.pmf(7, 8, 0.4))
    assert got.gain == pytest.approx(wanted)
    assert gain(7, 8, 0.4) == pytest.approx(wanted)


@pytest.mark.parametrize("n", [3, 4, 7, 20])
def test_the_chance_of_a_cut_is_that_of_draws(n):
    draws = np.sort(np.random.default_rng(n).random((8000, n)), axis=-1)
    gains = change_point(draws).gain
    bars = np.quantile(gains, [0.5, 0.9, 0.99])
    seen = (gains[:, None] >= bars).mean(axis=0)
    got = change_p(bars, n)
    assert np.abs(got - seen).max() < 4 * 0.5 / np.sqrt(len(draws))
    assert got[2] == pytest.approx(0.01, abs=0.004)


def test_the_chance_of_one_allowed_cut_is_its_binomial_tail():
    # With as many events wanted after the cut as there are, only one cut is left: before all.
    at = 0.3
    got = change_p(gain(5, 5, 1 - at), 5, least=5)
    assert got == pytest.approx(sps.binom.pmf(0, 5, at))
    # and no cut at all is certain
    assert change_p([0.0, 1.0], 2).tolist() == [1.0, 1.0]


@pytest.mark.parametrize("n", [4, 12])
def test_the_chance_of_a_busy_stretch_is_that_of_other_draws(n):
    draws = np.sort(np.random.default_rng(3).random((4000, n)), axis=-1)
    p = busiest_p(busiest(draws).gain, n)
    # 50 draws as large as what was seen make a chance known to about a seventh of itself.
    for level in (0.02, 0.1):
        assert (p <= level).mean() == pytest.approx(level, rel=0.5)


def test_a_busy_stretch_is_found_with_its_ends():
    got = busiest(np.array([0.1, 0.5, 0.51, 0.52, 0.53, 0.9]))
    assert (got.first, got.last) == (1, 4)
    assert busiest_p(got.gain, 6) < 0.01
    assert busiest(np.array([0.1, 0.2])).gain == 0


# Data: Gaver and O'Muircheartaigh (1987), ten pumps, data from memory; answers worked out again.
def test_shrunk_rates_of_ten_pumps():
    failures = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22]
    time = [94.32, 15.72, 62.88, 125.76, 5.24, 31.44, 1.048, 1.048, 2.096, 10.48]
    got = shrunk_rates(failures, time)
    assert got.shape[0] == pytest.approx(0.8222686386285777, rel=1e-4)
    assert (got.shape / got.mean)[0] == pytest.approx(1.258954397057421, rel=1e-4)
    wanted = [0.0609, 0.1073, 0.0908, 0.1167, 0.5881, 0.6062, 0.7899, 0.7899, 1.4374, 1.9441]
    assert got.rate == pytest.approx(wanted, abs=6e-5)


# Efron and Hastie (2016), Table 6.1: motor policies by claims; worked out again.
def test_shrunk_rates_of_motor_claims():
    claims = np.repeat(np.arange(8.0), [7840, 1317, 239, 42, 14, 4, 4, 1])
    got = shrunk_rates(claims, np.ones(claims.size))
    assert got.shape[0] == pytest.approx(0.7015121897945844, rel=1e-4)
    assert (got.mean / got.shape)[0] == pytest.approx(0.30555942357083865, rel=1e-4)
    first = [got.rate[claims == k][0] for k in range(7)]
    assert first == pytest.approx([0.164, 0.398, 0.632, 0.866, 1.100, 1.334, 1.568], abs=5e-4)


COUNTS = st.lists(st.tuples(st.integers(0, 40), st.floats(0.1, 50)), min_size=2, max_size=12)


@settings(max_examples=25)
@given(COUNTS)
def test_a_shrunk_rate_lies_between_its_own_and_that_of_all(windows):
    count, time = np.array(windows, dtype=float).T
    got = shrunk_rates(count, time)
    own, slack = count / time, 1e-6 * (1 + got.mean)
    assert (got.rate >= np.minimum(own, got.mean) - slack).all()
    assert (got.rate <= np.maximum(own, got.mean) + slack).all()


SIDE = (st.integers(0, 60), st.floats(0.5, 500))


@given(*SIDE, *SIDE, st.floats(0.01, 100))
def test_swapping_sides_turns_the_ratio_over_and_scale_changes_no_chance(a, t, b, u, scale):
    got, swapped = rate_ratio(a, t, b, u), rate_ratio(b, u, a, t)
    scaled = rate_ratio(a, t * scale, b, u * scale)
    for way in (swapped, scaled):
        assert way.p_exact == pytest.approx(got.p_exact, rel=1e-6)
        assert way.p_mid == pytest.approx(got.p_mid, rel=1e-6)
    if a and b:
        assert swapped.ratio == pytest.approx(1 / got.ratio)
        assert swapped.low == pytest.approx(1 / got.high)
        assert scaled.high == pytest.approx(got.high)


@pytest.mark.parametrize("seen", [(1, 9), (0, 6), (14, 14), (3, 1), (40, 21)])
@pytest.mark.parametrize("time", [(10.0, 10.0), (3.0, 40.0), (200.0, 15.0)])
def test_two_rates_as_statsmodels_has_them(seen, time):
    got = rate_ratio(seen[0], time[0], seen[1], time[1])
    for name, mine in (("exact-cond", got.p_exact), ("cond-midp", got.p_mid)):
        other = two_rates(seen[0], time[0], seen[1], time[1], method=name).pvalue
        assert mine == pytest.approx(other, abs=1e-9)


def test_nothing_before_and_nothing_after_is_no_evidence():
    got = rate_ratio(0, 100.0, 0, 50.0)
    assert got.p_exact == got.p_mid == 1
    assert (got.low, got.high) == (0, np.inf)
