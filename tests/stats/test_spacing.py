"""The shortest spacing of a series: against scipy's binomial, by simulation, by properties."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from eventlab.stats import spacing_floor


def test_a_detector_that_sleeps_three_minutes_shows_it():
    # common practice: detectors that spare their battery sleep two to three minutes after a trip
    random = np.random.default_rng(1)
    gaps = np.concatenate([180 + random.exponential(8, 20), random.exponential(20_000, 10) + 180])
    got = spacing_floor(np.round(gaps))
    assert got.floor[0] == pytest.approx(180, abs=2)
    assert got.piled[0] >= 18


def test_the_bound_is_the_tail_of_the_binomial():
    gaps = [180, 181, 183, 185, 190, 200, 210, 3000]
    got = spacing_floor(gaps)
    share = 1 - (180 - 1) / (216 + 1)
    assert got.p_value[0] == pytest.approx(8 * binom.sf(5, 6, share), rel=1e-9)
    assert got.highest[0] == 216


def test_a_stray_gap_does_not_hide_the_floor():
    gaps = [4, *np.linspace(120, 130, 15)]
    assert spacing_floor(gaps).floor[0] == 120


def test_a_coarse_clock_asks_for_more():
    few, many = [180, 240] * 4, [180, 240] * 40
    assert np.isnan(spacing_floor(few, step=60).floor[0])
    assert spacing_floor(many, step=60).floor[0] == 180
    assert np.isnan(spacing_floor([60] * 90, step=60).floor[0])  # no finer than the clock


@pytest.mark.parametrize("shape", ["exponential", "uniform", "bursts"])
def test_where_nothing_holds_repeats_apart_a_floor_is_rare(shape):
    random = np.random.default_rng(7)
    series, size = 2000, 20
    drawn = {
        "exponential": random.exponential(600, (series, size)),
        "uniform": random.uniform(0, 3600, (series, size)),
        "bursts": random.exponential(random.choice([3, 4000], (series, size))),
    }[shape]
    got = spacing_floor(np.ceil(drawn).ravel(), np.repeat(np.arange(series), size))
    assert np.isfinite(got.floor).mean() <= 0.002


@given(st.lists(st.integers(1, 900), min_size=1, max_size=40), st.integers(2, 5))
def test_series_do_not_touch_one_another(gaps, times):
    alone = spacing_floor(gaps)
    both = spacing_floor([*gaps] * times, np.repeat(np.arange(times), len(gaps)))
    for n in range(times):
        assert both.p_value[n] == pytest.approx(alone.p_value[0])
        np.testing.assert_array_equal(both.floor[n], alone.floor[0])


def test_nothing_in_nothing_out():
    assert spacing_floor([]).group.size == 0
