"""``eventlab teach`` and ``eventlab layouts``, the way a person types them."""

import csv

import polars as pl
import pytest

from eventlab.lab import teaching
from eventlab.meaning import speaks_of_life
from eventlab.meaning.suggesting import SUGGESTED

LOG = """Date/Time,Event
2025-07-01 18:00:00,Bobbin lane 4 swapped
2025-07-02 18:00:00,Bobbin lane 7 swapped
2025-07-03 18:00:00,Smoke bobbin loose
2025-07-04 18:00:00,Zone 1 alarm
"""


@pytest.fixture(autouse=True)
def _no_training(monkeypatch):
    """Guess nothing here: a model is trained and measured elsewhere."""

    def guess(texts, _taught):
        found = speaks_of_life(texts).with_columns(
            kind=pl.when(~pl.col("life")).then(pl.lit("tamper")),
            phase=pl.when(~pl.col("life")).then(pl.lit("begin")),
            probability=pl.when(~pl.col("life")).then(pl.lit(0.97)),
        )
        return found.select(SUGGESTED.keys())

    monkeypatch.setattr(teaching, "suggested", guess)


@pytest.fixture
def store(run, tmp_path):
    log = tmp_path / "a.csv"
    log.write_text(LOG)
    said = ("--site", "A", "--time-zone", "Europe/London")
    assert run("intake", log, "--store", tmp_path / "s", *said).status == 0
    return tmp_path / "s"


def test_what_is_not_understood_is_listed_with_what_it_may_mean(run, store):
    told = run("teach", "--store", store)
    assert told.status == 0
    assert "2 rows × “Bobbin lane 4 swapped” (site A)" in told.out
    assert "perhaps tamper:begin, almost certain (97 in 100)" in told.out
    assert told.out.count("have a person decide") == 1
    listed = run("teach", "--store", store, "--format", "json").json()
    assert [(one["form"], one["rows"]) for one in listed["not_understood"]] == [
        ("bobbin lane # swapped", 2),
        ("smoke bobbin loose", 1),
    ]
    assert listed["not_understood"][1]["kind"] is None
    assert listed["not_understood"][1]["life_safety"] is True
    assert listed["taught"] == []


def test_teaching_forgetting_and_carrying_elsewhere(run, store, tmp_path):
    done = run("teach", "--store", store, "Bobbin lane 9 swapped", "--as", "tamper:end")
    assert done.status == 0
    assert "1 export of 1 site read again; 2 rows now read." in done.out
    assert "A number in it counts the point" in done.out
    events = run("events", "--store", store, "--format", "json").json()
    assert [(one["kind"], one["phase"], one["zone"]) for one in events[:2]] == [
        ("tamper", "end", "4"),
        ("tamper", "end", "7"),
    ]
    assert "“Bobbin lane 9 swapped” is tamper:end (all sites" in run("teach", "--store", store).out
    file = tmp_path / "taught.csv"
    assert run("teach", "--store", store, "--export", file).status == 0
    with file.open(newline="") as lines:
        assert [row["kind"] for row in csv.DictReader(lines)] == ["tamper"]
    back = run("teach", "--store", store, "bobbin lane 1 swapped", "--forget")
    assert "2 rows now not understood" in back.out
    again = run("teach", "--store", store, "--import", file, "--format", "json")
    assert (again.json()["read"], again.json()["wordings"]) == (2, ["bobbin lane # swapped"])
    ignored = run("teach", "--store", store, "Bobbin lane 1 swapped", "--ignore")
    assert ignored.status == 0
    kinds = [one["kind"] for one in run("events", "--store", store, "--format", "json").json()]
    assert kinds == ["log-state", "log-state", "unread", "intrusion-alarm"]


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("Bobbin 4", "--as", "wombat"), 2, "nothing that a row can mean"),
        (("Bobbin 4", "--as", "arm:begin"), 2, "arm has no 'begin'"),
        (("Zone 4 alarm", "--as", "tamper"), 2, "is read already"),
        (("Smoke bobbin loose", "--ignore"), 2, "--no-life-safety"),
        (("Bobbin 4", "--forget"), 1, "was not taught"),
        (("Bobbin 4",), 2, "say one of"),
        (("--as", "tamper"), 2, "say which wording"),
    ],
)
def test_what_cannot_be_is_told_in_one_line(run, store, words, status, said):
    done = run("teach", "--store", store, *words)
    assert done.status == status
    assert said in done.err
    assert "Traceback" not in done.err


def test_layouts_are_listed_exported_imported_and_removed(run, store, tmp_path):
    (one,) = run("layouts", "--store", store, "--format", "json").json()
    assert (one["name"], one["exports"], one["sites"]) == ("a.csv", 1, ["A"])
    told = run("layouts", "--store", store).out
    assert "like “a.csv” of" in told
    assert "divided by comma; “Date/Time” when, “Event” words" in told
    file, other = tmp_path / "l.json", tmp_path / "other"
    assert "1 layout written" in run("layouts", "--store", store, "--export", file).out
    assert "1 layout taken" in run("layouts", "--store", other, "--import", file).out
    assert "from another store" in run("layouts", "--store", other).out
    assert run("layouts", "--store", store, "--remove", one["key"][:8]).status == 0
    assert run("layouts", "--store", store, "--format", "json").json() == []
    gone = run("layouts", "--store", store, "--remove", one["key"])
    assert (gone.status, "Traceback" in gone.err) == (1, False)
