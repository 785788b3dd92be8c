"""A tenth of the tables of silences: hardly any is told where nothing is wrong; dead points are.

The full tables: ``python -m tests.proving.watching``.
"""

from functools import cache

import pytest
from scipy.stats import binom

from eventlab.simulate import BACKGROUNDS
from tests.proving.watching import HEALTHY, HELD_OUT, SITES, Run, healthy, power

NEVER = 1e-3
"""What a true share would show less often than this is taken to contradict it."""
SEED = 8
FLOORS = {"poisson": 0.6, "bad-days": 0.4}
"""Share of points dead for 20 open days that is told, of rooms used on one day in five to all."""


@cache
def quiet():
    return [healthy(Run(SEED, HEALTHY // 10, background)) for background in BACKGROUNDS]


def test_few_living_points_are_told_silent():
    wrong = sum(told["with a finding"] for told in quiet())
    sites = sum(told["sites"] for told in quiet())
    assert binom.sf(wrong - 1, sites, 0.01) > NEVER, quiet()


@pytest.mark.parametrize("background", FLOORS)
def test_dead_points_are_told(background):
    told = power(Run(SEED, 20, background, 20))
    assert binom.cdf(told["found"], told["sites"], FLOORS[background]) > NEVER, told
    assert told["wrong"] <= 1, told


@pytest.mark.slow
@pytest.mark.timeout(7200)
def test_the_full_tables_keep_floors_and_promise():
    for background in BACKGROUNDS:
        told = healthy(Run(HELD_OUT, HEALTHY, background))
        assert binom.sf(told["with a finding"] - 1, told["sites"], 0.01) > NEVER, told
    for background, floor in FLOORS.items():
        told = power(Run(HELD_OUT + 20, SITES, background, 20))
        assert binom.cdf(told["found"], told["sites"], floor) > NEVER, told
