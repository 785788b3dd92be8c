"""Habits of opening and closing over a year with its calendar: a small run and the full one."""

import pytest
from scipy.stats import binom

from eventlab.simulate.coming_going import COMING_GOING
from tests.proving import living
from tests.proving.measured import written

NEVER = 1e-3
"""What a true share would show less often than this is taken to contradict it."""
WRONG = 0.01
"""Of healthy sites at most so many show anything, silence and habits together."""


def held(told, hits, wrong, healthy):
    sites = wrong.select("batch", "site").unique().height
    assert binom.sf(sites - 1, healthy, WRONG) > NEVER
    assert binom.cdf(told["right"].sum(), told.height, 0.95) > NEVER
    # A centre's history tells no failed arming, and hides what comes late.
    seen = living.power(hits).with_columns(shown=living.SHOWN)
    for one in seen.to_dicts():
        assert binom.cdf(one["found"], one["shown"], 0.85) > NEVER, one


@pytest.mark.timeout(600)
def test_a_tenth_of_it():
    told, hits, wrong = living.measure(5, sites=living.SITES // 20, healthy=40)
    assert set(hits["pattern"]) == set(COMING_GOING)
    held(told, hits, wrong, 40)


@pytest.mark.slow
@pytest.mark.timeout(7200)
def test_the_full_run_gives_the_table_again_and_keeps_the_promise():
    told, hits, wrong = living.measure(living.HELD_OUT, sites=living.SITES, healthy=living.HEALTHY)
    held(told, hits, wrong, living.HEALTHY)
    kept = {row[0]: float(row[3]) for row in written()}
    for one in living.shares(told, wrong).to_dicts():
        assert one["low"] - 0.01 <= kept[one["pattern"]] <= one["high"], one
