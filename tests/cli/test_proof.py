"""``eventlab proof``, the way a person types it."""

import pytest

from tests.advice.test_proof import BEFORE, QUIET, WALKED

ZONES = "site,zone,name,use\nA,5,Reading room,interior\n"
SITES = "site,name,time_zone\nA,North branch,Europe/London\n"
VISITS = "site,at,zones,work\nA,2025-08-01 11:00,5,new lens\n"
WORDS = {"arm": "Armed", "disarm": "Disarmed", "intrusion-alarm": "Intruder alarm",
         "walk-test": "Walk test"}  # fmt: skip


def csv():
    rows = ["Date/Time,Event,Zone,User"]
    for line in sorted(f"{QUIET}\n{BEFORE}\n{WALKED}".splitlines()):
        day, clock, kind, *more = line.split()
        said = dict(word.split("=") for word in more if "=" in word)
        rows.append(f"{day} {clock},{WORDS[kind]},{said.get('zone', '')},{said.get('person', '')}")
    return "\n".join(rows) + "\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("proof")
    files = {"a.csv": csv(), "sites.csv": SITES, "zones.csv": ZONES, "visits.csv": VISITS}
    for name, text in files.items():
        (made / name).write_text(text)
    return made


def test_a_visit_a_date_and_what_is_not_there(run, folder, tmp_path):
    store = tmp_path / "s"
    told = run("intake", folder, "--store", store, "--site", "A")
    assert told.status == 0, told.err + told.out
    text = run("proof", "A", "--store", store)
    assert text.status == 0
    assert "visit 1: point 5 (Reading room), 1 Aug 2025 (new lens)\n  BETTER\n" in text.out
    assert "20 alarm nights in" in text.out
    assert text.out.count("Mind: ") == 1
    rows = run("proof", "A", "--at", "2025-08-01", "--store", store, "--format", "json").json()
    assert [row["zone"] for row in rows] == [None, "5"]
    assert rows[1]["ratio_high"] < 1
    assert run("proof", "A", "--visit", "7", "--store", store).status == 1
    assert "there is no visit 7" in run("proof", "A", "--visit", "7", "--store", store).err
    assert run("proof", "B", "--store", store).status == 1
    assert run("proof", "A", "--at", "31.3.", "--store", store).status == 2
    both = run("proof", "A", "--at", "2025-08-01", "--visit", "1", "--store", store)
    assert both.status == 2
    listed = run("proof", "A", "--store", store, "--format", "csv").out.splitlines()
    assert listed[0].startswith("site,zone,at,basis")
