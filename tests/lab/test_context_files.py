"""Context files that leave something open: asked, kept while they wait, taken when answered."""

import pytest

from eventlab.lab import Lab
from eventlab.schema import WEATHER, Role
from tests.context.test_weather import epw, three_years

SITES = (
    b"site,time_zone,latitude,longitude\nTV1,Europe/London,54.4,-3.0\nTV2,Europe/London,51.0,0\n"
)
BARE = b"site,time_utc,temperature,wind\nTV1,2025-01-01T00:00Z,50,10\n"


@pytest.fixture
def lab(tmp_path):
    return Lab(tmp_path / "store", create=True)


def taken(lab, tmp_path, name, data, **said):
    path = tmp_path / name
    path.write_bytes(data)
    return lab.take([path], **said)[0]


def weather(lab):
    return lab.store.table("weather", WEATHER)


def test_nothing_is_taken_before_the_unit_is_told(lab, tmp_path):
    asked = taken(lab, tmp_path, "w.csv", BARE)
    assert [q.key for q in asked.questions] == ["temperature", "wind"]
    assert weather(lab).is_empty()
    (waits,) = lab.waiting()
    assert waits.role is Role.WEATHER
    assert [q.key for q in waits.questions] == ["temperature", "wind"]
    left = lab.answer(waits.sha256, {"temperature": "f"})
    assert [q.key for q in left.questions] == ["wind"]
    done = lab.answer(waits.sha256, {"temperature": "f", "wind": "mph"})
    assert not done.questions
    assert lab.waiting() == []
    assert weather(lab)["temperature_c"].to_list() == pytest.approx([10.0])
    assert weather(lab)["wind_m_s"].to_list() == pytest.approx([4.4704])


def test_answers_on_the_spot_leave_nothing_waiting(lab, tmp_path):
    taken(lab, tmp_path, "w.csv", BARE)
    taken(lab, tmp_path, "w.csv", BARE, answers={"temperature": "c", "wind": "knots"})
    assert lab.waiting() == []
    assert weather(lab)["wind_m_s"].to_list() == pytest.approx([5.14444], rel=1e-5)


def test_a_weather_year_says_whose_nearest_station_it_is(lab, tmp_path):
    taken(lab, tmp_path, "sites.csv", SITES)
    asked = taken(lab, tmp_path, "year.epw", epw())
    assert [q.key for q in asked.questions] == ["weather-year"]
    done = taken(lab, tmp_path, "year.epw", epw(), answers={"weather-year": "measured"})
    assert done.rows == done.read == 48
    assert done.lines == done.rows + done.other == 56
    assert "Tarn Head: the nearest for 1 of the sites" in " ".join(done.notes)
    assert "1 of the sites" in done.notes[-1]
    assert weather(lab).height == 48


def test_a_typical_year_is_refused_with_the_way_out(lab, tmp_path):
    refused = taken(lab, tmp_path, "year.epw", three_years())
    assert "typical year" in refused.error
    assert "measured" in refused.error
    assert weather(lab).is_empty()
