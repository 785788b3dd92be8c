"""How often devices fail, by family, and what is to be expected: held to what was put in."""

from datetime import UTC, datetime

import numpy as np
import polars as pl
import pytest
from scipy.stats import binom

from eventlab.analysis import wear
from tests.analysis.standing import SETTINGS, context, ground, nights

QUIET = nights(365)


def fleet(seed, families, devices=200, shape=1.0, watched=(0.5, 3.0)):
    """Devices of families with so many failures a year, each watched over a time of its own."""
    random = np.random.default_rng(seed)
    rows = []
    for family, rate in families.items():
        for number in range(devices):
            years = random.uniform(*watched)
            many = random.poisson(rate * years)
            at = np.sort(years * random.random(many) ** (1 / shape)).tolist()
            rows.append((f"S{number}", str(number), None, family, datetime(2025, 1, 1, tzinfo=UTC),
                         years, at))  # fmt: skip
    return pl.DataFrame(rows, schema=wear.WATCHED, orient="row")


def test_rates_hold_what_was_put_in_and_few_failures_are_drawn_in():
    true = {"pir": 0.2, "contact": 0.05, "glass": 0.1}
    got = wear.expected(fleet(1, true), years=2.0)
    for row in got.to_dicts():
        assert row["rate_low"] <= true[row["family"]] <= row["rate_high"]
        assert row["expected"] == pytest.approx(row["rate"] * 200 * 2)
    small = wear.expected(pl.concat([fleet(1, true), fleet(3, {"beam": 0.1}, devices=3)]))
    beam = small.filter(family="beam").row(0, named=True)
    own = beam["failures"] / beam["years"]
    mean = small["failures"].sum() / small["years"].sum()
    assert min(own, mean) <= beam["rate"] <= max(own, mean)


def test_a_rate_that_rises_is_told_and_a_steady_one_hardly_ever():
    rising = wear.expected(fleet(4, {"pir": 0.4}, shape=2.0)).row(0, named=True)
    assert rising["rising"]
    assert rising["shape_low"] <= 2.0 <= rising["shape_high"]
    wrong = sum(
        wear.expected(fleet(seed, {"pir": 0.2}, devices=80))["rising"][0] for seed in range(60)
    )
    assert binom.sf(wrong - 1, 60, 0.025) > 1e-3


def test_devices_and_their_failures_come_from_the_log():
    text = """
    2025-03-01 03:00:00 supervision-loss zone=4
    2025-03-04 03:00:00 supervision-loss end zone=4
    2025-03-10 03:00:00 sensor-fault zone=4
    2025-03-13 03:00:00 sensor-fault end zone=4
    2025-06-01 03:00:00 sensor-fault zone=5
    2025-06-01 09:00:00 sensor-fault end zone=5
    2025-09-01 03:00:00 sensor-fault zone=4
    """
    known = context("4 interior pir", "5 interior pir", "6 perimeter contact")
    got = wear.watched(ground(QUIET, text, known=known), known, SETTINGS)
    many = dict(got.select("zone", pl.col("failures").list.len()).iter_rows())
    # back for six days only it had not been seen to; a fault of hours is none
    assert many == {"4": 2, "5": 0, "6": 0}
    times = got.filter(zone="4")["failures"][0].to_list()
    assert times == pytest.approx([53.4 / 365.25, 237.4 / 365.25], abs=0.01)
    assert got["family"].to_list() == ["pir", "pir", "contact"]
    assert got["years"][0] == pytest.approx(1, abs=0.01)


def test_nothing_watched_expects_nothing():
    assert wear.expected(pl.DataFrame(schema=wear.WATCHED)).is_empty()
    none = wear.expected(fleet(2, {"pir": 0.0}, devices=5))
    assert none["failures"].to_list() == [0]
    assert none["shape"].to_list() == [None]
    assert none["rate_high"][0] > 0
