"""The step in which a clock counts, measured on its times."""

from datetime import datetime, timedelta

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlab.meaning.clock_grain import STEPS_S, measured_grain

START = datetime(2025, 1, 6)  # noqa: DTZ001 - a wall time


def walls(seconds):
    return pl.Series([START + timedelta(seconds=int(s)) for s in seconds], dtype=pl.Datetime("us"))


@pytest.mark.parametrize("step", [1, *STEPS_S])
def test_the_step_is_found(step):
    rng = np.random.default_rng(step)
    seconds = rng.integers(0, 300 * 86_400, 400) // step * step
    assert measured_grain(walls(seconds), 1) == step


def test_what_is_written_in_minutes_may_count_in_quarters():
    rng = np.random.default_rng(1)
    assert measured_grain(walls(rng.integers(0, 9_000_000, 200) // 900 * 900), 60) == 900
    assert measured_grain(walls(rng.integers(0, 9_000_000, 200) // 60 * 60), 60) == 60


def test_one_odd_second_is_enough():
    rng = np.random.default_rng(2)
    seconds = rng.integers(0, 9_000_000, 400) // 2 * 2
    assert measured_grain(walls([*seconds, 7]), 1) == 1


def test_few_times_and_the_same_time_every_day_show_no_step():
    assert measured_grain(walls(range(0, 22, 2)), 1) == 1
    assert measured_grain(walls([day * 86_400 + 10_800 for day in range(400)]), 1) == 1
    assert measured_grain(pl.Series([], dtype=pl.Datetime("us")), 60) == 60
    assert measured_grain(pl.Series([None], dtype=pl.Datetime("us")), 1) == 1


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 10_000_000), max_size=60), st.sampled_from([1, 60]))
def test_it_never_is_finer_than_written_and_always_fits(seconds, written):
    told = walls([s // written * written for s in seconds])
    grain = measured_grain(told, written)
    assert grain >= written
    assert all((s // written * written) % grain == 0 for s in seconds)
