"""How long cells last, learned from a fleet, and what those in service have left."""

from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import polars as pl
import pytest
from scipy import stats as reference

from eventlab.analysis import battery_life
from eventlab.context import Context
from eventlab.schema import SITE, VISIT, ZONE, conform
from tests.analysis.standing import SETTINGS, ground, nights

QUIET = nights(200)


def known(*devices):
    """Context of ``zone, detector, installed`` of radio devices."""
    empty = Context.empty()
    zones = [
        {"site": "S1", "zone": zone, "detector": detector, "installed": installed, "link": "radio"}
        for zone, detector, installed in devices
    ]
    sites = conform(pl.DataFrame([{"site": "S1", "time_zone": "UTC"}]), SITE)
    return Context(sites, conform(pl.DataFrame(zones), ZONE), empty.weather, empty.visits,
                   empty.outcomes)  # fmt: skip


def fleet(shape, scale, many, *, seed=1, family="pir"):
    """Cells of a fleet: put in at any time of five years, watched over the last."""
    random = np.random.default_rng(seed)
    life = reference.weibull_min(shape, scale=scale).rvs(many, random_state=random)
    age = random.uniform(0, 1500, many)
    put_in = datetime(2020, 1, 1, tzinfo=UTC)
    rows = [
        (f"F{n}", str(n), None, family, put_in, entry, min(one, entry + 365), one <= entry + 365,
         True)
        for n, (one, entry) in enumerate(zip(life, age, strict=True))
        if one > entry
    ]  # fmt: skip
    return pl.DataFrame(rows, schema=battery_life.LIFE, orient="row")


def test_cells_are_dated_by_the_schedule_and_by_what_was_replaced():
    text = """
    2025-03-01 12:00:00 device-battery-low zone=1
    2025-03-04 12:00:00 device-battery-low end zone=1
    2025-06-02 12:00:00 device-battery-low zone=1
    2025-03-01 12:00:00 device-battery-low zone=3
    """
    around = known(
        ("1", "PIR", date(2023, 3, 1)), ("2", "contact", date(2024, 1, 6)), ("3", "PIR", None)
    )
    told = battery_life.lives(ground(QUIET, text, known=around), around, SETTINGS)
    rows = told.select("zone", "family", "leaving_days", "failed", "last").rows()
    first, second, third = rows
    assert first[:2] == ("1", "pir")
    assert first[2] == pytest.approx(731.5)
    assert first[3:] == (True, False)
    assert second[2] == pytest.approx(90)
    assert second[3:] == (True, True)
    assert third[0] == "2"
    assert third[3:] == (False, True)
    assert told["entry_days"][0] > 600  # it was old when the log began


def test_a_weak_cell_that_comes_and_goes_was_not_replaced():
    text = "\n".join(
        f"2025-03-{day:02d} 02:00:00 device-battery-low zone=1\n"
        f"2025-03-{day:02d} 09:00:00 device-battery-low end zone=1"
        for day in (1, 8, 20)
    )
    around = known(("1", "PIR", date(2023, 3, 1)))
    told = battery_life.lives(ground(QUIET, text, known=around), around, SETTINGS)
    assert told["failed"].to_list() == [True, False]
    assert told["since"][1].date() == date(2025, 3, 20)


def test_what_is_left_is_that_of_the_true_law():
    around = known(("1", "PIR", date(2023, 3, 1)), ("2", "PIR", date(2025, 6, 1)))
    laid = ground(QUIET, known=around)
    many = fleet(3.0, 1200.0, 3000)
    got = battery_life.remaining(laid, around, SETTINGS, many)
    law = reference.weibull_min(3.0, scale=1200.0)
    for row in got.to_dicts():
        age = row["age_days"]
        true = law.isf(law.sf(age) / 2) - age
        assert row["left_low"] <= true <= row["left_high"]
        assert row["left_days"] == pytest.approx(true, rel=0.1)
        assert row["early_days"] < row["left_days"] < row["late_days"]
        assert row["chance"] == pytest.approx(1 - law.sf(age + 90) / law.sf(age), abs=0.03)
        assert (row["learned_from"], row["health"]) == ("pir", "well")
    old, new = got["left_days"].to_list()
    assert old < new


def test_an_overdue_cell_is_not_well_and_an_undated_one_is_not_recorded():
    around = known(
        ("1", "PIR", date(2019, 3, 1)), ("2", "PIR", None), ("3", "contact", date(2024, 1, 1))
    )
    low = "2025-07-20 02:00:00 device-battery-low zone=3"
    laid = ground(QUIET, low, known=around)
    got = battery_life.remaining(laid, around, SETTINGS, fleet(3.0, 1200.0, 1000))
    words = dict(got.select("zone", "health").iter_rows())
    assert words == {"1": "not well", "2": "not recorded", "3": "not well"}
    assert got.filter(zone="3")["low"].to_list() == [True]


def test_a_small_fleet_says_nothing_and_another_family_lends_its_law():
    around = known(("1", "glass", date(2024, 3, 1)))
    laid = ground(QUIET, known=around)
    none = battery_life.remaining(laid, around, SETTINGS)
    assert none["health"].to_list() == ["not recorded"]
    assert none["left_days"].to_list() == [None]
    lent = battery_life.remaining(laid, around, SETTINGS, fleet(3.0, 1200.0, 500))
    assert lent["learned_from"].to_list() == ["any"]
    assert lent["left_days"][0] > 0


def test_no_radio_device_no_row():
    assert battery_life.remaining(ground(QUIET), Context.empty(), SETTINGS).is_empty()


def visited(around, *visits):
    """The same context with ``day, zones, work`` of visits."""
    rows = [
        {"site": "S1", "at": datetime.fromisoformat(f"{day}T10:00:00+00:00"), "zones": zones,
         "work": work}
        for day, zones, work in visits
    ]  # fmt: skip
    return replace(around, visits=conform(pl.DataFrame(rows, infer_schema_length=None), VISIT))


def test_a_cell_changed_before_it_was_low_did_not_fail():
    around = visited(
        known(("1", "PIR", date(2023, 3, 1)), ("2", "PIR", date(2023, 3, 1))),
        ("2025-04-01", ["1"], "battery changed, preventive"),
        ("2025-05-01", ["2"], "lens cleaned"),
    )
    told = battery_life.lives(ground(QUIET, known=around), around, SETTINGS)
    first, second, other = told.rows(named=True)
    assert (first["failed"], first["last"]) == (False, False)
    assert first["leaving_days"] == pytest.approx(762.4, abs=0.1)  # 2023-03-01 to 2025-04-01
    assert (second["failed"], second["last"], second["entry_days"]) == (False, True, 0)
    assert (other["zone"], other["last"]) == ("2", True)


def test_the_visit_that_ends_a_low_battery_is_told_by_its_end():
    low = """
    2025-03-01 12:00:00 device-battery-low zone=1
    2025-03-04 12:00:00 device-battery-low end zone=1
    """
    around = visited(
        known(("1", "PIR", date(2023, 3, 1))), ("2025-03-04", ["1"], "New batteries fitted")
    )
    told = battery_life.lives(ground(QUIET, low, known=around), around, SETTINGS)
    assert told["failed"].to_list() == [True, False]
    assert told["since"][1].date() == date(2025, 3, 4)


def test_a_visit_to_all_devices_changes_the_cells_of_all_radio_devices_only_where_it_says_so():
    devices = [("1", "PIR", date(2023, 3, 1)), ("2", "PIR", date(2023, 3, 1))]
    for work, cells in (("All cells replaced", 4), ("Cell replaced", 2)):
        around = visited(known(*devices), ("2025-04-01", None, work))
        assert battery_life.lives(ground(QUIET, known=around), around, SETTINGS).height == cells


def test_families_are_those_of_lifelines():
    """Half, three and one of four by a Weibull law, and half by Kaplan and Meier, late entry too.

    As lifelines 0.30.3 (WeibullFitter, KaplanMeierFitter, ``entry=``) has them for these cells; it
    pins older libraries than ours, so its figures stand here.
    """
    many = pl.concat([fleet(3.0, 1200.0, 800), fleet(2.0, 700.0, 600, seed=2, family="contact")])
    told = battery_life.families(many, SETTINGS)
    assert told["family"].to_list() == ["contact", "pir", "any"]
    theirs = {
        "contact": (240, 140, 535.3388, 330.9146, 782.1631, 499.80696),
        "pir": (564, 197, 1015.0653, 742.7864, 1298.3741, 991.6181),
    }
    for row in told.head(2).to_dicts():
        cells, failed, *ages = theirs[row["family"]]
        assert (row["cells"], row["failed"]) == (cells, failed)
        ours = [row[name] for name in ("life_days", "life_low", "life_high", "seen_days")]
        assert ours == pytest.approx(ages, rel=2e-3)
        assert row["middle_low"] < row["life_days"] < row["middle_high"]


def test_few_failures_say_nothing_of_how_long_cells_last():
    few = fleet(3.0, 1200.0, 3000).filter("failed").head(4)
    (row, _) = battery_life.families(few, SETTINGS).to_dicts()
    assert (row["failed"], row["life_days"]) == (4, None)
