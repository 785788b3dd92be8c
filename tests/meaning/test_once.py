"""One row of each set of cells speaks for all rows that have it: as if each were looked at."""

import random

import polars as pl
import pytest

from eventlab.intake import read_bytes
from eventlab.meaning import once
from eventlab.meaning.roles import find_roles
from eventlab.meaning.saying import say
from tests.meaning.exports import reading

LOGS = {
    "worded": (
        "Time,Event,Area,Zone,Place,User",
        [
            "{at},Intruder alarm,1,07,Reading room,",
            "{at},Intruder alarm restored,1,07,Reading room,",
            "{at},Alarm,1,08,Kitchen smoke,",
            "{at},Armed by user,1,,,004 Kim",
            "{at},Disarmed by user,2,,,5",
            "{at},Low battery,,09,Boat hall,",
            "{at},Low battery,,,,",
            "{at},something nobody knows,1,,,",
            "{at},,,,,",
        ],
    ),
    "coded": (
        "Account,Time,Code,Area,Zone,User",
        [
            "0042,{at},1130,01,015,",
            "0042,{at},3130,01,015,",
            "0042,{at},1401,01,,004",
            "0043,{at},E131,00,001,",
            "0043,{at},9999,,,",
            "0043,{at},,,,",
        ],
    ),
    "several events in a cell": (
        "Time,Code",
        ["{at},Nri1/BA015BR016", "{at},Nri1/CL004", "{at},BA007", "{at},what"],
    ),
    "code and words": (
        "Time,Code,Event,Zone",
        [
            "{at},130,Burglary alarm,5",
            "{at},130,Burglary restore,5",
            "{at},,Mains failure,",
            "{at},301,,",
        ],
    ),
}


def sheet_of(name, rows=160, seed=3):
    heading, kinds = LOGS[name]
    rng = random.Random(seed)
    lines = [
        rng.choice(kinds).format(at=f"2025-03-{n // 24 + 1:02} {n % 24:02}:00:00")
        for n in range(rows)
    ]
    return read_bytes("\n".join([heading, *lines]).encode(), name="log.csv")


@pytest.mark.parametrize("name", LOGS)
def test_it_says_what_every_row_says(name):
    sheet = sheet_of(name)
    roles = find_roles(sheet)
    assert roles.timed
    assert roles.telling
    each = say(sheet.cells, roles)
    found = once.say_once(sheet.cells, roles)
    assert found.height == each.height
    assert (found.height > sheet.rows) == (name == "several events in a cell")
    for column in found.columns:
        if column != "phase":
            assert found[column].equals(each[column], null_equal=True), column
    begun = each["phase"].cast(pl.String).fill_null("moment")
    assert found["phase"].cast(pl.String).fill_null("moment").equals(begun)


@pytest.mark.parametrize("name", LOGS)
@pytest.mark.parametrize(("most", "worth"), [(1, 4), (12, 0), (60, 0), (1 << 25, 10**6)])
def test_however_the_sets_are_told_apart(monkeypatch, name, most, worth):
    sheet = sheet_of(name)
    roles = find_roles(sheet)
    usual = once.say_once(sheet.cells, roles)
    monkeypatch.setattr(once, "_MOST", most)
    monkeypatch.setattr(once, "_WORTH", worth)
    assert once.say_once(sheet.cells, roles).equals(usual)


def test_sets_are_numbered_in_file_order():
    columns = [pl.Series(["a", None, "a", "b", None]), pl.Series(["x", "x", "x", None, "x"])]
    number, first = once._sets(columns) or (None, None)
    assert number is None  # two rows a set are not worth it
    number, first = once._sets([pl.concat([c] * 4) for c in columns])
    assert first.tolist() == [0, 1, 3]
    assert number.tolist() == [0, 1, 0, 2, 1] * 4


def test_a_log_whose_rows_all_say_the_same():
    lines = ["Site: A", "Time,Event"]
    lines += [f"2025-03-01 10:{n:02}:00,Mains failure" for n in range(60)]
    found = reading("\n".join(lines))
    assert found.read == 60
    assert found.events["kind"].unique().to_list() == ["mains-loss"]
