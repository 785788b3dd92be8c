"""Test reports: due, on time, late, missed; what share came, against a class of EN 50136."""

from datetime import date, datetime, timedelta

import pytest
from scipy.stats import beta

from eventlab.analysis import availability, reports, schedule
from tests.analysis.standing import SETTINGS, context, found, ground, nights


def daily(count, *, skip=(), late=None, at="03:10:00", first="2025-01-06", more=""):
    start = datetime.fromisoformat(f"{first} {at}")
    lines = []
    for day in range(count):
        if day in skip:
            continue
        when = start + timedelta(days=day, hours=(late or {}).get(day, 0))
        lines.append(f"{when:%Y-%m-%d %H:%M:%S} test-report{more}")
    return "\n".join(lines)


QUIET = nights(42)


def slots(*texts):
    laid = ground(*texts)
    told = schedule.told(laid)
    learned = schedule.periods(told, SETTINGS)
    return learned, schedule.slots(schedule.gaps(told, learned, laid), SETTINGS)


def test_period_and_time_of_day_are_learned():
    learned, came = slots(QUIET, daily(42))
    (row,) = learned.to_dicts()
    assert (row["period_h"], row["clock"], row["reports"]) == (24, "03:10", 42)
    assert came["came"].unique().to_list() == ["on time"]
    # around midnight the middle of the clock times is not noon
    near = "\n".join([daily(21, at="23:58:00"), daily(21, at="00:01:00", first="2025-01-28")])
    clock = slots(QUIET, near)[0]["clock"][0]
    assert clock in {"23:58", "23:59", "00:00", "00:01"}


def test_late_is_not_missed_and_missed_is_not_late():
    _, came = slots(QUIET, daily(42, skip={10, 20, 21}, late={30: 5}))
    many = dict(came["came"].value_counts().iter_rows())
    assert many == {"on time": 37, "missed": 3, "late": 1}
    (late,) = came.filter(came["came"] == "late").to_dicts()
    assert late["late_h"] == pytest.approx(5)
    assert late["due"].date() == date(2025, 2, 5)


def test_a_timer_that_runs_from_the_last_one_has_no_time_of_day():
    start = datetime.fromisoformat("2025-01-06 03:10:00")
    moments = [start + timedelta(hours=26 * n) for n in range(39)]
    lines = [f"{one:%Y-%m-%d %H:%M:%S} test-report" for one in moments]
    learned, came = slots(QUIET, "\n".join(lines))
    assert learned["clock"].to_list() == [None]
    assert came["came"].unique().to_list() == ["on time"]


def test_a_report_that_keeps_its_time_of_day_is_not_late_when_the_clocks_change():
    # Europe/London 2025: summer time from 30 March, so 03:10 on the wall is 02:10 UTC from then on
    # and 03:10 UTC again from 26 October.
    for first, at, then in (("2025-03-10", "03:10:00", -1), ("2025-10-06", "02:10:00", 1)):
        shift = 20
        spoken = daily(42, first=first, at=at, late=dict.fromkeys(range(shift, 42), then))
        laid = ground(nights(42, first=first), spoken, known=context(time_zone="Europe/London"))
        told = schedule.told(laid)
        learned = schedule.periods(told, SETTINGS)
        assert learned["clock"].to_list() == ["03:10"]
        came = schedule.slots(schedule.gaps(told, learned, laid), SETTINGS)
        assert came["came"].unique().to_list() == ["on time"]


def test_shares_have_exact_limits_by_week_and_over_all():
    laid = ground(QUIET, daily(42, skip={8, 9, 20}))
    weeks = availability.weekly(laid, SETTINGS)
    first = weeks.row(1, named=True)
    assert (first["week"], first["due"], first["missed"]) == (date(2025, 1, 13), 7, 2)
    # Clopper and Pearson 1934, by the beta distribution.
    assert first["low"] == pytest.approx(beta.ppf(0.025, 5, 3))
    assert first["high"] == pytest.approx(beta.ppf(0.975, 6, 2))
    assert weeks["health"].to_list()[:4] == ["well", "not well", "not well", "well"]
    (all_,) = availability.overall(laid, SETTINGS).to_dicts()
    assert (all_["due"], all_["missed"]) == (41, 3)
    assert not all_["below"]  # 38 of 41 may still be 97 in 100
    lost = ground(QUIET, daily(42, skip=set(range(5, 35, 3))))
    assert availability.overall(lost, SETTINGS)["below"].to_list() == [True]


def test_a_gap_of_the_log_has_nothing_due_in_it():
    before, after = nights(14), nights(14, first="2025-02-20")
    one = f"{before}\n{daily(14)}"
    two = f"{after}\n{daily(14, first='2025-02-20')}"
    lines = [f"{line} source=a" for line in one.splitlines()]
    lines += [f"{line} source=b" for line in two.splitlines()]
    laid = ground("\n".join(lines))
    assert laid.coverage.height == 2
    assert availability.overall(laid, SETTINGS)["missed"].to_list() == [0]
    assert found(reports, "\n".join(lines)) == []


def test_of_two_paths_the_one_whose_reports_stopped_is_found():
    both = daily(42, more=" witness=receiver path=IP") + "\n"
    radio = daily(20, at="03:10:20", more=" witness=receiver path=Radio")
    (got,) = found(reports, QUIET, both, radio)
    assert (got["standing"], got["figures"]["path"]) == (True, "Radio")
    assert found(reports, QUIET, both, radio.replace("Radio", "IP")) == []
    shares = availability.overall(ground(QUIET, both, radio), SETTINGS)
    missed = dict(shares.select("path", "missed").iter_rows())
    assert missed[None] == 0
    assert missed["IP"] == 0
    assert missed["Radio"] >= 20


def test_what_came_late_is_told_beside_what_was_missed():
    (got,) = found(reports, QUIET, daily(42, skip={10, 11, 12, 13}, late={30: 5}))
    assert (got["events"], got["figures"]["late"], got["figures"]["clock"]) == (4, 1, "03:10")
    assert any(line["what"] == "came, but late" for line in got["evidence"])
