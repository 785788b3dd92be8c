"""What all sites of a store tell together of cells and devices, over a small store."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from eventlab.cli import main
from eventlab.lab import Lab, portfolio
from eventlab.lab.fleet import gather, of_ground

SITES = [f"F{number}" for number in range(1, 9)]
START = date(2025, 1, 6)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Eight sites of four radio detectors; at six of them one is told low and put right."""
    where = tmp_path_factory.mktemp("fleet") / "files"
    where.mkdir()
    rows, zones = (
        ["Date/Time,Account,Event,Zone,User"],
        ["site,zone,name,use,detector,link,installed"],
    )
    for number, site in enumerate(SITES):
        zones += [
            f"{site},{zone},Room {zone},interior,PIR,radio,2023-0{1 + zone}-01"
            for zone in range(1, 5)
        ]
        for day in range(0, 200, 2):
            when = START + timedelta(days=day)
            rows.append(f"{when} 08:00:0{number},{site},Disarmed,,1")
            rows.append(f"{when} 18:00:0{number},{site},Armed,,1")
        if number < 6:
            low = START + timedelta(days=20 + 15 * number)
            rows.append(f"{low} 03:00:00,{site},Low battery wireless device,2,")
            rows.append(f"{low} 12:00:00,{site},Low battery wireless device restored,2,")
    (where / "log.csv").write_text("\n".join([rows[0], *sorted(rows[1:])]) + "\n")
    (where / "zones.csv").write_text("\n".join(zones) + "\n")
    listed = "\n".join(f"{site},Site {site},Europe/London" for site in SITES)
    (where / "sites.csv").write_text(f"site,name,time_zone\n{listed}\n")
    visits = "site,at,zones,work\nF8,2025-03-01 10:00,3,Battery changed (preventive)\n"
    (where / "visits.csv").write_text(visits)
    return where


@pytest.fixture(scope="module")
def lab(folder):
    made = Lab(folder.parent / "store", create=True, now=datetime(2025, 8, 1, tzinfo=UTC))
    results = made.take([folder], answers={"time-zone": "Europe/London"})
    assert not [one for one in results if one.questions or one.error], results
    return made


def test_families_count_who_failed_and_who_was_changed_before(lab):
    pir, _ = lab.fleet().cells.to_dicts()
    # 32 first cells, six new ones after a low one, one new one after a preventive change.
    assert (pir["family"], pir["cells"], pir["failed"], pir["changed"]) == ("pir", 39, 6, 1)
    assert pir["sites"] == 8
    assert pir["life_low"] < pir["life_days"] < pir["life_high"]


def test_devices_are_told_with_what_their_cells_have_left(lab):
    devices = lab.fleet().devices
    assert devices.height == 32
    changed = devices.filter(site="F8", zone="3").row(0, named=True)
    assert changed["since"].date() == date(2025, 3, 1)
    old = devices.filter(site="F8", zone="1").row(0, named=True)
    assert old["left_days"] < changed["left_days"]


def test_in_parts_it_is_what_it_is_as_a_whole(lab, monkeypatch):
    context = lab._context()
    whole = of_ground(lab.standing().ground, context, lab.settings)
    monkeypatch.setattr(portfolio, "PART", 900)
    parts = gather(lab.store, context, lab.settings, now=lab.now())
    key = ["site", "zone", "within"]
    for name in ("lives", "devices", "watched"):
        one, other = getattr(whole, name), getattr(parts, name)
        by = [*key, "since"]
        assert one.sort(by).equals(other.select(one.columns).sort(by)), name


def test_the_page_of_a_site_says_how_long_cells_like_its_own_last(lab):
    lane = lab.alive("F3").lanes.filter(family="battery", zone="1").row(0, named=True)
    assert "Cells like this one last" in lane["says"]
    assert "(50 of 100 between" in lane["says"]
    assert "by 39 cells, 6 of them told low." in lane["says"]


def test_under_the_stated_number_nothing_is_said(lab):
    few = lab.fleet().cells
    strict = Lab(lab.store.place.root, settings=replace(lab.settings, battery_fleet_min=7))
    assert strict.fleet().cells["life_days"].null_count() == few.height


def test_the_command_line_tells_it_as_text_and_tables(lab, capsys):
    def run(*words):
        with pytest.raises(SystemExit) as left:
            main(["alive", *words, "--store", str(lab.store.place.root)])
        return int(left.value.code or 0), capsys.readouterr().out

    status, text = run("--fleet", "devices")
    assert status == 0
    assert "HOW LONG CELLS LAST" in text
    rows = json.loads(run("--fleet", "cells", "--format", "json")[1])
    assert [row["family"] for row in rows] == ["pir", "any"]
    assert run("--fleet", "wear", "--format", "csv")[1].startswith("family,devices,years")
    assert run()[0] == 2
    assert run("F1", "--fleet", "cells")[0] == 2
