"""The chance of a silence, held to counting out all cases."""

from itertools import combinations
from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eventlab.stats import silent_chance, spell_chance


@given(st.data())
def test_it_is_the_share_of_all_ways_to_lay_the_days(data):
    days = data.draw(st.integers(1, 9))
    seen = data.draw(st.integers(0, days))
    last = data.draw(st.integers(0, days))
    ways = list(combinations(range(days), seen))
    silent = sum(all(day < days - last for day in way) for way in ways)
    got = silent_chance([days], [seen], [last], [7])
    assert got.group.tolist() == [7]
    assert got.chance[0] == pytest.approx(silent / len(ways), abs=1e-12)


def test_weekdays_of_one_series_multiply_and_series_stay_apart():
    got = silent_chance([10, 12, 20], [5, 0, 20], [2, 6, 1], [0, 0, 3])
    assert got.chance == pytest.approx([comb(8, 5) / comb(10, 5), 0.0])
    assert silent_chance([], [], [], []).chance.size == 0


def test_where_nothing_changed_so_small_a_chance_comes_no_oftener_than_it_says():
    random = np.random.default_rng(3)
    seen = random.random((4000, 90)) < 0.4
    last = seen[:, ::-1].argmax(axis=1)
    one = np.arange(4000)
    got = silent_chance(np.full(4000, 90), seen.sum(axis=1), last, one).chance
    for bar in (0.1, 0.01, 0.001):
        assert (got <= bar).mean() <= bar + 3 * np.sqrt(bar / 4000)


@given(st.integers(1, 4), st.integers(0, 5), st.integers(1, 6))
def test_a_spell_is_as_rare_as_among_all_ways_to_cut_the_days(runs, more, last):
    length = runs + more
    total = length + last
    cuts = list(combinations(range(1, total), runs))
    long = sum(total - cut[-1] >= last for cut in cuts)
    assert float(spell_chance(runs, length, last)) == pytest.approx(long / len(cuts), rel=1e-9)


def test_rooms_used_in_spells_are_rarely_said_to_be_dead():
    random = np.random.default_rng(8)
    said = 0
    for _ in range(400):
        lengths = random.geometric(0.2, 21)
        said += float(spell_chance(20, lengths[:-1].sum(), lengths[-1])) <= 0.05
    assert said / 400 <= 0.05 + 3 * np.sqrt(0.05 / 400)
