"""Did it work: before and after a date, exact, and never better without proof of detection."""

from datetime import UTC, date, datetime, timedelta

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.rates import test_poisson_2indep as two_rates

from eventlab.advice import ASKED, proof
from eventlab.context import Context
from eventlab.schema import Verdict
from eventlab.settings import Settings
from tests.analysis.standing import context, ground, nights

FIRST = date(2025, 1, 6)
QUIET = nights(300, first="2025-01-06")
VISIT = datetime(2025, 8, 1, 11, tzinfo=UTC)  # day 207
WALKED = "2025-08-01 11:30:00 walk-test moment zone=5"


def night(number):
    return FIRST + timedelta(days=number)


def alarms(*numbers, zone="5", kind="intrusion-alarm"):
    return "\n".join(f"{night(n)} 23:10:00 {kind} zone={zone}" for n in numbers)


def proved(*texts, zone="5", at=VISIT, known=None, site="S1"):
    asked = pl.DataFrame({"site": [site], "zone": [zone], "at": [at]}, schema=ASKED)
    return proof(ground(QUIET, *texts, known=known or Context.empty()), asked, Settings()).row(
        0, named=True
    )


OUT = """
2025-01-07 10:00:00 bypass zone=6
2025-01-08 10:00:00 bypass end zone=6
2025-09-01 10:00:00 bypass zone=5
"""
BEFORE = alarms(*range(5, 200, 10))  # 20 alarm nights, no rise


def test_fewer_alarms_and_a_walk_test_are_better():
    got = proved(BEFORE, WALKED)
    assert got["verdict"] == Verdict.BETTER
    assert (got["before_days"], got["before_nights"]) == (20, 207)
    assert (got["after_days"], got["after_nights"]) == (0, 93)
    assert got["proven_by"] == "walk test"
    assert got["ratio_high"] < 1
    assert got["more_nights"] is None
    other = two_rates(0, got["after_hours"], 20, got["before_hours"], method="exact-cond")
    assert got["p_exact"] == pytest.approx(other.pvalue)
    assert got["p_mid"] <= got["p_exact"]


@pytest.mark.parametrize(
    ("proof_", "verdict"),
    [
        ("", Verdict.QUIET),
        ("2025-08-02 01:00:00 tamper zone=5", Verdict.QUIET),
        ("2025-08-02 01:00:00 tamper-alarm zone=5", Verdict.QUIET),
        ("2025-07-31 11:30:00 walk-test moment zone=5", Verdict.QUIET),  # before the change
        ("2025-08-01 11:30:00 walk-test moment zone=6", Verdict.QUIET),
        ("2025-08-02 11:30:00 activation zone=5", Verdict.BETTER),
        (alarms(250), Verdict.BETTER),
        ("2025-08-01 11:30:00 walk-test moment zone=5 timing=doubtful", Verdict.QUIET),
    ],
)
def test_quiet_is_better_only_where_the_point_was_seen_to_detect(proof_, verdict):
    assert proved(BEFORE, proof_)["verdict"] == verdict


@pytest.mark.parametrize(
    ("force", "word"),
    [
        (OUT, "bypass"),
        ("2025-11-01 10:00:00 masking zone=5", "masking"),
        ("2025-11-02 10:00:00 on-site-work", "work on the system"),
        ("2025-11-02 07:00:00 on-test", "on test"),
    ],
)  # fmt: skip
def test_what_is_out_of_service_is_never_called_better(force, word):
    got = proved(BEFORE, WALKED, force)
    assert (got["verdict"], got["in_force"]) == (Verdict.OUT, word)


def test_a_mask_that_was_lifted_is_over():
    mask = "2025-10-01 10:00:00 masking zone=5\n2025-10-01 11:00:00 masking end zone=5"
    assert proved(BEFORE, WALKED, mask)["verdict"] == Verdict.BETTER


def test_nothing_before_and_nothing_after_is_no_evidence():
    got = proved(alarms(3, zone="6"), WALKED, "2025-01-10 11:00:00 activation zone=5")
    assert got["verdict"] == Verdict.OPEN
    assert (got["p_exact"], got["p_mid"]) == (1, 1)
    assert (got["before_days"], got["after_days"]) == (0, 0)
    assert got["more_nights"] is None  # no quiet, however long, would settle it


def test_more_alarms_are_worse_and_few_are_no_evidence():
    assert proved(BEFORE, alarms(*range(208, 299, 3)))["verdict"] == Verdict.WORSE
    few = proved(alarms(60, 120, 180), WALKED)
    assert few["verdict"] == Verdict.OPEN
    assert few["more_nights"] > 200


def test_so_many_more_quiet_nights_do_settle_it_and_one_less_does_not():
    few = proved(alarms(10, 50, 90, 120, 160, 200), WALKED)
    # 6 before in 207 nights and none after: one-sided 0.025 needs (207 / (207 + x)) ^ 6 <= 0.025
    wanted = few["before_hours"] * (0.025 ** (-1 / 6) - 1) - few["after_hours"]
    assert few["more_hours"] == pytest.approx(wanted, rel=1e-6)
    assert few["more_nights"] == pytest.approx(wanted / 13.8, abs=2)


def test_a_rise_before_the_visit_is_what_it_is_compared_with():
    rise = alarms(20, 75, 130, *range(160, 206, 3))
    got = proved(rise, WALKED)
    assert got["rose"] == night(160)
    assert got["before_days"] == 16
    assert got["verdict"] == Verdict.BETTER


def test_a_bad_month_is_told_beside_what_is_usual():
    got = proved(alarms(20, 75, 130, 181, 188, 199), WALKED)
    assert (got["month_days"], got["month_nights"]) == (3, 30)
    assert got["usual_30"] == pytest.approx(6 * 30 / 207)
    # what is to be expected without any work lies between the usual and the bad month
    assert got["usual_30"] - 1e-6 <= got["expected_30"] < 3
    assert got["verdict"] == Verdict.OPEN


def test_a_life_safety_point_is_only_ever_in_service_or_not():
    listed = context("5 fire smoke detector")
    rows = "2025-02-01 02:00:00 fire zone=5\n" + BEFORE
    got = proved(rows, WALKED, known=listed)
    assert got["verdict"] == Verdict.IN
    assert got["before_days"] is got["ratio"] is got["p_exact"] is got["expected_30"] is None
    assert "examined by a licensed person" in got["caution"]
    assert proved(rows, known=listed)["verdict"] == Verdict.UNPROVEN
    out = "2025-09-01 10:00:00 masking zone=5"
    assert proved(rows, WALKED, out, known=listed)["verdict"] == Verdict.OUT


def test_where_arming_is_not_recorded_it_is_told_by_calendar_days():
    text = alarms(*range(2, 200, 14)) + "\n" + alarms(299, zone="6")
    asked = pl.DataFrame({"site": ["S1"], "zone": ["5"], "at": [VISIT]}, schema=ASKED)
    got = proof(ground(text, WALKED), asked, Settings()).row(0, named=True)
    assert got["basis"] == "calendar"
    assert got["after_hours"] == pytest.approx(24 * 91.5, rel=0.02)


def test_a_whole_site_is_proven_only_with_all_points_that_had_alarmed():
    both = BEFORE + "\n" + alarms(*range(7, 200, 20), zone="6")
    got = proved(both, WALKED, zone=None)
    assert (got["verdict"], got["unproven"]) == (Verdict.QUIET, ["6"])
    assert got["before_days"] == 30
    walked = WALKED + "\n2025-08-01 11:31:00 walk-test moment zone=6"
    assert proved(both, walked, zone=None)["verdict"] == Verdict.BETTER


def test_many_rows_at_once_are_each_as_alone_and_strangers_tell_nothing():
    laid = ground(QUIET, BEFORE, WALKED, alarms(9, 120, zone="6"))
    asked = pl.DataFrame(
        {"site": ["S1", "S1", "S1", "S1", "S9"], "zone": ["5", "6", None, "99", "1"],
         "at": [VISIT, VISIT, VISIT - timedelta(days=30), VISIT, VISIT]},
        schema=ASKED,
    )  # fmt: skip
    many = proof(laid, asked, Settings())
    assert many.select(ASKED.keys()).equals(asked)
    for number in range(5):
        assert proof(laid, asked[number], Settings()).equals(many[number])
    assert many["verdict"].to_list()[3:] == [Verdict.OPEN] * 2
    assert proof(laid, asked[:0], Settings()).is_empty()


def test_a_date_outside_the_log_leaves_one_side_empty():
    got = proved(BEFORE, at=datetime(2024, 1, 1, tzinfo=UTC))
    assert (got["before_hours"], got["verdict"]) == (0, Verdict.OPEN)
    assert got["ratio"] is None


DAYS = st.lists(st.integers(0, 298), max_size=25, unique=True)


@settings(max_examples=8, deadline=None)
@given(DAYS, st.integers(20, 280))
def test_days_and_hours_add_up_to_the_whole_whatever_the_date(days, cut):
    at = datetime.combine(night(cut), datetime.min.time(), UTC) + timedelta(hours=11)
    got = proved(alarms(*days), alarms(0, zone="6"), at=at, zone="5" if days else "6")
    if got["rose"] is None:
        counted = got["before_days"] + got["after_days"]
        assert counted == (len(days) if days else 1)
        assert got["before_nights"] + got["after_nights"] == 300
    assert got["verdict"] != Verdict.BETTER or got["proven_at"] > at
