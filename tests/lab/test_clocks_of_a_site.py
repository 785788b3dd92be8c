"""Two logs of one site taken as files: clocks are put right, rows stay as they are stored."""

from datetime import datetime, timedelta

import polars as pl
import pytest

from eventlab.lab import Lab

HEAD = "Date Time,Event,Zone,User\n"
CENTRE = "Monitoring centre history\nAccount,Received,Event,Zone,User\n"
SITES = "site,name,time_zone\nA,Boathouse,Europe/London\n"


def rows(days, *, off=timedelta(0), centre=False, first="2025-01-06"):
    """Write openings and closings, and an alarm each fifth night."""
    start = datetime.fromisoformat(first)
    lines = []
    for day in range(days):
        date = start + timedelta(days=day)
        opens = date.replace(hour=8, minute=day * 7 % 20, second=day * 13 % 60)
        closes = date.replace(hour=18, minute=day * 11 % 30, second=day * 17 % 60)
        acts = [(opens, "Disarmed", "", 1 + day % 3), (closes, "Armed", "", 1 + day % 2)]
        if day % 5 == 0:
            acts.append((date.replace(hour=23, minute=day % 60), "Burglar alarm", 7, ""))
        for at, event, zone, user in acts:
            told = at + (timedelta(seconds=4) if centre else off * (day + at.hour / 24))
            account = "A," if centre else ""
            lines.append(f"{account}{told:%Y-%m-%d %H:%M:%S},{event},{zone},{user}\n")
    return lines


@pytest.fixture
def desk(tmp_path):
    lab = Lab(
        tmp_path / "store", create=True, now=datetime.fromisoformat("2026-01-01T00:00:00+00:00")
    )
    (tmp_path / "sites.csv").write_text(SITES)
    lab.take([tmp_path / "sites.csv"])

    def take(text, name, **said):
        (tmp_path / name).write_text(text)
        (result,) = lab.take([tmp_path / name], site=None if "centre" in name else "A", **said)
        assert result.error is None
        assert result.questions == ()
        return result

    return lab, take


def panel(**how):
    return HEAD + "".join(rows(80, off=timedelta(seconds=9), **how))


def centre():
    return CENTRE + "".join(rows(80, centre=True))


@pytest.mark.parametrize("order", [("panel", "centre"), ("centre", "panel")])
def test_a_clock_that_runs_away_is_put_right_for_analyses_and_stays_in_the_store(desk, order):
    lab, take = desk
    files = {"panel": panel(), "centre": centre()}
    for name in order:
        take(
            files[name],
            f"{name}.csv",
            **({"time_zone": "Europe/London"} if name == "centre" else {}),
        )
    assert lab.events()["timing"].unique().to_list() == ["sure"]
    ground = lab.standing().ground
    alarms = ground.occurrences.filter(kind="intrusion-alarm")
    assert alarms["witnesses"].to_list() == [["panel", "receiver"]] * 16
    assert alarms["timing"].unique().to_list() == ["shifted"]
    assert alarms["local"].dt.hour().unique().to_list() == [23]
    (found,) = lab.findings().filter(pattern="clock-fault").to_dicts()
    assert "gains 9 s a day" in found["statement"]
    assert found["settle"] == "phone"
    basis = {line["basis"] for line in found["evidence"]}
    assert "events that both witnesses tell" in basis


def test_overlapping_exports_unite_whatever_the_other_witness_tells(desk):
    lab, take = desk
    lines = rows(80, off=timedelta(seconds=9))
    take(HEAD + "".join(lines[:120]), "one.csv")
    take(centre(), "centre.csv", time_zone="Europe/London")
    second = take(HEAD + "".join(lines[60:]), "two.csv")
    assert second.repeated == 60
    events = lab.events().filter(witness="panel")
    assert events.height == len(lines)
    again = take(HEAD + "".join(lines[60:]), "two.csv")
    assert (again.already, lab.events().filter(witness="panel").height) == (True, len(lines))


def test_a_lost_clock_is_told_at_intake_and_put_back_by_the_row_that_set_it(desk):
    lab, take = desk
    text = HEAD + (
        "2024-03-01 17:00:00,Armed,,3\n"
        "2024-03-01 22:00:00,Mains fail,,\n"
        "2000-01-01 00:00:05,System restart,,\n"
        "2000-01-01 00:10:05,Burglar alarm,7,\n"
        "2000-01-01 00:20:00,Clock set from 01/01/2000 00:20:00 to 02/03/2024 09:31:00,,3\n"
        "2024-03-02 09:32:00,Disarmed,,3\n"
    )
    result = take(text, "log.csv")
    assert result.doubtful == 3
    assert any("3 rows from a clock that had started anew" in line for line in result.evidence)
    stored = lab.events().filter(kind="intrusion-alarm")
    assert (stored["at"].null_count(), stored["wall"][0].year) == (1, 2000)
    alarm = lab.standing().ground.occurrences.filter(
        pl.col("kind") == "intrusion-alarm", pl.col("phase") == "begin"
    )
    assert alarm["at"].dt.strftime("%Y-%m-%d %H:%M:%S").to_list() == ["2024-03-02 09:21:05"]
    assert alarm["timing"].to_list() == ["shifted"]
