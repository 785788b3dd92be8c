"""Clocks that are wrong, and the times that right ones would have told.

The reference for a robust line is scipy's ``siegelslopes`` (Siegel 1982), another estimator than
the one used; the faults themselves are put in by the test.
"""

from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest
from scipy.stats import siegelslopes

from eventlab.ground.clocks import clocked
from eventlab.schema import Timing
from eventlab.settings import Settings
from tests.ground.clock_years import HOURS, Year, years
from tests.ground.laid import known, laid
from tests.logbook import log

BERLIN = "Europe/Berlin"


def run(many):
    """Correct the clocks of simulated years; ``err`` is placed minus true [s]."""
    events, sites = years(many)
    found = clocked(events.drop("true"), known(sites=sites), Settings())
    err = (pl.col("placed") - pl.col("true")).dt.total_milliseconds() / 1000
    told = found.events.with_columns(events["true"]).with_columns(err=err)
    return found, told.filter(pl.col("witness") == "panel")


def one(year):
    found, told = run({"S1": year})
    return found.stretches, told


def test_a_clock_that_is_right_is_left_alone():
    stretches, told = one(Year(centre=True))
    assert stretches["sign"].to_list() == ["agrees"]
    assert abs(stretches["offset_s"].item()) < 10
    assert told["err"].abs().max() < 1
    assert set(told["timing"]) == {"sure"}


@pytest.mark.parametrize("drift", [-20.0, -3.0, 1.0, 8.0])
def test_drift_against_another_estimator_and_against_the_truth(drift):
    events, sites = years({"S1": Year(centre=True, drift=drift)})
    found = clocked(events.drop("true"), known(sites=sites), Settings())
    line = found.stretches.row(0, named=True)
    panel = events.filter(pl.col("witness") == "panel").sort("true")
    days = (panel["placed"].to_physical() / 8.64e10).to_numpy()
    off = (panel["placed"] - panel["true"]).dt.total_milliseconds().to_numpy() / 1000
    slope = siegelslopes(off, days).slope
    assert line["sign"] == "drift"
    assert line["drift_s_day"] == pytest.approx(slope, abs=0.02)
    assert line["drift_s_day"] == pytest.approx(drift, abs=0.02)
    # Told is the clock against times of receipt, which come seconds later.
    last = panel["placed"].search_sorted(line["until"])
    assert line["offset_s"] == pytest.approx(off[min(last, off.size - 1)], abs=8)


def test_a_clock_that_drifts_and_is_set_is_cut_there():
    stretches, told = one(Year(centre=True, drift=-8, steps=((90, 700.0), (200, 900.0))))
    assert stretches["sign"].to_list() == ["drift"] * 3
    assert told["err"].abs().max() <= 30
    assert set(told["timing"]) == {"shifted"}


def test_a_clock_set_back_crosses_its_own_times_and_order_keeps_them_apart():
    stretches, told = one(Year(centre=True, steps=((50, 5400.0), (150, -5400.0))))
    assert stretches["sign"].to_list() == ["agrees", "off", "agrees"]
    assert stretches["offset_s"][1] == pytest.approx(5396, abs=5)
    sure = told.filter(pl.col("timing") != Timing.DOUBTFUL)
    assert sure["err"].abs().max() <= 10
    assert told.height - sure.height <= 6


def test_between_two_states_a_row_is_doubtful():
    year = Year(centre=True, steps=((100, 4000.0),), lost=0.3, alarms=300)
    _, told = one(year)
    sure = told.filter(pl.col("timing") != Timing.DOUBTFUL)
    assert sure["err"].abs().max() <= 10


def test_a_clock_of_minutes():
    stretches, told = one(Year(centre=True, drift=3, grain=60))
    assert stretches["sign"].to_list() == ["drift"]
    assert stretches["drift_s_day"].item() == pytest.approx(3, abs=0.05)
    assert told["err"].abs().max() <= 60


@pytest.mark.parametrize("zone", ["Europe/London", BERLIN, "Australia/Sydney", "America/New_York"])
def test_standard_time_all_year_by_openings_alone(zone):
    stretches, told = one(Year(zone=zone, rule="standard-time", hours=HOURS[1]))
    assert stretches["sign"].to_list() == ["rule"]
    assert told["err"].abs().max() < 1
    assert set(told["timing"]) == {"sure", "shifted"}


def test_utc_is_told_from_standard_time_by_a_second_witness():
    found, told = run({"S1": Year(zone=BERLIN, rule="utc", centre=True)})
    rule = found.rules.filter(witness="panel")
    assert rule["rule"].to_list() == ["utc"]
    assert told["err"].abs().max() < 1


def test_a_centre_in_another_zone_is_not_the_panel_s_fault():
    found, told = run({"S1": Year(centre=True, centre_rule="utc")})
    assert told["err"].abs().max() < 1
    assert set(told["timing"]) == {"sure"}
    assert found.stretches.filter(sign="rule")["witness"].to_list() == ["receiver"]


@pytest.mark.parametrize("said", ["zone", "utc", "standard-time"])
def test_what_a_person_says_of_a_clock_stands(said):
    events, sites = years({"S1": Year(rule="standard-time", zone=BERLIN)})
    context = known(sites=[{**sites[0], "clock": said}])
    found = clocked(events.drop("true"), context, Settings())
    assert found.rules["rule"].to_list() == [said]
    shift = {"zone": {3600, 7200}, "utc": {0}, "standard-time": {3600}}[said]
    told = (
        found.events["wall"].dt.replace_time_zone("UTC") - found.events["placed"]
    ).dt.total_seconds()
    assert set(told) == shift


def test_where_nothing_decides_the_zone_s_rule_stands_and_is_said():
    ground = laid(years({"S1": Year(days=40)})[0].drop("true"), sites=[{"time_zone": BERLIN}])
    power = ground.powers.filter(power="clock").row(0, named=True)
    assert power["value"] == "open"
    assert "time zone" in power["figure"]


def test_the_wall_time_is_never_changed_and_no_row_is_lost():
    events, sites = years({"S1": Year(centre=True, drift=5, rule="utc", zone=BERLIN), "S2": Year()})
    found = clocked(events.drop("true"), known(sites=sites), Settings()).events
    same = ["site", "source", "row", "wall", "kind", "text"]
    assert found.select(same).equals(events.select(same))


def test_what_is_found_of_a_site_does_not_depend_on_the_others():
    many = {"A": Year(centre=True, drift=5), "B": Year(rule="standard-time"), "C": Year()}
    together, _ = run(many)
    for site, year in many.items():
        alone, _ = run({site: year})
        assert together.stretches.filter(site=site).equals(alone.stretches)
        assert together.events.filter(site=site).equals(alone.events)


# -- clocks that lost the time ----------------------------------------------------------------

LOST = """
2024-03-01 22:00:00 mains-loss
2024-03-02 06:00:00 system-battery-low
2024-03-02 06:00:01 system-restart wall=2000-01-01T00:00:05
2024-03-02 06:00:02 intrusion-alarm zone=7 wall=2000-01-01T00:10:05
2024-03-02 06:00:03 disarm person=3 wall=2000-01-01T00:15:05
2024-03-02 06:00:04 clock-set wall=2000-01-01T00:20:00
2024-03-02 09:32:00 arm person=3
"""


def lost(text=LOST, **texts):
    """Make the rows with a wall time doubtful; ``texts`` are wordings by kind."""
    lines = [line for line in text.strip().splitlines() if line.strip()]
    walls = [dict(w.split("=") for w in x.split() if "=" in w).get("wall") for x in lines]
    bare = "\n".join(" ".join(w for w in x.split() if not w.startswith("wall=")) for x in lines)
    events = log(bare)
    far = pl.Series([w is not None for w in walls])
    return events.with_columns(
        wall=pl.Series([None if w is None else datetime.fromisoformat(w) for w in walls]).cast(
            pl.Datetime("us")
        ).fill_null(events["wall"]),
        at=pl.when(~far).then("at"),
        timing=pl.when(far).then(pl.lit("doubtful")).otherwise("timing").cast(events.schema["timing"]),
        text=pl.col("kind").cast(pl.String).replace_strict(texts, default=pl.col("text")),
    )  # fmt: skip


def cleared(events, **site):
    return clocked(events, known(sites=[{"time_zone": "Europe/London", **site}]), Settings())


def test_a_lost_clock_that_was_set_again_is_put_back_by_that_row():
    told = "Clock set from 01/01/2000 00:20:00 to 02/03/2024 09:31:00"
    found = cleared(lost(**{"clock-set": told}))
    back = found.events.filter(timing="shifted")
    assert back["at"].dt.strftime("%d %H:%M:%S").to_list() == [
        *("02 09:11:05", "02 09:21:05", "02 09:26:05", "02 09:31:00")
    ]
    stretch = found.stretches.row(0, named=True)
    assert (stretch["sign"], stretch["shifted"]) == ("reset", True)
    assert stretch["basis"] == "the row that set it"


def test_a_lost_clock_of_which_nothing_tells_stays_doubtful():
    found = cleared(lost())
    assert found.events.filter(timing="doubtful").height == 4
    assert found.stretches["shifted"].to_list() == [False]


def test_a_setting_that_cannot_be_is_not_believed():
    told = "Clock set from 01/01/2000 00:20:00 to 02/03/2031 09:31:00"
    assert cleared(lost(**{"clock-set": told})).events.filter(timing="doubtful").height == 4


def test_two_rows_of_a_setting_tell_the_old_time_and_the_new():
    pair = LOST.replace(
        "2024-03-02 09:32:00 arm", "2024-03-02 09:31:00 clock-set\n2024-03-02 09:32:00 arm"
    )
    back = cleared(lost(pair)).events.filter(timing="shifted")
    assert back["at"].dt.strftime("%H:%M:%S").to_list()[0] == "09:11:05"


def test_a_lost_clock_is_put_back_by_what_the_centre_dates():
    heard = """
    2024-03-02 07:00:20 system-restart witness=receiver
    2024-03-02 07:10:16 intrusion-alarm zone=7 witness=receiver
    2024-03-02 07:15:17 disarm person=3 witness=receiver
    """
    both = pl.concat([lost(), log(heard).with_columns(source=pl.lit("1" * 64))]).sort("placed")
    found = cleared(both)
    back = found.events.filter(timing="shifted")
    assert back.height == 4
    alarm = back.filter(kind="intrusion-alarm")["at"].item()
    assert abs(alarm - datetime(2024, 3, 2, 7, 10, 16, tzinfo=UTC)) < timedelta(seconds=20)
    # Two events are too few.
    two = both.filter(~((pl.col("witness") == "receiver") & (pl.col("kind") == "disarm")))
    assert cleared(two).events.filter(timing="shifted").is_empty()


# -- clocks that somebody set, with one witness -----------------------------------------------


def acts(first, days, hour=9):
    start = datetime.fromisoformat(first)
    return "\n".join(
        f"{start + timedelta(days=d):%Y-%m-%d} {hour:02}:00:00 disarm" for d in range(days)
    )


def test_a_clock_left_on_winter_time_for_a_week_is_put_right_from_the_change_on():
    """Common practice: the hour is changed by hand at the next visit."""
    text = (
        acts("2024-03-20", 20)
        + "\n2024-04-09 09:00:00 clock-set\n"
        + acts("2024-04-10", 5)
    )  # fmt: skip
    events = log(text).with_columns(
        text=pl.when(pl.col("kind") == "clock-set").then(
            pl.lit("Time changed 08:00:00 -> 09:00:00")
        )
    )
    found = cleared(events)
    moved = found.events.filter(timing="shifted")
    assert moved["at"].dt.date().min().isoformat() == "2024-03-31"
    assert moved["at"].dt.date().max().isoformat() == "2024-04-08"
    assert set(moved["at"].dt.hour()) == {10}
    assert found.stretches["sign"].to_list() == ["set"]


def test_a_clock_that_changes_by_itself_tells_nothing():
    text = acts("2024-03-25", 10).replace(
        "2024-03-31 09:00:00 disarm", "2024-03-31 02:00:00 clock-set\n2024-03-31 09:00:00 disarm"
    )
    events = log(text).with_columns(
        text=pl.when(pl.col("kind") == "clock-set").then(
            pl.lit("Time changed 01:00:00 -> 02:00:00")
        )
    )
    found = cleared(events)
    assert found.events.filter(timing="shifted").is_empty()
    assert found.stretches.is_empty()


def test_drift_between_two_settings_is_laid_out_evenly():
    text = (
        "2024-05-01 09:00:00 clock-set\n"
        + acts("2024-05-02", 99)
        + "\n2024-08-09 09:00:00 clock-set\n"
        + acts("2024-08-10", 5)
    )
    said = pl.when(pl.col("kind") == "clock-set").then(pl.lit("Clock adjusted by -500 s"))
    found = cleared(log(text).with_columns(text=said))
    wall = found.events["wall"].dt.replace_time_zone("UTC")
    off = (wall - found.events["at"]).dt.total_seconds().to_list()
    assert off[50] == pytest.approx(250, abs=6)
    assert off[99] == pytest.approx(495, abs=6)
    assert set(off[101:]) == {0}


def test_drift_from_before_the_log_is_told_and_not_corrected():
    text = acts("2024-05-02", 50) + "\n2024-06-21 09:00:00 clock-set\n"
    said = pl.when(pl.col("kind") == "clock-set").then(pl.lit("Clock adjusted by -500 s"))
    found = cleared(log(text).with_columns(text=said))
    assert found.events.filter(timing="shifted").is_empty()
    assert found.stretches.select("sign", "shifted", "plus_minus_s").row(0) == ("drift", False, 500)


def test_a_clock_that_was_put_back_by_no_one_says_how_much_is_told():
    text = acts("2024-05-02", 20) + "\n2024-05-21 08:20:00 clock-set\n2024-05-22 09:00:00 disarm"
    events = log(text)
    assert events["at"].is_sorted() is False
    found = cleared(events)
    stretch = found.stretches.row(0, named=True)
    assert (stretch["sign"], stretch["shifted"], stretch["offset_s"]) == ("set", False, 2400)
    assert set(found.events["timing"]) == {"sure"}


def test_a_clock_set_wrong_by_a_day_was_so_since_it_was_set():
    text = (
        acts("2024-05-02", 10)
        + "\n2024-05-12 08:00:00 system-restart\n"
        + acts("2024-05-12", 10)
        + "\n2024-05-22 08:00:00 clock-set\n"
        + acts("2024-05-22", 3)
    )
    said = pl.when(pl.col("kind") == "clock-set").then(pl.lit("Clock adjusted by -24 h"))
    found = cleared(log(text).with_columns(text=said))
    moved = found.events.filter(timing="shifted")
    assert moved.height == 11
    assert moved["at"].min() == datetime(2024, 5, 11, 8, tzinfo=UTC)


def test_no_draw_of_numbers_moves_a_clock_by_itself():
    """Of 60 years of right clocks with both witnesses none is shifted."""
    rng = np.random.default_rng(4)
    many = {
        f"S{n}": Year(centre=True, days=90, hours=HOURS[n % 5], late=float(rng.uniform(0, 0.2)),
                      lost=float(rng.uniform(0, 0.5)), grain=int(rng.choice([1, 60])))
        for n in range(60)
    }  # fmt: skip
    found, told = run(many)
    assert set(told["timing"]) == {"sure"}
    assert set(found.stretches["sign"]) <= {"agrees"}
