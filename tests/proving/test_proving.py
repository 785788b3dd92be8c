"""Few findings where nothing is wrong, and what is found is right: a small run and the full one."""

from functools import cache

import polars as pl
import pytest
from scipy.stats import binom

from eventlab.analysis.run import margin
from eventlab.analysis.tables import table
from eventlab.schema import Pattern
from eventlab.simulate import BACKGROUNDS, PATTERNS
from tests.proving import driving, living, siren, visiting
from tests.proving.__main__ import HELD_OUT, SITES, rows
from tests.proving.judging import healthy, prove, seen
from tests.proving.measured import text, written

NEVER = 1e-3
"""What a true share would show less often than this is taken to contradict it."""

SEED = 5


@cache
def small():
    return prove(SEED, sites=4 * (len(PATTERNS) + 4))


def test_where_nothing_is_wrong_at_most_five_in_a_hundred_show_anything():
    shown = healthy(small())
    assert set(shown["background"]) == set(BACKGROUNDS)
    sites, wrong = shown["sites"].sum(), shown["any"].sum()
    assert binom.sf(wrong - 1, sites, 0.05) > NEVER


def test_what_is_found_is_right_and_what_can_be_seen_is_found():
    judged = small()
    plain = judged.found.filter(margin() == "plain")
    assert plain.height > 20
    assert binom.cdf(plain["right"].sum(), plain.height, 0.95) > NEVER
    told = seen(judged)
    assert set(told["pattern"]) == set(PATTERNS)
    # How often a change of rate is found hangs on its size: tests/analysis/test_rate_change.py.
    told = told.filter(pl.col("pattern") != Pattern.RATE_CHANGE)
    shown = told["planted"].sum() - told["hidden"].sum()
    assert binom.cdf(told["found"].sum(), shown, 0.9) > NEVER


def test_the_table_is_measured_by_pattern_number_and_margin():
    measured = table("confidence")
    # Of these no share can be right: they say may, and that nobody can know.
    never = {Pattern.POSSIBLE_INTRUSION, Pattern.LONE_OPENING}
    alone = {Pattern.FOLLOWS_SIREN, Pattern.AFTER_VISIT}
    measured_apart = {*driving.PATTERN.values(), *living.BASIS, *alone}
    assert set(measured["pattern"]) == {*PATTERNS, *measured_apart, *never}
    seeds = [HELD_OUT, *(one.HELD_OUT for one in (driving, living, siren, visiting))]
    known = measured.filter(pl.col("confidence").is_not_null())
    assert set(known["pattern"]) >= {*PATTERNS, *driving.PATTERN.values()}
    assert (known["cases"] >= 5).all()
    assert known["basis"].str.contains(f"seed ({'|'.join(map(str, seeds))}): ").all()
    assert known["confidence"].is_between(0, 1, closed="none").all()
    ladder = measured.sort("pattern", "margin", "events_min")
    assert ladder.select("pattern", "margin", "events_min").is_unique().all()


@pytest.mark.slow
@pytest.mark.timeout(7200)
def test_the_full_run_gives_the_table_again_and_keeps_the_promise():
    judged = prove(HELD_OUT, sites=SITES)
    for one in healthy(judged).to_dicts():
        assert binom.sf(one["any"] - 1, one["sites"], 0.05) > NEVER, one
    again = text(rows(judged, HELD_OUT))
    assert [row for row in written() if row[0] in {pattern for pattern, *_ in again}] == again
