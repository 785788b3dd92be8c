"""Sites with both logs and nothing wrong: no path, no centre and no clock is accused.

They have late and lost signals, aborts, tests, part-arming, centres that hear confirmed alarms
only, short outages of a path with what waited sent in a burst, and clocks set by hand.
"""

import polars as pl
import pytest

from eventlab.schema import Pattern
from eventlab.simulate import ordinary
from tests.proving.judging import analysed

ACCUSING = (Pattern.PATH_DOWN, Pattern.CLOCK_FAULT)


def accused(seed, sites):
    made = ordinary(seed, sites=sites, troubles=(None,), both=True)
    assert made.sites.select(pl.col("panel") & pl.col("centre")).to_series().all()
    return analysed(made).filter(pl.col("pattern").is_in(list(ACCUSING)))


def test_nobody_is_accused_at_a_few_sites():
    assert accused(41, 10).is_empty()


@pytest.mark.slow
@pytest.mark.timeout(7200)
def test_nobody_is_accused_at_many_sites():
    """None of 220: with 95 % confidence fewer than 14 in a thousand such sites would be."""
    assert accused(42, 220).is_empty()
