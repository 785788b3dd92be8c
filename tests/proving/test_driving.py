"""A tenth of the tables of drivers: what is named is right, where nothing is followed nothing is.

The floors are those of 365 days with one affected point of eight on bad days; the full tables:
``python -m tests.proving.driving``.
"""

from functools import cache

import pytest
from scipy.stats import binom

from eventlab.simulate import BACKGROUNDS
from tests.proving.driving import (
    ALARMS,
    FLOORS,
    HEALTHY,
    HELD_OUT,
    HIDDEN_FLOORS,
    PATTERN,
    RING_DAYS,
    SITES,
    VARIANT_ALARMS,
    VARIANTS,
    Run,
    gathered,
    healthy,
    power,
    variant_runs,
)

NEVER = 1e-3
"""What a true share would show less often than this is taken to contradict it."""
SEED = 6


@cache
def small():
    runs = [
        Run(SEED, 6, driver=driver, alarms=n) for driver in PATTERN for n in ALARMS[driver][::2]
    ]
    return [power(got, run) for got, run in zip(gathered(runs), runs, strict=True)]


def test_the_floors_of_power_are_kept():
    for told in small():
        floor = FLOORS[told["driver"]][ALARMS[told["driver"]].index(told["alarms"])]
        right = round(told["named right"] * told["sites"])
        assert binom.cdf(right, told["sites"], floor) > NEVER, told


def test_what_is_named_is_hardly_ever_wrong():
    named = sum(round(t["named right"] * t["sites"]) for t in small())
    wrong = sum(round((t["detected"] - t["open"] - t["named right"]) * t["sites"]) for t in small())
    assert binom.sf(wrong - 1, named + wrong, 0.05) > NEVER


@pytest.mark.parametrize("background", BACKGROUNDS)
def test_few_points_that_follow_nothing_are_said_to_follow_anything(background):
    run = Run(SEED, 25, background=background)
    told = healthy(gathered([run])[0], run)
    assert binom.sf(told["with a finding"] - 1, told["sites"], 0.03) > NEVER, told


@pytest.mark.slow
@pytest.mark.timeout(14_400)
def test_the_full_tables_keep_floors_and_promise():
    followed = [
        Run(HELD_OUT + n, SITES, driver=driver, alarms=n)
        for driver in PATTERN
        for n in ALARMS[driver]
    ]
    for got, run in zip(gathered(followed), followed, strict=True):
        told = power(got, run)
        floor = FLOORS[run.driver][ALARMS[run.driver].index(run.alarms)]
        assert binom.cdf(round(told["named right"] * SITES), SITES, floor) > NEVER, told
        decided = round((told["detected"] - told["open"]) * SITES)
        wrong = round(told["wrong of decided"] * decided)
        assert binom.sf(wrong - 1, decided, 0.05) > NEVER, told
    for background in BACKGROUNDS:
        run = Run(HELD_OUT, HEALTHY, background=background)
        told = healthy(gathered([run])[0], run)
        assert binom.sf(told["with a finding"] - 1, HEALTHY, 0.03) > NEVER, told


def keeps_up(told, run):
    floor = HIDDEN_FLOORS[run.driver]
    if run.days == RING_DAYS and run.driver not in {"clock", "area"}:
        return True  # a ring of a quarter of a year holds too little weather and sun
    right = round(told["named right"] * told["sites"])
    return binom.cdf(right, told["sites"], floor) > NEVER


def test_early_first_trips_are_no_clock_no_sun_and_no_arming():
    # Only the first of two or three trips of a bad night is told: it comes early by itself.
    run = Run(SEED, 30, quiet=(25, 60), ways=VARIANTS["trip limit 1"])
    told = healthy(gathered([run])[0], run)
    assert binom.sf(told["with a finding"] - 1, told["sites"], 0.03) > NEVER, told


@pytest.mark.slow
@pytest.mark.timeout(14_400)
@pytest.mark.parametrize("name", VARIANTS)
def test_what_panels_hide_brings_no_false_drivers_and_leaves_some_power(name):
    tried = [run for n, run in variant_runs(SEED, 10, 20, VARIANT_ALARMS) if n == name]
    got = gathered(tried)
    shown = asked = 0
    for frame, run in zip(got, tried, strict=True):
        if run.driver is None:
            shown += healthy(frame, run)["with a finding"]
            asked += run.sites
        else:
            assert keeps_up(power(frame, run), run), (name, power(frame, run))
    assert binom.sf(shown - 1, asked, 0.03) > NEVER, (name, shown)
