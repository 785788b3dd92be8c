"""When a place is opened and closed; every fact is common practice unless a source is named."""

import json
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from scipy.stats import binomtest

from eventlab.analysis import habits
from eventlab.context import Context, parse
from eventlab.ground import lay
from eventlab.schema import SCHEDULE, SITE, Role, conform
from eventlab.settings import Settings
from tests.context.table import table
from tests.logbook import log

SETTINGS = Settings()
LONDON = ZoneInfo("Europe/London")
ENGLAND = {"country": "GB", "region": "GB-ENG"}
# Public holidays of England: https://www.gov.uk/bank-holidays, from memory.
HOLIDAYS_2026 = {date(2026, 1, 1), date(2026, 4, 3), date(2026, 4, 6), date(2026, 5, 4),
                 date(2026, 5, 25), date(2026, 8, 31)}  # fmt: skip


def context(schedule=None, **site):
    empty = Context.empty()
    rows = [{"site": name, "time_zone": "Europe/London", **site} for name in ("S1", "S2")]
    known = conform(pl.DataFrame(rows), SITE)
    told = conform(pl.DataFrame(), SCHEDULE)
    if schedule:
        told = parse(Role.SCHEDULE, table(schedule), sites=known).frame
    return Context(known, empty.zones, empty.weather, empty.visits, empty.outcomes, schedule=told)


def at(day, hour, what):
    """A line at an hour of the wall clock; hours above 24 lie on the next day."""
    wall = datetime(day.year, day.month, day.day) + timedelta(hours=hour)  # noqa: DTZ001 - wall
    utc = wall.replace(tzinfo=LONDON).astimezone(ZoneInfo("UTC"))
    return f"{utc:%Y-%m-%d %H:%M:%S} {what}"


def life(first, days, *, hours=None, unclosed=(), closes=None, closed=HOLIDAYS_2026, more=(),
         who="", open_on=range(5)):  # fmt: skip
    """Weeks of opening at nine and closing at six, a minute or so to either side."""
    opens, shuts = hours or (9.0, 18.0)
    lines, left_open = [], False
    for number in range(days):
        day = first + timedelta(days=number)
        if day.weekday() not in open_on or day in closed:
            continue
        if not left_open:
            lines.append(at(day, opens + (number * 7 % 10) / 60, f"disarm person=2{who}"))
        left_open = day in unclosed
        if left_open:
            continue
        end = (closes or {}).get(day, shuts) + (number * 3 % 12) / 60
        lines.append(at(day, end, f"arm person=1{who}"))
    return [*lines, *more]


def laid(lines, known, *, now=None, witness="panel"):
    ordered = sorted(lines, key=lambda line: line[:19])
    frame = log("\n".join(ordered)).with_columns(
        witness=pl.lit(witness, pl.String).cast(log("").schema["witness"])
    )
    return lay(frame.sort("site", "placed"), known, SETTINGS, now=now)


def told(lines, known=None, **how):
    known = known or context(**ENGLAND)
    ground = laid(lines, known, **how)
    found = habits.find(ground, known, SETTINGS).to_dicts()
    cases = habits.habits(ground, known, SETTINGS).cases
    return [{**row, "figures": json.loads(row["figures"])} for row in found], cases


MONDAY = date(2026, 1, 5)


def day(text):
    return date.fromisoformat(text)


def test_without_closings_in_the_log_nothing_is_said():
    lines = [line for line in life(MONDAY, 90) if "disarm" in line]
    assert told(lines)[0] == []
    assert told([])[0] == []


def test_one_late_evening_is_a_record_and_four_are_a_finding_with_their_rate():
    late = {day("2026-02-10"): 21.5}
    found, cases = told(life(MONDAY, 120, closes=late))
    assert found == []
    (one,) = cases.to_dicts()
    assert (one["what"], one["person"], one["who"]) == ("late-closing", "1", "user 1")
    assert one["hours"] == pytest.approx(3.5, abs=0.2)
    late |= {day("2026-02-12"): 20.0, day("2026-02-20"): 20.5, day("2026-03-03"): 22.0}
    (finding,), cases = told(life(MONDAY, 120, closes=late))
    assert (finding["pattern"], finding["events"]) == ("late-closing", 4)
    closings = sum(" arm " in line for line in life(MONDAY, 120))
    assert finding["figures"]["of"] == closings
    assert finding["rate"] == pytest.approx(4 / closings)
    # Clopper and Pearson (1934), as SciPy computes them.
    exact = binomtest(4, closings).proportion_ci(method="exact")
    assert finding["figures"]["share_low"] == pytest.approx(exact.low)
    assert finding["figures"]["share_high"] == pytest.approx(exact.high)


def test_a_night_unarmed_is_told_in_hours():
    (finding,), cases = told(life(MONDAY, 100, unclosed={day("2026-02-17")}))
    assert (finding["pattern"], finding["subject_kind"]) == ("missed-closing", "site")
    # From a little after six to nine the next morning; closed again by day, as people do.
    assert finding["figures"]["total_h"] == pytest.approx(14.8, abs=0.3)
    assert not finding["standing"]
    assert cases["who"].to_list() == [None]


@pytest.mark.parametrize(
    ("eve", "hours"),
    [
        # The clocks of Europe go back at 01:00 UTC on the last Sunday of October (2000/84/EC).
        ("2026-10-24", 15.8),
        ("2026-10-17", 14.8),
        ("2026-03-28", 13.8),
    ],
)
def test_the_night_of_25_hours_and_that_of_23_have_their_own_length(eve, hours):
    first = day(eve) - timedelta(days=63)
    lines = life(first, 100, unclosed={day(eve)}, open_on=range(7), closed=set())
    (finding,), _ = told(lines)
    assert finding["figures"]["total_h"] == pytest.approx(hours, abs=0.3)


def test_before_a_closed_day_the_whole_of_it_is_unprotected():
    (finding,), _ = told(life(MONDAY, 100, unclosed={day("2026-02-20")}))
    # Friday six to Monday nine.
    assert finding["figures"]["total_h"] == pytest.approx(62.8, abs=0.4)


def test_before_good_friday_the_region_decides_what_is_known():
    # 3 April 2026 is Good Friday, 6 April Easter Monday (England).
    first, closed = day("2025-06-02"), HOLIDAYS_2026 | {
        date(2025, 8, 25), date(2025, 12, 25), date(2025, 12, 26)
    }  # fmt: skip
    lines = life(first, 350, unclosed={day("2026-04-02")}, closed=closed)
    (with_region,), _ = told(lines)
    # Thursday six to Tuesday nine: 111 hours, all of them armed on other public holidays.
    assert with_region["figures"]["total_h"] == pytest.approx(110.8, abs=0.5)
    (without,), _ = told(lines, context())
    assert without["figures"]["total_h"] == pytest.approx(110.8 - 2 * 9, abs=1)
    assert "public holidays" in [line["what"] for line in without["evidence"]]
    assert "public holidays" not in [line["what"] for line in with_region["evidence"]]


def test_a_year_with_holidays_clock_changes_a_shut_summer_and_new_hours_shows_nothing():
    shut = {day("2026-07-20") + timedelta(days=n) for n in range(21)}
    before = life(day("2025-11-03"), 150, closed=HOLIDAYS_2026 | {date(2025, 12, 25)})
    after = life(day("2026-04-07"), 200, hours=(9.0, 20.0), closed=HOLIDAYS_2026 | shut)
    found, cases = told([*before, *after])
    assert found == []
    assert cases.filter("counted").is_empty()
    assert told([*before, *after], context())[0] == []


def test_a_season_of_long_days_and_one_long_evening_a_month_are_no_lateness():
    season = {day("2026-03-02") + timedelta(days=n): 20.0 for n in range(12)}
    assert told(life(MONDAY, 150, closes=season))[0] == []
    monthly = {day(f"2026-0{month}-0{first}"): 21.0 for month, first in
               ((2, 5), (3, 5), (4, 2), (5, 7), (6, 4))}  # fmt: skip
    found, cases = told(life(MONDAY, 200, closes=monthly))
    assert found == []
    assert cases["why_not"].unique().to_list() == ["the same week of each month: a rhythm"]


def test_late_days_at_the_end_of_the_log_may_be_new_hours():
    late = {day("2026-04-15"): 20.5, day("2026-04-16"): 20.5, day("2026-04-17"): 20.5}
    found, cases = told(life(MONDAY, 103, closes=late))
    assert found == []
    assert cases.height == 3


def test_a_place_that_closes_after_midnight_has_its_days():
    bar = {"hours": (17.0, 25.0), "open_on": range(6), "closed": set()}
    late = {day("2026-02-10"): 28.0, day("2026-02-18"): 28.5, day("2026-02-26"): 28.2,
            day("2026-03-06"): 28.1}  # fmt: skip
    known = context()
    lines = life(MONDAY, 120, closes=late, **bar)
    (finding,), cases = told(lines, known)
    assert finding["pattern"] == "late-closing"
    # The night on which the clock skips the hour of closing (29 March) makes nobody late.
    assert set(cases["date"]) <= {one + timedelta(days=n) for one in late for n in (0, 1)}
    learned = habits.habits(laid(lines, known), known, SETTINGS)
    bands = habits.bands(learned, SETTINGS)
    closing = bands.filter(pl.col("what") == "closing")
    assert closing["weekday"].to_list() == [1, 2, 3, 4, 5, 6]
    assert closing["middle_h"].is_between(25, 25.3).all()


def test_a_point_that_keeps_it_from_arming_is_the_systems_refusal():
    eve = day("2026-02-17")
    tries = [at(eve, 18.05, "arm-failed zone=5 person=1"),
             at(eve, 18.1, "arm-failed zone=5 person=1")]  # fmt: skip
    (finding,), cases = told(life(MONDAY, 100, unclosed={eve}, more=tries))
    assert (finding["pattern"], finding["subject_kind"]) == ("arm-refused", "zone")
    assert (finding["subject"], finding["figures"]["tries"]) == ("5", 2)
    assert cases["refused_zone"].to_list() == ["5"]
    # Shut and armed a quarter of an hour later: daily life, not even late.
    tries = [at(eve, 17.8, "arm-failed zone=5 person=1")]
    assert told(life(MONDAY, 100, more=tries))[0] == []


def test_a_try_that_failed_hours_before_the_usual_closing_is_why_the_night_was_unarmed():
    """The place closes at six on most days, at half past eight on some: tried at half past five."""
    long = {MONDAY + timedelta(days=n): 20.5 for n in range(100) if n % 7 in (0, 1)}
    eve = day("2026-02-17")
    more = [at(eve, 16, "arm-failed zone=5 person=1")]
    (finding,), _ = told(life(MONDAY, 100, closes=long, unclosed={eve}, more=more))
    assert (finding["pattern"], finding["subject"]) == ("arm-refused", "5")
    # What failed on the day before, and was armed after all, says nothing of this night.
    more = [at(eve - timedelta(days=1), 16, "arm-failed zone=5 person=1")]
    (finding,), _ = told(life(MONDAY, 100, closes=long, unclosed={eve}, more=more))
    assert finding["pattern"] == "missed-closing"


def test_of_many_nights_unarmed_the_first_tells_why():
    eve = day("2026-02-17")
    lines = [one for one in life(MONDAY, 100, unclosed={eve}) if one < "2026-02-18"]
    later = [
        at(day("2026-02-24"), 18, "arm-failed zone=5 person=1"),
        at(day("2026-02-27"), 9, "arm person=1"),
        at(day("2026-02-27"), 9.5, "disarm person=1"),
    ]
    after = [one for one in life(MONDAY, 100) if one > "2026-02-28"]
    (finding,), _ = told([*lines, *later, *after])
    assert finding["pattern"] == "missed-closing"


def test_a_reset_keeps_the_area_that_alarmed_from_being_armed_and_no_other():
    first = day("2026-02-17")
    nights = {first + timedelta(days=n) for n in (1, 2)}
    more = [
        at(first, 22, "intrusion-alarm zone=7 area=1"),
        at(first, 22.5, "disarm person=1 area=1"),
        at(day("2026-02-20"), 11, "reset"),
    ]
    one = life(MONDAY, 100, unclosed=nights, who=" area=1")
    one = [line for line in one if not line.startswith("2026-02-18") or "disarm" not in line]
    store = life(MONDAY, 100, hours=(10.0, 16.0), who=" area=2")
    found, _ = told([*one, *more, *store])
    assert [(row["pattern"], row["subject"]) for row in found] == [("arm-refused", "7")]


def test_nights_on_which_a_reset_is_due_are_nobodys_neglect():
    first = day("2026-02-17")
    nights = {first + timedelta(days=n) for n in (1, 2)}
    more = [
        at(first, 22, "intrusion-alarm zone=7"),
        at(first, 22.5, "disarm person=1"),
        at(day("2026-02-20"), 11, "reset"),
    ]
    lines = life(MONDAY, 100, unclosed=nights, more=more)
    lines = [line for line in lines if not line.startswith("2026-02-18") or "disarm" not in line]
    found, _ = told(lines)
    assert [row["pattern"] for row in found] == ["arm-refused"]
    assert (found[0]["subject"], found[0]["figures"]["resets"]) == ("7", 1)


def test_openings_at_odd_hours_must_repeat_and_nobody_been_called_out():
    nights = [day("2026-02-10"), day("2026-02-19"), day("2026-03-05")]
    more = [at(one, hour, what) for one in nights
            for hour, what in ((2.5, "disarm person=7"), (2.9, "arm person=7"))]  # fmt: skip
    (finding,), _ = told(life(MONDAY, 100, more=more))
    assert (finding["pattern"], finding["events"]) == ("odd-hours-opening", 3)
    assert finding["figures"]["who"] == "user 7: 3"
    assert told(life(MONDAY, 100, more=more[:4]))[0] == []
    alarms = [at(one, 2.1, "intrusion-alarm zone=3") for one in nights]
    assert told(life(MONDAY, 100, more=[*more, *alarms]))[0] == []


def test_a_closed_day_that_is_worked_on_is_a_record():
    sundays = [day("2026-02-08"), day("2026-02-22"), day("2026-03-08"), day("2026-03-15")]
    more = [at(one, hour, what) for one in sundays
            for hour, what in ((9.5, "disarm person=2"), (17.0, "arm person=2"))]  # fmt: skip
    found, cases = told(life(MONDAY, 120, more=more))
    assert found == []
    assert cases["what"].unique().to_list() == [habits.CLOSED_DAY]


def test_timers_and_system_numbers_are_no_people():
    late = {day("2026-02-10"): 21.5}
    lines = [line.replace("person=1", "person=0 mode=timed") if "21:" in line[11:19] else line
             for line in life(MONDAY, 100, closes=late)]  # fmt: skip
    _, cases = told(lines)
    assert cases["who"].to_list() == ["the timer"]
    assert cases["nobody"].to_list() == [True]


def test_no_name_stands_in_any_evidence():
    nights = [day("2026-02-10"), day("2026-02-19"), day("2026-03-05")]
    acts = ((2.5, "disarm person=Miriam"), (2.9, "arm person=Miriam"))
    more = [at(one, hour, what) for one in nights for hour, what in acts]
    (finding,), _ = told(life(MONDAY, 100, more=more))
    assert "Miriam" not in json.dumps(finding, default=str)


def test_several_areas_by_one_act_are_one_arming_and_areas_apart_stand_apart():
    late = {day("2026-02-10"): 21.5, day("2026-02-12"): 20.5, day("2026-03-03"): 21.0}
    late[day("2026-03-06")] = 21.0
    both = [line for area in "12" for line in life(MONDAY, 100, closes=late, who=f" area={area}")]
    (finding,), _ = told(both)
    assert (finding["subject_kind"], finding["events"]) == ("site", 4)
    one = life(MONDAY, 100, who=" area=1", unclosed={day("2026-02-17")})
    two = life(MONDAY, 100, who=" area=2", hours=(10.0, 16.0))
    (finding,), _ = told([*one, *two])
    assert (finding["subject_kind"], finding["subject"]) == ("area", "1")


def test_armed_in_part_is_armed():
    lines = [line.replace("arm person=1", "arm person=1 mode=part") if n % 3 else line
             for n, line in enumerate(life(MONDAY, 100))]  # fmt: skip
    assert told(lines)[1].is_empty()


def test_a_closing_lost_on_the_way_to_the_centre_is_no_night_unarmed():
    lines = life(MONDAY, 100)
    lost = [line for line in lines if not (line.startswith("2026-02-17") and " arm " in line)]
    assert told(lost, witness="receiver")[1].is_empty()
    # The panel's own log loses no row: a code was keyed at a place that stood open.
    (finding,), _ = told(lost)
    assert finding["pattern"] == "missed-closing"


def test_a_place_not_armed_any_more_stands():
    first = day("2026-04-01")
    left = {first + timedelta(days=n) for n in range(10)}
    lines = life(MONDAY, 95, unclosed=left)
    reports = [at(first + timedelta(days=n), 12, "test-report") for n in range(9)]
    now = datetime(2026, 4, 10, 12, tzinfo=LONDON)
    (finding,), _ = told([*lines, *reports], now=now)
    assert (finding["pattern"], finding["standing"]) == ("missed-closing", True)


def test_the_schedule_stands_above_what_was_learned():
    late = {day("2026-02-10"): 21.5, day("2026-02-12"): 20.5, day("2026-03-03"): 21.0}
    wide = context("site,weekday,opens,closes\nS1,Mon-Fri,9:00,22:00", **ENGLAND)
    assert told(life(MONDAY, 100, closes=late), wide)[0] == []
    tight = context("site,weekday,opens,closes\nS1,Mon-Fri,9:00,16:00", **ENGLAND)
    found, cases = told(life(MONDAY, 60), tight)
    assert [row["pattern"] for row in found] == ["late-closing"]
    assert cases["by_schedule"].all()
    bands = habits.bands(habits.habits(laid(life(MONDAY, 60), tight), tight, SETTINGS), SETTINGS)
    assert set(bands["basis"]) == {"schedule"}
    assert bands.filter(pl.col("what") == "closing")["middle_h"].unique().to_list() == [16.0]


def test_two_shifts_a_day_have_two_bands():
    twice = [*life(MONDAY, 100, hours=(9.0, 12.0)), *life(MONDAY, 100, hours=(14.0, 18.0))]
    known = context(**ENGLAND)
    learned = habits.habits(laid(twice, known), known, SETTINGS)
    assert learned.cases.is_empty()
    bands = habits.bands(learned, SETTINGS).filter(pl.col("weekday") == 1)
    assert bands.filter(pl.col("what") == "opening")["middle_h"].round(0).to_list() == [9, 14]
    assert bands.filter(pl.col("what") == "closing")["middle_h"].round(0).to_list() == [12, 18]


def test_a_site_is_told_the_same_alone_as_among_others():
    one = life(MONDAY, 100, unclosed={day("2026-02-17")})
    two = life(MONDAY, 90, hours=(7.0, 22.0), who=" site=S2")
    known = context(**ENGLAND)
    alone = habits.find(laid(one, known), known, SETTINGS)
    among = habits.find(laid([*one, *two], known), known, SETTINGS)
    assert among.filter(pl.col("site") == "S1").equals(alone)
