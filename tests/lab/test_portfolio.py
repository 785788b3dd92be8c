"""What is found of a site does not depend on which other sites are looked at with it."""

import os
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

from eventlab.lab import Lab, portfolio
from eventlab.lab.learning import in_force
from eventlab.schema import Pattern

LOG = """account,time,event,zone,user
{rows}
"""
SITES = """site,name,time_zone,latitude,longitude
{rows}
"""


def history(site, number):
    """Write sixty nights; the mains of the first three goes in the same hour as an alarm."""
    rows = []
    day = datetime(2025, 1, 6)  # noqa: DTZ001 - a wall time
    for night in range(60):
        at = day + timedelta(days=night)
        rows += [
            f"{site},{at:%Y-%m-%d} 07:30:00,Disarmed by user,,1",
            f"{site},{at:%Y-%m-%d} 18:00:00,Armed by user,,1",
        ]
        if night % 20 == number:
            rows.append(f"{site},{at:%Y-%m-%d} 23:10:00,Intruder alarm,4,")
        if night == 30:
            rows += [
                f"{site},{at:%Y-%m-%d} 22:0{number}:00,Mains failure,,",
                f"{site},{at:%Y-%m-%d} 22:10:00,Intruder alarm,2,",
                f"{site},{at:%Y-%m-%d} 23:0{number}:00,Mains restored,,",
            ]
        if night in (52, 55):
            rows += [
                f"{site},{at:%Y-%m-%d} 02:1{number}:0{zone},Intruder alarm,{zone},"
                for zone in (5, 6, 7)
            ]
            rows += [
                f"{site},{at:%Y-%m-%d} 02:1{number}:30,Zone restored,{zone}," for zone in (5, 6, 7)
            ]
        if night == 40 + number:
            rows += [
                f"{site},{at:%Y-%m-%d} 23:00:00,Intruder alarm,2,",
                f"{site},{at:%Y-%m-%d} 23:05:00,Intruder alarm,3,",
            ]
    return rows


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """Three sites side by side, and one far away."""
    places = [("S1", 54.0), ("S2", 54.05), ("S3", 54.1), ("S4", 51.0)]
    told = [f"{site},Branch {site},Europe/London,{lat},-3.0" for site, lat in places]
    (tmp_path / "sites.csv").write_text(SITES.format(rows="\n".join(told)), encoding="utf-8")
    rows = sorted(
        (row for n, (site, _) in enumerate(places) for row in history(site, n)),
        key=lambda row: row.split(",")[1],
    )
    (tmp_path / "log.csv").write_text(LOG.format(rows="\n".join(rows)), encoding="utf-8")
    lab = Lab(tmp_path / "store", create=True)
    results = lab.take([tmp_path / "sites.csv", tmp_path / "log.csv"])
    assert not any(one.error or one.questions for one in results)
    return tmp_path / "store"


def whole(store):
    lab = Lab(store)
    lab.standing()
    return lab.findings(), lab.episodes()


def test_sites_in_parts_and_one_by_one_are_told_the_same(store, monkeypatch):
    findings, episodes = whole(store)
    lost = findings.filter(pl.col("statement").str.contains("mains loss while armed"))
    # the storm over S1 to S3 explains their mains; at S4 nothing does
    assert lost["site"].to_list() == ["S4"]
    assert episodes.height > 12

    # nor is there weather on file: points of S1 to S3 alarmed together in the same hours
    storm = findings.filter(pl.col("pattern") == Pattern.STORM_BURST)
    assert storm["site"].to_list() == ["S1", "S2", "S3"]
    assert "points in alarm together at other sites near by" in str(storm["evidence"][0].to_list())

    monkeypatch.setattr(portfolio, "PART", 200)
    monkeypatch.setattr(portfolio, "room", lambda: 1)
    assert len(portfolio.parts(Lab(store).store)) > 1
    assert Lab(store).findings().equals(findings)
    assert Lab(store).episodes().sort("site", "since").equals(episodes.sort("site", "since"))

    # in processes of their own, started anew; nothing is left of how they were started
    monkeypatch.setattr(portfolio, "room", lambda: 2)
    assert Lab(store).findings().equals(findings)
    assert "POLARS_MAX_THREADS" not in os.environ

    for site in ("S1", "S2", "S3", "S4"):
        alone = Lab(store).findings(site=site)
        assert alone.equals(findings.filter(pl.col("site") == site))


def test_any_executor_works_on_the_parts(store):
    lab = Lab(store)
    context, _ = in_force(lab.store, lab.settings)
    divided = [["S1"], ["S2", "S3"], ["S4"]]
    with ThreadPoolExecutor(1) as pool:
        told = portfolio.in_parts(lab.store, divided, context, lab.settings, executor=pool)
    assert told.findings.equals(lab.findings())
