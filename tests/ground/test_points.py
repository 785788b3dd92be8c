"""The points of a site, and which of them are life-safety points."""

import polars as pl
import pytest

from eventlab.schema import LIFE_SAFETY, Kind
from tests.ground.laid import laid, nights
from tests.logbook import log

EVENING = "{d} 17:00:00 arm\n{n} 07:00:00 disarm"


def point(ground, zone):
    return ground.points.filter(zone=zone).row(0, named=True)


def test_listed_and_seen_points_are_joined():
    """Trait, zone list does not match: points nobody listed, points never seen."""
    ground = laid(
        nights(2, EVENING + "\n{d} 22:00:00 intrusion-alarm zone=7"),
        zones=[{"zone": "8", "name": "Back door", "use": "entry"}],
    )
    told = ground.points.select("zone", "listed", "seen", "entry_route").rows()
    assert told == [("7", False, True, False), ("8", True, False, True)]


def at_each(logs, zones=()):
    """Lay the logs of several sites at once; give whether point 9 is for life safety at each."""
    events = pl.concat([log(text, site=site) for site, text in logs.items()])
    ground = laid(events, zones=[{"site": site, "zone": "9", **zone} for site, zone in zones])
    told = ground.points.filter(zone="9").select("site", "life_safety")
    return ground, dict(told.iter_rows())


def test_a_point_that_ever_raised_a_life_safety_kind_is_one():
    logs = {
        str(kind): f"2024-03-01 10:00:00 {Kind(kind)} zone=9\n2024-05-01 10:00:00 bypass zone=9"
        for kind in LIFE_SAFETY
    }
    ground, life = at_each(logs)
    assert life == dict.fromkeys(logs, True)
    assert ground.occurrences["life_safety"].to_list() == [True, True] * len(logs)


@pytest.mark.parametrize("use", ["fire", "hold-up", "medical"])
def test_a_point_listed_as_life_safety_is_one(use):
    ground = laid("2024-03-01 10:00:00 intrusion-alarm zone=9", zones=[{"zone": "9", "use": use}])
    assert point(ground, "9")["life_safety"]
    assert ground.occurrences["trip"].to_list() == [False]


LIFE_CODES = ["1373", "3375", "1376", "1385", "1571", "1200", "FT", "HT", "PB"]
ORDINARY_CODES = ["1380", "1130", "3131", "1137", "1570", "BT", "TA", "BB", "602"]


def test_troubles_and_bypasses_of_life_safety_points_mark_them_and_ordinary_codes_do_not():
    """DC-05 2xx, 373, 375, 376, 385, 571 and DC-03 F., H., P. (ANSI/SIA DC-05 and DC-03)."""
    for codes, life in ((LIFE_CODES, True), (ORDINARY_CODES, False)):
        logs = {code: f"2024-03-01 10:00:00 sensor-fault zone=9 code={code}" for code in codes}
        assert at_each(logs)[1] == dict.fromkeys(codes, life)


@pytest.mark.parametrize(
    "told",
    ["Smoke detector fault", "Panic button bypassed", "Heat detector low battery"],
)
def test_troubles_worded_as_those_of_a_life_safety_point_mark_it(told):
    events = log("2024-03-01 10:00:00 sensor-fault zone=9").with_columns(text=pl.lit(told))
    assert point(laid(events), "9")["life_safety"]


def test_names_and_detectors_tell_it_too():
    listed = {
        "S1": ({"name": "Kitchen smoke"}, True),
        "S2": ({"name": "Fire exit"}, False),
        "S3": ({"name": "Panic room", "use": "interior"}, False),
        "S4": ({"detector": "heat detector"}, True),
        "S5": ({"detector": "passive infrared", "use": "interior"}, False),
        "S6": ({"detector": "smoke detector", "use": "24-hour"}, True),
    }
    zones = [(site, zone) for site, (zone, _) in listed.items()]
    _, life = at_each(dict.fromkeys(listed, "2024-03-01 10:00:00 bypass zone=9"), zones)
    assert life == {site: wanted for site, (_, wanted) in listed.items()}


@pytest.mark.parametrize(("use", "life"), [(None, True), ("perimeter", False)])
def test_an_alarm_of_no_named_type_may_be_one_until_it_is_listed(use, life):
    """DC-05 140 and DC-03 UA name no type."""
    for code in ("1140", "UA"):
        text = f"2024-03-01 10:00:00 intrusion-alarm zone=9 code={code}"
        assert point(laid(text, zones=[{"zone": "9", "use": use}]), "9")["life_safety"] is life


def test_a_24_hour_point_of_unknown_use_counts_as_life_safety():
    """Unknown 24-hour points count as life safety until known (DC-05 133, common practice)."""
    ground = laid("2024-03-01 10:00:00 intrusion-alarm zone=9 code=1133")
    assert point(ground, "9")["all_hours"]
    assert point(ground, "9")["life_safety"]


@pytest.mark.parametrize(("detector", "life"), [(None, True), ("shock", False)])
def test_a_listed_24_hour_point_is_known_by_its_detector(detector, life):
    ground = laid(
        "2024-03-01 10:00:00 intrusion-alarm zone=9",
        zones=[{"zone": "9", "use": "24-hour", "detector": detector}],
    )
    assert point(ground, "9")["all_hours"]
    assert point(ground, "9")["life_safety"] is life


def test_an_unlisted_point_that_alarms_by_day_while_others_do_not():
    """Trait, 24-hour points: no contradiction, and nobody told what this one is for."""
    night = EVENING + "\n{d} 22:00:00 intrusion-alarm zone=1\n{d} 22:02:00 intrusion-alarm zone=2"
    ground = laid(nights(9, night + "\n{n} 12:00:00 intrusion-alarm zone=9"))
    assert point(ground, "9")["all_hours"]
    assert point(ground, "9")["life_safety"]
    assert not point(ground, "1")["all_hours"]
    assert ground.sites["arming_reliable"].item()
    assert ground.exposure["basis"].to_list() == ["armed", "armed", "always"]


def test_water_and_cold_points_are_24_hour_points_of_known_use():
    ground = laid("2024-03-01 10:00:00 environment-alarm zone=9")
    assert point(ground, "9")["all_hours"]
    assert not point(ground, "9")["life_safety"]


def test_the_entry_route_is_listed_or_shows_itself():
    ground = laid(
        nights(2, EVENING + "\n{n} 06:59:00 entry-exit-alarm zone=1"),
        zones=[
            {"zone": "2", "use": "follower"},
            {"zone": "3", "use": "interior"},
            {"zone": "4", "use": "perimeter", "entry_route": True},
        ],
    )
    assert ground.points["entry_route"].to_list() == [True, True, False, True]


def test_a_number_listed_in_two_areas_apart_is_two_points():
    ground = laid(
        """
        2024-03-01 17:00:00 arm area=1
        2024-03-01 17:00:00 arm area=2
        2024-03-01 22:00:00 intrusion-alarm zone=1 area=2
        2024-03-02 07:00:00 disarm area=1
        2024-03-02 07:00:00 disarm area=2
        """,
        zones=[
            {"zone": "1", "area": ["1"], "name": "Shop door"},
            {"zone": "1", "area": ["2"], "name": "Flat door", "use": "hold-up"},
        ],
    )
    assert ground.points["name"].to_list() == ["Shop door", "Flat door"]
    assert ground.points["seen"].to_list() == [False, True]
    alarm = ground.occurrences.filter(kind="intrusion-alarm")
    assert alarm["within"].to_list() == ["2"]
    assert alarm["life_safety"].to_list() == [True]


def test_the_area_of_a_point_fills_what_the_row_does_not_say():
    ground = laid(
        "2024-03-01 22:00:00 intrusion-alarm zone=7", zones=[{"zone": "7", "area": ["2"]}]
    )
    assert ground.occurrences["area"].to_list() == ["2"]


def test_memory_at_disarm_makes_no_24_hour_point():
    """Trait, alarm memory: memory rows stand in unarmed time and say nothing about the point."""
    night = """{d} 17:00:00 arm
{n} 06:59:30 entry-exit-alarm zone=1
{n} 06:59:40 intrusion-alarm zone=2
{n} 07:00:00 disarm
{n} 07:00:01 entry-exit-alarm zone=1
{n} 07:00:01 intrusion-alarm zone=2"""
    ground = laid(nights(5, night))
    assert ground.points["all_hours"].to_list() == [False, False]
    assert ground.powers.filter(power="restores")["figure"].item().startswith("0 restores of 10")
