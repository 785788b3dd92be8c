"""What the page of usual hours gets, from files to figures."""

from datetime import date, timedelta

import polars as pl
import pytest

from eventlab.lab import Lab
from tests.analysis.test_habits import MONDAY, day, life


@pytest.fixture
def lab(tmp_path):
    late = {day("2026-02-10"): 21.5, day("2026-02-12"): 20.5, day("2026-03-03"): 21.0}
    late[day("2026-03-06")] = 20.5
    eve = day("2026-02-17")
    rows = ["time_utc,event,user"]
    words = {"arm": "Armed", "disarm": "Disarmed"}
    for line in sorted(life(MONDAY, 100, closes=late, unclosed={eve})):
        at, what, who = line[:19], *line[20:].split()
        rows.append(f"{at},{words[what]},{who.removeprefix('person=')}")
    (tmp_path / "log.csv").write_text("\n".join(rows), "utf-8")
    (tmp_path / "sites.csv").write_text(
        "site,name,time_zone,country,region\nS1,North,Europe/London,GB,GB-ENG\n", "utf-8"
    )
    (tmp_path / "hours.csv").write_text(
        "site,area,weekday,opens,closes\nS1,,Mon,9:00,18:30\n", "utf-8"
    )
    lab = Lab(tmp_path / "store", create=True)
    lab.take([tmp_path / "sites.csv"])
    lab.take([tmp_path / "log.csv"], site="S1", answers={"time-zone": "UTC"})
    return lab, tmp_path


def test_bands_exceptions_and_nights(lab):
    lab, folder = lab
    usual = lab.usual_hours("S1")
    assert usual.recorded
    assert usual.time_zone == "Europe/London"
    assert usual.bands["weekday"].unique().to_list() == [1, 2, 3, 4, 5]
    assert set(usual.bands["basis"]) == {"learned"}
    assert usual.exceptions["what"].to_list() == [
        "late-closing", "late-closing", "missed-closing", "late-closing", "late-closing"
    ]  # fmt: skip
    late = usual.exceptions.row(0, named=True)
    assert (late["date"], late["person"], late["who"]) == (date(2026, 3, 6), "1", "user 1")
    assert late["usual"].startswith("18:0")
    assert late["how_unusual"].startswith("4 in ")
    assert "once in" in late["how_unusual"]
    (night,) = usual.nights.to_dicts()
    assert night["date"] == date(2026, 2, 17)
    assert night["hours"] == pytest.approx(14.8, abs=0.3)
    assert not night["refused"]
    assert "Monday, Tuesday" in usual.sentence
    assert usual.notes == ["Public holidays are those of GB-ENG."]
    found = lab.findings(site="S1")
    assert {"late-closing", "missed-closing"} <= set(found["pattern"])
    assert found.filter(pl.col("pattern") == "missed-closing")["advice"].list.len().item() > 0

    # A schedule that comes anew stands for all earlier rows of the site.
    lab.take([folder / "hours.csv"])
    monday = lab.usual_hours("S1").bands.filter(pl.col("weekday") == 1)
    assert set(monday["basis"]) == {"schedule"}
    (folder / "hours.csv").write_text("site,weekday,opens,closes\nS1,Tue,9:00,18:30\n", "utf-8")
    lab.take([folder / "hours.csv"])
    known = lab.store.table("schedule", {"weekday": pl.List(pl.String)})
    assert known["weekday"].to_list() == [["tue"]]


def test_without_closings_it_says_what_is_missing(tmp_path):
    rows = ["time_utc,event,zone"]
    rows += [f"{MONDAY + timedelta(days=n)} 02:00:00,Burglary alarm,3" for n in range(9)]
    (tmp_path / "log.csv").write_text("\n".join(rows), "utf-8")
    lab = Lab(tmp_path / "store", create=True)
    lab.take([tmp_path / "log.csv"], site="S1", time_zone="UTC")
    usual = lab.usual_hours("S1")
    assert not usual.recorded
    assert usual.bands.is_empty()
    assert "not all told" in usual.sentence
