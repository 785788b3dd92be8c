"""Weather files: units, clocks, stations, and years that never were."""

from datetime import UTC, datetime, timedelta
from importlib.resources import files

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eventlab.context import (
    Context,
    at_sites,
    great_circle_km,
    is_climate,
    nearest_stations,
    parse,
    parse_climate,
    recognise,
)
from eventlab.errors import WrongContext
from eventlab.schema import SITE, WEATHER, Role, conform
from tests.context.table import table

LONDON = {"site": ["S1"], "time_zone": ["Europe/London"]}


def known(**columns):
    return conform(pl.DataFrame(columns or LONDON), SITE)


def read(text, answers=None, **sites):
    return parse(Role.WEATHER, table(text), sites=known(**sites), answers=answers)


# NIST SP 811 (2008) B.8: 1 mph = 0.44704 m/s, 1 knot = 0.514444 m/s, 1 km/h = 0.277778 m/s,
# 1 in = 25.4 mm, t/°C = (t/°F - 32)/1.8, t/°C = T/K - 273.15.
@pytest.mark.parametrize(
    ("heading", "cell", "column", "value"),
    [
        ("Temperature (°F)", "50", "temperature_c", 10.0),
        ("Temp F", "-40", "temperature_c", -40.0),
        ("Air temperature [degF]", "86", "temperature_c", 30.0),
        ("Temperature / K", "293.15", "temperature_c", 20.0),
        ("dry bulb degC", "3.5", "temperature_c", 3.5),
        ("Wind (mph)", "10", "wind_m_s", 4.4704),
        ("Wind speed, knots", "10", "wind_m_s", 5.14444),
        ("wind_kts", "20", "wind_m_s", 10.28889),
        ("Mean wind km/h", "36", "wind_m_s", 10.0),
        ("Wind m s-1", "7", "wind_m_s", 7.0),
        ("Gust (km/h)", "72", "gust_m_s", 20.0),
        ("Wind gust mph", "50", "gust_m_s", 22.352),
        ("Rain (in)", "0.5", "rain_mm", 12.7),
        ("Precipitation, inches", "1", "rain_mm", 25.4),
        ("rainfall_mm", "0.2", "rain_mm", 0.2),
        ("Rain cm", "1.5", "rain_mm", 15.0),
        ("cloud_oktas", "7", "cloud_oktas", 7.0),
        ("Cloud cover (%)", "75", "cloud_oktas", 6.0),
        ("Sky cover, tenths", "5", "cloud_oktas", 4.0),
        ("ghi_w_m2", "350", "ghi_w_m2", 350.0),
        ("Solar radiation (W/m²)", "350", "ghi_w_m2", 350.0),
        ("Global radiation kJ/m2", "360", "ghi_w_m2", 100.0),
        ("Global radiation (J/cm²)", "36", "ghi_w_m2", 100.0),
    ],
)
def test_units_in_headings(heading, cell, column, value):
    got = read(f'site,time_utc,"{heading}"\nS1,2025-01-01T00:00Z,{cell}')
    assert not got.questions
    assert got.frame[column][0] == pytest.approx(value, rel=1e-5)


def test_a_row_of_units_is_no_row_of_weather():
    got = read(
        """
        station,time,temperature,wind speed,gust,rain
        ,UTC,°F,mph,kn,in
        Head,2025-07-01 12:00,50,10,10,1
        """
    )
    assert not got.questions
    assert got.problems.is_empty()
    assert got.units_row == 2
    row = got.frame.row(0, named=True)
    assert row["at"] == datetime(2025, 7, 1, 12, tzinfo=UTC)
    assert row["temperature_c"] == pytest.approx(10.0)
    assert row["wind_m_s"] == pytest.approx(4.4704)
    assert row["gust_m_s"] == pytest.approx(5.14444, rel=1e-5)
    assert row["rain_mm"] == pytest.approx(25.4)


def test_units_in_the_cells_each_its_own():
    got = read(
        """
        site,time_utc,temperature,wind
        S1,2025-01-01T00:00Z,50 °F,36 km/h
        S1,2025-01-01T01:00Z,10°C,10 mph
        S1,2025-01-01T02:00Z,10 apples,7m/s
        """
    )
    assert not got.questions
    assert got.frame["temperature_c"].to_list() == [pytest.approx(10.0), pytest.approx(10.0), None]
    assert got.frame["wind_m_s"].to_list() == [
        pytest.approx(10.0),
        pytest.approx(4.4704),
        pytest.approx(7.0),
    ]
    assert "10 apples" in got.problems["problem"][0]


def test_a_unit_that_nothing_tells_is_asked_about_and_then_used():
    text = """
        site,time_utc,temperature,wind,gust,rain
        S1,2025-01-01T00:00Z,50,10,20,1
        """
    got = read(text)
    assert {q.key: [c.value for c in q.choices] for q in got.questions} == {
        "temperature": ["c", "f"],
        "wind": ["m/s", "km/h", "mph", "knots"],
        "rain": ["mm", "in"],
    }
    said = read(text, {"temperature": "f", "wind": "mph", "rain": "in"})
    assert not said.questions
    assert said.frame.row(0)[3:7] == pytest.approx((10.0, 4.4704, 8.9408, 25.4))


def test_eighths_tenths_and_percent_of_the_sky_are_told_apart_or_asked():
    few = "site,time_utc,cloud\nS1,2025-01-01T00:00Z,3\nS1,2025-01-01T01:00Z,{}"
    assert [c.value for c in read(few.format(8)).questions[0].choices] == ["okta", "%", "tenth"]
    percent = read(few.format(60))
    assert not percent.questions
    assert percent.frame["cloud_oktas"].to_list() == pytest.approx([0.24, 4.8])
    own = read(few.format("50 %"), {"cloud": "tenth"})
    assert own.frame["cloud_oktas"].to_list() == pytest.approx([2.4, 4.0])


def test_a_sky_that_could_not_be_seen_is_left_empty():
    # WMO-No. 306, code table 2700: 9 stands for a sky that is obscured (from memory).
    got = read("site,time_utc,cloud_oktas\nS1,2025-01-01T00:00Z,9\nS1,2025-01-01T01:00Z,8")
    assert got.frame["cloud_oktas"].to_list() == [None, 8.0]
    assert "'9' is not a number from 0 to 8" in got.problems["problem"][0]


def test_values_that_were_never_measured_decide():
    """Records (WMO, from memory): 56.7 °C, a gust of 113.3 m/s, 1825 mm of rain in a day."""
    got = read(
        """
        site,time_utc,temperature,gust,rain
        S1,2025-07-01T00:00Z,91,120,0
        S1,2025-07-01T01:00Z,50,30,80
        """
    )
    (asked,) = got.questions
    assert asked.key == "wind"
    assert "m/s" not in [c.value for c in asked.choices]
    assert got.frame["temperature_c"].to_list() == pytest.approx([32.7778, 10.0], rel=1e-4)
    assert got.frame["rain_mm"].to_list() == [0.0, 80.0]


@given(
    celsius=st.lists(st.one_of(st.none(), st.floats(-60, 50)), min_size=1, max_size=20),
    unit=st.sampled_from(["c", "f", "k"]),
)
def test_there_and_back(celsius, unit):
    there = {"c": lambda t: t, "f": lambda t: t * 1.8 + 32, "k": lambda t: t + 273.15}[unit]
    rows = "\n".join(
        f"S1,2025-01-01T{n:02}:00Z,{'' if t is None else format(there(t), '.6f')}"
        for n, t in enumerate(celsius)
    )
    got = read(f"site,time_utc,temp {unit}\n{rows}")
    assert got.frame["temperature_c"].to_list() == [
        None if t is None else pytest.approx(t, abs=1e-5) for t in celsius
    ]


def test_gaps_stay_gaps():
    got = read(
        """
        site,time_utc,rain_mm,wind_m_s
        S1,2025-01-01T00:00Z,-,3
        S1,2025-01-01T01:00Z,n/a,
        S1,2025-01-01T07:00Z,0,0
        """
    )
    assert got.frame["rain_mm"].to_list() == [None, None, 0.0]
    assert got.frame["wind_m_s"].to_list() == [3.0, None, 0.0]
    assert got.frame.height == 3  # no hour was made up between 01:00 and 07:00


def hours(first, count):
    start = datetime.fromisoformat(first)
    lines = [f"S1,{start + timedelta(hours=n):%Y-%m-%d %H:%M},{n}" for n in range(count)]
    return "\n".join(["site,time,temperature_c", *lines])


def test_a_local_clock_with_its_changes():
    """London, IANA tz: 30 March 2025 01:00 UTC forward, 26 October 2025 01:00 UTC back."""
    walls = ["00:00", "01:00", "01:00", "02:00"]
    got = read(
        "site,time,temperature_c\n"
        + "\n".join(f"S1,2025-10-26 {w},{n}" for n, w in enumerate(walls))
    )
    assert [t.strftime("%d %H") for t in got.frame["at"]] == ["25 23", "26 00", "26 01", "26 02"]


def test_a_clock_that_never_skips_is_not_the_clock_of_the_place():
    """In winter London's clock is UTC: hours that go on through the gap are UTC all year."""
    got = read(hours("2025-03-30 00:00", 5))
    assert not got.questions
    assert got.problems.is_empty()
    assert [t.hour for t in got.frame["at"]] == [0, 1, 2, 3, 4]
    assert "UTC all year" in got.notes[0]


def test_where_winter_time_is_not_utc_it_is_asked():
    """Berlin, IANA tz: 30 March 2025 02:00 to 03:00 does not exist; winter is UTC+1."""
    berlin = {"site": ["S1"], "time_zone": ["Europe/Berlin"]}
    text = hours("2025-03-30 00:00", 5)
    (asked,) = read(text, **berlin).questions
    assert asked.key == "weather-clock"
    assert "2025-03-30 02:00" in asked.evidence[0]
    for answer, first in {"utc": "30 00", "standard": "29 23"}.items():
        got = read(text, {"weather-clock": answer}, **berlin)
        assert got.frame["at"][0].strftime("%d %H") == first
        assert got.frame.height == 5
    kept = read(text, {"weather-clock": "site"}, **berlin)
    assert kept.frame.height == 4
    assert kept.problems["row"].to_list() == [4]


def test_great_circle():
    """Sphere: a quarter of a meridian is 90/360 of 2 pi R (R = 6371.0088 km, IUGG)."""
    frame = pl.DataFrame(
        {
            "a": [0.0, 0.0, 54.5],
            "b": [0.0, 0.0, -3.0],
            "c": [90.0, 0.0, 54.5],
            "d": [0.0, 180.0, -3.0],
        }
    )
    got = frame.select(great_circle_km(*(pl.col(n) for n in "abcd"))).to_series().to_list()
    assert got == pytest.approx([6371.0088 * np.pi / 2, 6371.0088 * np.pi, 0.0])


def test_great_circle_as_scikit_learn_has_it():
    from sklearn.metrics.pairwise import haversine_distances

    rng = np.random.default_rng(3)
    here, there = rng.uniform((-90, -180), (90, 180), (2, 40, 2))
    frame = pl.DataFrame(np.hstack([here, there]), schema=["a", "b", "c", "d"])
    got = frame.select(great_circle_km(*(pl.col(n) for n in "abcd"))).to_series().to_numpy()
    want = np.diag(haversine_distances(np.radians(here), np.radians(there))) * 6371.0088
    assert got == pytest.approx(want)


def placed(*rows):
    frame = pl.DataFrame(
        rows,
        schema=["site", "station", "latitude", "longitude", "temperature_c"],
        orient="row",
    )
    return conform(frame.with_columns(at=datetime(2025, 1, 1, tzinfo=UTC)), WEATHER)


def context(sites, weather):
    empty = Context.empty()
    return Context(conform(sites, SITE), empty.zones, weather, empty.visits, empty.outcomes)


def told(got):
    """Give the temperature that each site is told."""
    joined = got.sources.join(got.weather.drop("site"), on="source")
    return dict(joined.select("site", "temperature_c").rows())


def test_each_site_takes_the_nearest_station_and_none_that_is_too_far():
    sites = pl.DataFrame(
        {
            "site": ["A", "B", "C", "D"],
            "latitude": [54.0, 54.4, 58.0, None],
            "longitude": [-3.0, -3.0, -3.0, None],
        }
    )
    weather = placed((None, "south", 54.1, -3.0, 1.0), (None, "north", 54.5, -3.0, 2.0))
    got = at_sites(context(sites, weather), within_km=50)
    assert dict(got.nearest.select("site", "station").rows()) == {
        "A": "south",
        "B": "north",
        "C": None,
        "D": None,
    }
    assert got.nearest["distance_km"][0] == pytest.approx(11.12, abs=0.01)  # 0.1 deg of meridian
    assert told(got) == {"A": 1.0, "B": 2.0}


def test_own_weather_comes_first_and_rows_without_a_place_are_for_the_rest():
    sites = pl.DataFrame({"site": ["A", "B"], "latitude": [54.0, 54.0], "longitude": [-3.0, -3.0]})
    weather = placed(
        ("A", None, None, None, 1.0), (None, "near", 54.0, -3.0, 2.0), (None, None, None, None, 3.0)
    )
    got = at_sites(context(sites, weather), within_km=50)
    assert told(got) == {"A": 1.0, "B": 2.0}
    far = at_sites(context(sites.with_columns(latitude=pl.lit(10.0)), weather), within_km=50)
    assert told(far) == {"A": 1.0, "B": 3.0}


def test_nearest_without_any_station():
    sites = pl.DataFrame({"site": ["A"], "latitude": [54.0], "longitude": [-3.0]})
    got = nearest_stations(sites, placed().clear(), within_km=50)
    assert got.rows() == [("A", None, None)]


def epw(year=2013, missing=False):
    """A year of hours in the columns of EPW (EnergyPlus documentation, Auxiliary Programs)."""
    lines = ["LOCATION,Tarn Head,-,GBR,made up,999999,54.40,-3.00,1.0,120.0"]
    lines += [f"HEADING {n}" for n in range(7)]
    for day in range(1, 3):
        for hour in range(1, 25):
            row = [year, 1, day, hour, 0, "x"] + [0] * 29
            row[6] = 99.9 if missing and hour == 3 else 5.5
            row[21] = 999 if missing and hour == 3 else 4.0
            row[33] = 999 if missing and hour == 3 else 0.2
            row[22] = 99 if missing and hour == 3 else 5
            row[13] = 9999 if missing and hour == 3 else 120
            lines.append(",".join(str(cell) for cell in row))
    return "\n".join(lines).encode()


def test_epw_that_was_measured():
    data = epw(missing=True)
    assert is_climate(data)
    asked = parse_climate(data, name="a.epw")
    assert [q.key for q in asked.questions] == ["weather-year"]
    assert asked.frame.is_empty()
    got = parse_climate(data, name="a.epw", answers={"weather-year": "measured"})
    assert got.frame.height == 48
    # Hour 1 is the hour from 00:00 to 01:00 of standard time, here UTC+1.
    assert got.frame["at"][0] == datetime(2012, 12, 31, 23, tzinfo=UTC)
    assert got.frame.row(0, named=True) | {"at": None} == {
        "site": None,
        "station": "Tarn Head",
        "at": None,
        "temperature_c": 5.5,
        "wind_m_s": 4.0,
        "gust_m_s": None,
        "rain_mm": 0.2,
        "latitude": 54.4,
        "longitude": -3.0,
        "cloud_oktas": 4.0,
        "ghi_w_m2": 120.0,
    }
    assert got.frame.row(2)[3:7] == (None, None, None, None)
    assert got.frame.row(2)[9:] == (None, None)


def test_a_typical_year_is_never_the_weather_of_a_date():
    with pytest.raises(WrongContext, match="typical year put together from 2001 to 2009"):
        parse_climate(three_years(), name="a.epw")
    with pytest.raises(WrongContext, match="typical year"):
        parse_climate(epw(), name="a.epw", answers={"weather-year": "typical"})


def three_years():
    text = epw(2001).decode().splitlines()
    other = [line.replace("2001,", f"{year},", 1) for year in (2004, 2009) for line in text[8:20]]
    return "\n".join([*text, *other]).encode()


@pytest.mark.parametrize("name", ["703165TY.csv", "723170TYA.CSV"])
def test_tmy3_files_that_pvlib_brings_are_typical_years(name):
    """Example files of the library pvlib (NREL TMY3)."""
    data = files("pvlib").joinpath("data", name).read_bytes()
    assert is_climate(data)
    with pytest.raises(WrongContext, match="typical year"):
        parse_climate(data, name=name)


def test_a_damaged_epw_is_told():
    data = epw()[:900] + b"\nnot,a,row\n"
    with pytest.raises(WrongContext, match="begins like an EPW file"):
        parse_climate(data.replace(b",1,1,2,0", b",1,1,x,0"), name="a.epw")


@pytest.mark.parametrize(
    "head", [b"", b"LOCATION,Door", b"Date,Time,Event\n", b"123456,ALARM,1,2,3,4\n"]
)
def test_other_files_are_no_climate(head):
    assert not is_climate(head)


def test_headings_with_units_are_weather():
    assert recognise(("Date", "Time", "Temp (°F)", "Wind, kts")) is Role.WEATHER
    assert recognise(("Time", "Windrose", "Event")) is None
