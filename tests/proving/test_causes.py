"""Causes told on simulated sites, held to what was true: a small run, and the full one.

The full figures: ``python -m tests.proving.causes``. Without outcomes 5 in 100 stay unexplained
whatever the log says, so that what is beyond doubt is right more often than told: that alone is
some 0.035 of the calibration error.
"""

import numpy as np
import polars as pl
import pytest

from eventlab.analysis import CAUSE_ORDER, learn, probabilities
from eventlab.schema import CALIBRATION, Cause, empty
from eventlab.stats import bins, share_interval
from tests.proving.causes import (
    SETTINGS,
    SITES,
    TAUGHT,
    TRIED,
    WRONG,
    by_cause,
    judge,
    noticed,
    outcomes,
    taught,
    weighed,
)

SMALL = 10
SURE = 0.6


def told(known):
    return probabilities(known.evidence, known.prompt, empty(CALIBRATION), SETTINGS)


def test_a_small_run_tells_causes_better_than_base_rates_and_is_not_too_sure():
    known = weighed(11, SMALL, shifted=False).known
    assert len(known) > 100
    got = judge(known)
    assert got.brier < 0.7 * got.base
    shares = told(known)
    sure = shares.max(axis=1) >= SURE
    right = (shares.argmax(axis=1) == known.cause)[sure]
    # not more often wrong than told, by exact limits
    assert share_interval(right.sum(), len(right)).high >= shares.max(axis=1)[sure].mean()
    assert (shares[:, CAUSE_ORDER.index(Cause.UNEXPLAINED)] >= 0.05 - 1e-12).all()
    each = by_cause(known)
    assert each["told"].sum() == pytest.approx(1, abs=0.01)
    assert each["times"].sum() == len(known)


@pytest.mark.slow
@pytest.mark.timeout(7200)
def test_the_full_run_keeps_the_shares_of_causes_and_says_what_it_does_not_keep():
    tried = weighed(TRIED, SITES, shifted=False).known
    others = weighed(TAUGHT, SITES, shifted=False).known
    assert len(tried) >= 2000
    plain = judge(tried)
    assert plain.worst <= 0.03
    assert plain.brier < plain.base / 2
    assert plain.error <= 0.06
    assert plain.low <= 0.05
    # every bin of what is told is right about as often as told, or more often
    shares = told(tried)
    part = bins(shares.max(axis=1), shares.argmax(axis=1) == tried.cause)
    assert (part.true - part.told).min() > -0.10
    after = [judge(tried, one) for one in taught(others, 200, wrong=0)]
    assert np.mean([one.error for one in after]) < plain.error
    assert np.mean([one.error for one in after]) <= 0.05
    assert judge(tried, learn(outcomes(others, 1000, wrong=0), SETTINGS)).error <= 0.05


@pytest.mark.slow
@pytest.mark.timeout(7200)
def test_in_a_shifted_world_with_wrong_outcomes_it_stays_near():
    tried = weighed(TRIED, SITES, shifted=True).known
    others = weighed(TAUGHT, SITES, shifted=True).known
    after = [judge(tried, one) for one in taught(others, 200, wrong=WRONG)]
    assert np.mean([one.error for one in after]) <= 0.10
    assert judge(tried).error <= 0.10
    assert judge(tried).brier < judge(tried).base


@pytest.mark.slow
@pytest.mark.timeout(7200)
@pytest.mark.parametrize("shifted", [False, True])
def test_break_ins_that_a_log_can_tell_are_told(shifted):
    each = noticed(weighed(TRIED, SITES, shifted=shifted))
    print(each)
    assert each["missed"].sum() == 0
    # one that was pulled to again may be told as an opening that alarmed alone
    open_ = each.filter(pl.col("way") != "shut again")
    assert (open_["possible_intrusion"] == open_["break_ins"]).all()
