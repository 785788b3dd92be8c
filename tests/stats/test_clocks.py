"""Offset and drift of clocks against scipy's robust lines (Theil 1950, Sen 1968, Siegel 1982)."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.stats import siegelslopes, theilslopes

from eventlab.stats.clocks import matched, partners, peak, pieces
from eventlab.stats.slopes import theil_sen

DAY = 86_400.0


def acts(rng, days=200):
    """Give times and kinds of two acts a day by three people, and of some alarms."""
    times = [
        day * DAY + hour * 3600 + rng.normal(0, 420) for day in range(days) for hour in (9, 17.5)
    ]
    keys = [4 * (n % 2) + int(rng.integers(3)) for n in range(len(times))]
    alarms = np.sort(rng.uniform(0, days * DAY, 40))
    return np.concatenate([times, alarms]), np.concatenate([keys, rng.integers(20, 25, 40)])


def told(rng, drift, *, late=0.0, lost=0.0):
    true, key = acts(rng)
    heard = true + rng.uniform(2, 6, true.size)
    heard += np.where(rng.random(true.size) < late, rng.uniform(60, 7200, true.size), 0)
    kept = rng.random(true.size) >= lost
    return true + drift * true / DAY, key, heard[kept], key[kept]


@pytest.mark.parametrize("drift", [-15.0, -2.0, 0.0, 0.5, 4.0, 25.0])
def test_drift_agrees_with_two_other_estimators(drift):
    rng = np.random.default_rng(3)
    mine, mine_key, theirs, theirs_key = told(rng, drift, late=0.05, lost=0.1)
    turn = np.argsort(mine)
    mine, mine_key = mine[turn], mine_key[turn]
    places, offsets = matched(mine, theirs, partners(mine, mine_key, theirs, theirs_key, 93_600))
    (piece,) = pieces(mine[places], offsets)
    days = mine[places] / DAY
    assert piece.drift == pytest.approx(siegelslopes(offsets, days).slope, abs=0.01)
    assert piece.drift == pytest.approx(theilslopes(offsets, days).slope, abs=0.01)
    line = siegelslopes(offsets, days)
    assert piece.offset == pytest.approx(line.intercept + line.slope * piece.middle / DAY, abs=0.5)
    assert piece.drift == pytest.approx(drift, abs=max(0.01, piece.drift_plus_minus))


def test_nine_in_ten_intervals_and_more_hold_the_truth():
    held = 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        times = np.sort(rng.uniform(0, 100 * DAY, 150))
        offsets = 7.0 + 2.0 * times / DAY + rng.normal(0, 5, times.size)
        (piece,) = pieces(times, offsets)
        true = 7.0 + 2.0 * piece.middle / DAY
        held += abs(piece.offset - true) <= piece.plus_minus
        assert abs(piece.drift - 2.0) <= 3 * piece.drift_plus_minus
    assert held >= 50


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.integers(30, 170), st.sampled_from([-4000, -90, 90, 300, 3600]))
def test_a_step_is_found_where_it_is(seed, day, size):
    rng = np.random.default_rng(seed)
    times = np.sort(rng.uniform(0, 200 * DAY, 400))
    offsets = rng.normal(0, 3, times.size) + np.where(times >= day * DAY, size, 0)
    found = pieces(times, offsets)
    assert len(found) == 2
    assert found[0].last < day * DAY <= found[1].first
    assert found[1].offset - found[0].offset == pytest.approx(size, abs=3)


def test_times_of_two_things_that_have_nothing_to_do_with_each_other_have_no_peak():
    rng = np.random.default_rng(5)
    assert peak(rng.uniform(-90_000, 90_000, 2000), 300) is None
    # Openings of two buildings: every day about nine, in neither is the other's minute.
    mine, other = acts(rng), acts(rng)
    found = partners(*mine, *other, 93_600)
    places, _ = matched(mine[0], other[0], found)
    assert places.size <= 0.05 * mine[0].size


def test_few_pairs_tell_no_line():
    assert pieces(np.array([0.0, DAY]), np.array([1.0, 2.0])) == []
    none = np.zeros(0)
    empty = np.zeros(0, dtype=np.int64)
    places, offsets = matched(none, none, partners(none, empty, none, empty, 100.0))
    assert places.size == offsets.size == 0


# scipy takes the root of a variance below nothing where nearly all values are tied.
@pytest.mark.filterwarnings("ignore:invalid value encountered in sqrt")
@given(
    st.lists(st.tuples(st.integers(0, 40), st.integers(-9, 9)), min_size=2, max_size=60).filter(
        lambda told: len({x for x, _ in told}) > 1
    )
)
def test_a_line_through_points_is_scipys(told):
    x, y = np.array(told, dtype=float).T
    theirs = theilslopes(y, x, alpha=0.95)
    assume(np.isfinite(theirs.low_slope))  # so many ties that no variance is left
    wanted = (theirs.slope, theirs.low_slope, theirs.high_slope)
    assert theil_sen(x, y) == pytest.approx(wanted, abs=1e-12)
