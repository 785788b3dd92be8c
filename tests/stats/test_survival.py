"""How long things last, held to published figures and to other people's libraries."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats as reference

from eventlab.stats import failing, remaining_time, survival, weibull

# Remission of 21 patients under 6-MP (weeks; + still in remission): Freireich et al. 1963, as
# worked in Kaplan-Meier tables since (Kalbfleisch and Prentice 1980, 1.2; from memory):
# S(6) 0.857, S(7) 0.807, S(10) 0.753, S(13) 0.690, S(16) 0.627, S(22) 0.538, S(23) 0.448.
WEEKS = np.array([6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35])
OVER = np.array([1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0], dtype=bool)


def test_a_published_table_of_survival_comes_out():
    got = survival(np.zeros(21), WEEKS, OVER)
    assert got.time.tolist() == [6, 7, 10, 13, 16, 22, 23]
    assert got.at_risk.tolist() == [21, 17, 15, 12, 11, 7, 6]
    wanted = [0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448]
    assert got.share == pytest.approx(wanted, abs=5e-4)


@pytest.mark.filterwarnings("ignore")  # statsmodels leans on what pandas is about to change
def test_late_entry_and_errors_are_those_of_statsmodels():
    from statsmodels.duration.survfunc import SurvfuncRight

    random = np.random.default_rng(4)
    entry = random.uniform(0, 3, 200).round(2)
    leaving = entry + random.exponential(4, 200).round(2) + 0.01
    failed = random.random(200) < 0.6
    theirs = SurvfuncRight(leaving, failed, entry=entry)
    got = survival(entry, leaving, failed)
    there = np.isin(theirs.surv_times, got.time)
    assert got.share == pytest.approx(theirs.surv_prob[there], rel=1e-9)
    assert got.at_risk == pytest.approx(theirs.n_risk[there])
    assert got.error == pytest.approx(theirs.surv_prob_se[there], rel=1e-6)
    inside = np.isfinite(got.low)
    assert (got.low[inside] <= got.share[inside]).all()
    assert (got.high[inside] >= got.share[inside]).all()


def test_the_law_is_that_of_scipy_with_things_that_still_last():
    random = np.random.default_rng(5)
    life = random.weibull(1.8, 300) * 900
    watched = random.uniform(200, 1500, 300)
    failed = life <= watched
    leaving = np.minimum(life, watched)
    data = reference.CensoredData(uncensored=leaving[failed], right=leaving[~failed])
    shape, _, scale = reference.weibull_min.fit(data, floc=0)
    law = weibull(np.zeros(300), leaving, failed)
    assert (law.shape, law.scale) == pytest.approx((shape, scale), rel=1e-3)
    assert law.failed == failed.sum()
    # The published remissions: shape 1.35, scale 33.8 (Lawless 1982; from memory).
    old = weibull(np.zeros(21), WEEKS, OVER)
    assert (old.shape, old.scale) == pytest.approx((1.354, 33.77), abs=0.01)


def test_late_entry_does_not_make_things_look_as_if_they_last_longer():
    random = np.random.default_rng(6)
    life = random.weibull(3.0, 6000) * 1000
    entry = random.uniform(0, 1500, 6000)
    seen = life > entry
    entry, leaving = entry[seen], np.minimum(life[seen], entry[seen] + 365)
    failed = life[seen] <= entry + 365
    law = weibull(entry, leaving, failed)
    assert (law.shape, law.scale) == pytest.approx((3.0, 1000), rel=0.05)
    naive = weibull(np.zeros(len(entry)), leaving, failed)
    assert naive.scale > 1.1 * law.scale


def test_limits_of_what_is_left_hold_the_truth_as_often_as_they_say():
    true, held = None, 0
    for seed in range(100):
        random = np.random.default_rng(seed)
        life, watched = random.weibull(2.5, 120) * 1000, random.uniform(300, 1400, 120)
        law = weibull(np.zeros(120), np.minimum(life, watched), life <= watched)
        left = remaining_time(law, 600.0)
        true = 1000 * ((0.6) ** 2.5 + np.log(2)) ** (1 / 2.5) - 600
        held += left.low <= true <= left.high
    assert true == pytest.approx(remaining_true(2.5, 1000, 600), rel=1e-9)
    assert reference.binom.cdf(held, 100, 0.95) > 1e-3
    assert reference.binom.sf(held - 1, 100, 0.95) > 1e-3


def remaining_true(shape, scale, age):
    """Median of what is left, from scipy's own Weibull."""
    law = reference.weibull_min(shape, scale=scale)
    return law.isf(law.sf(age) / 2) - age


@given(st.floats(0.5, 5), st.floats(0, 3), st.floats(0.05, 0.95))
def test_what_is_left_and_the_chance_to_fail_are_two_sides_of_one_thing(shape, age, share):
    from eventlab.stats import Weibull

    law = Weibull(shape, 1.0, np.diag([0.01, 0.01]), 10)
    left = remaining_time(law, age, share)
    assert failing(law, age, float(left.time)) == pytest.approx(share, rel=1e-6)
    assert left.low <= left.time <= left.high


def test_too_few_or_all_alike_fit_nothing():
    assert weibull([0], [5], [True]) is None
    assert weibull([0, 0], [5, 5], [True, True]) is None
    assert weibull([], [], []) is None
    assert survival([], [], []).time.size == 0
