"""What a file is by its headings; common practice unless said."""

import pytest

from eventlab.context import recognise
from eventlab.schema import Role


@pytest.mark.parametrize(
    ("headings", "role"),
    [
        ("site,name,time_zone,latitude,longitude", Role.SITES),
        ("Account No.;Premises name;Time zone", Role.SITES),
        ("SITE ID;Lat;Lon", Role.SITES),
        ("site,zone,name,detector,use,area", Role.ZONES),
        ("Site,Zone No.,Description,Type,Partition", Role.ZONES),
        ("zone,name,detector", Role.ZONES),
        ("station,time_utc,temperature_c,wind_m_s,gust_m_s,rain_mm", Role.WEATHER),
        ("Time;Air temperature (°C);Wind speed (km/h)", Role.WEATHER),
        ("site,at,zones,work,technician", Role.VISITS),
        ("Site,Visit date,Work done", Role.VISITS),
        ("site,at,outcome,passed_on,attended,found,note", Role.OUTCOMES),
        # Event logs of several shapes are none of these.
        ("Date,Time,Event,Zone,User", None),
        ("Site,Date,Time,Code,Area,Zone", None),
        ("Account;When;Text", None),
        ("Site,Zone,Name,Date,Time,State", None),
        ("Zone,Time,Description", None),
        ("Qualifier,Code,Zone,Type", None),
        ("site", None),
        ("", None),
    ],
)
def test_headings_tell_what_a_file_is(headings, role):
    parts = headings.split(";") if ";" in headings else headings.split(",")
    assert recognise(parts) == role


def test_no_headings_are_no_context():
    assert recognise(None) is None
    assert recognise(()) is None


@pytest.mark.parametrize("change", [str.upper, str.title, lambda t: t.replace("_", " ")])
def test_case_and_underscores_do_not_matter(change):
    heads = "site,name,time_zone,entry_delay_s,next_service"
    assert recognise(change(heads).split(",")) == Role.SITES
