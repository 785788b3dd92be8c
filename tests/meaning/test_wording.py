"""Free wordings, one by one: kind, phase, mode, and who and where in the same text.

The wordings of ``wordings.csv`` are common practice of British, American and Australian logs, each
read by eye; rows without a kind are those that must stay unread.
"""

import csv
from itertools import groupby
from pathlib import Path

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlab.meaning.understood import UNDERSTOOD
from eventlab.meaning.wording import life_safety_of, understand_words
from eventlab.schema import LIFE_SAFETY, MOMENTS, Kind

with (Path(__file__).parent / "wordings.csv").open(encoding="utf-8") as _lines:
    WORDINGS = {
        text: list(rows) for text, rows in groupby(csv.DictReader(_lines), lambda r: r["text"])
    }


def understand(*cells):
    return understand_words(pl.Series(cells, dtype=pl.String)).to_dicts()


def one(cell):
    (row,) = understand(cell)
    return row


@pytest.fixture(scope="module")
def read():
    told = understand_words(pl.Series(list(WORDINGS)))
    rows = told.select(pl.all().cast(pl.String)).fill_null("").to_dicts()
    return {text: list(some) for text, some in groupby(rows, lambda r: r["text"])}


def test_each_wording_is_understood(read):
    assert len(WORDINGS) > 1000
    told = {
        text: [{name: row[name] for name in wanted[0]} for row in read[text]]
        for text, wanted in WORDINGS.items()
    }
    wrong = [(text, told[text], want) for text, want in WORDINGS.items() if told[text] != want]
    assert wrong == []
    odd = [
        row for rows in read.values() for row in rows if bool(row["problem"]) == bool(row["kind"])
    ]
    assert odd == []


def test_case_punctuation_and_spacing_change_nothing(read):
    # Words run together (ZoneAlarm) need their capitals.
    spaced = [text for text in WORDINGS if " " in text]
    for change in (str.upper, str.lower, lambda t: t.replace(" - ", " – "), lambda t: f"  {t} . "):
        changed = [change(text) for text in spaced]
        told = understand_words(pl.Series(changed)).unique("text", keep="first")
        kinds = dict(zip(told["text"], told["kind"].cast(pl.String).fill_null(""), strict=True))
        for text, other in zip(spaced, changed, strict=True):
            assert kinds[other] == read[text][0]["kind"], other


@pytest.mark.parametrize(
    ("text", "zone", "area", "person"),
    [
        ("ZONE 07 ALARM", "7", None, None),
        ("Alarm Z07 Main Door", "7", None, None),
        ("Zone 12 - Reading Room PIR - Alarm", "12", None, None),
        ("A2 Z14 ALARM", "14", "2", None),
        ("Intruder alarm, input 3", "3", None, None),
        ("Bypassed: 7", "7", None, None),
        ("Area 1 armed by User 004 J SMITH", None, "1", "4"),
        ("User 4 (Kim Vale) disarmed partition 2", None, "2", "4"),
        ("Unset by Kim Vale", None, None, "Kim Vale"),
        ("Alarm: Boathouse Door", "Boathouse Door", None, None),
        ("Zone 1.07 alarm", "1.07", None, None),
        ("Zone 7A alarm", "7A", None, None),
        ("Keypad 2 tamper", "keypad 2", None, None),
        ("Expander 03 lost", "module 3", None, None),
        ("Ward B armed", None, "B", None),
        ("Zone 12 Room 14 PIR alarm", "12", None, None),
        ("003 Main Entrance OPEN", "3", None, None),
    ],
)
def test_numbers_and_names_are_taken_out(text, zone, area, person):
    row = one(text)
    assert (row["zone"], row["area"], row["person"]) == (zone, area, person)


def test_one_row_may_name_several_points_or_areas():
    assert [r["zone"] for r in understand("Zones 3, 5 & 9 bypassed")] == ["3", "5", "9"]
    assert [r["zone"] for r in understand("Zones 1-3 bypassed")] == ["1", "2", "3"]
    assert [r["area"] for r in understand("Areas 1-4 set")] == ["1", "2", "3", "4"]
    assert [r["piece"] for r in understand("Areas 1-4 set")] == [1, 2, 3, 4]


def test_the_path_is_told_where_it_stands():
    row = one("Test report via GSM")
    assert (row["kind"], row["path"]) == ("test-report", "gsm")


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("Quantum flux", "no wording known for it"),
        ("", "no wording known for it"),
        ("Main Door", "no wording known for it"),
        ("12", "no wording known for it"),
        (
            "System reset",
            "it may be a reset after an alarm or a restart of the system",
        ),
        (
            "Mains fail, battery low",
            "two readings: mains-loss (begin) or system-battery-low (begin)",
        ),
        (
            "Panic alarm - mains fail",
            "two readings: hold-up (begin) or mains-loss (begin)",
        ),
        ("Closed 4", "it does not say whether the number is a point's or a user's"),
        (
            "Zone 9 Medical Room Alarm",
            "it could be a life-safety alarm or the name of a point",
        ),
        ("Zone 7 alarm not confirmed", "it says more than its words tell us apart"),
    ],
)
def test_what_is_not_understood_says_why(text, problem):
    row = one(text)
    assert (row["kind"], row["phase"], row["problem"]) == (None, None, problem)


@pytest.mark.parametrize(
    ("name", "life_safety"),
    [
        ("Kitchen Smoke", "fire"),
        ("Kitchen Heat Detector", "fire"),
        ("Front Desk PA", "hold-up"),
        ("Reception Panic Button", "hold-up"),
        ("Boiler Room Gas", "gas"),
        ("Medical Room", "unknown"),
        ("Gas Meter Cupboard", "unknown"),
        ("PA Office", "unknown"),
        ("Medical Room PIR", None),
        ("Gas Cupboard Door", None),
        ("Fire Exit", None),
        ("Fire Exit Door", None),
        ("Fire Door", None),
        ("Emergency Exit", None),
        ("Panic Bar Door", None),
        ("Reading Room PIR", None),
        ("Open Plan Office", None),
        ("Lost Property", None),
    ],
)
def test_a_name_is_no_alarm_and_no_life_safety_is_lost(name, life_safety):
    told = {row["name"]: row["life_safety"] for row in life_safety_of(pl.Series([name])).to_dicts()}
    assert told.get(name) == life_safety
    for form in ("Zone 7 {} Alarm", "Alarm Zone 7 {}", "Zone 7 - {} - Alarm", "{}: Alarm"):
        row = one(form.format(name))
        if life_safety is None:
            assert (row["kind"], row["life_safety"]) == ("intrusion-alarm", None), form
        else:
            assert row["kind"] is None or Kind(row["kind"]) in LIFE_SAFETY, form


def test_an_ordinary_kind_at_a_life_safety_point_says_so():
    for text in (
        "Smoke detector low battery",
        "Zone 8 Kitchen Smoke bypassed",
        "Fire zone 4 fault",
        "Panic button 2 tamper",
        "Low Battery: Zone 9 Medical Room",
        "Fire alarm cancelled by user 4",
    ):
        row = one(text)
        assert row["life_safety"] is not None
        assert Kind(row["kind"]) not in LIFE_SAFETY


def test_what_another_column_names_may_change_the_kind():
    told = {
        r["text"]: r["at_point"] for r in understand("Low battery", "Fault", "Panel battery low")
    }
    assert told == {
        "Low battery": "device-battery-low",
        "Fault": "sensor-fault",
        "Panel battery low": "system-battery-low",
    }


def test_a_number_beside_the_wording_is_a_user_s_or_a_point_s():
    told = {r["text"]: r["as_user"] for r in understand("Disarmed", "Alarm", "Mains fail")}
    assert told == {"Disarmed": True, "Alarm": False, "Mains fail": None}


def test_the_shape_and_the_order():
    cells = pl.Series(["Alarm", None, "Tamper", "Alarm"])
    told = understand_words(cells)
    assert told.schema == UNDERSTOOD
    assert told["text"].to_list() == ["Alarm", "Tamper"]
    assert understand_words(pl.Series([], dtype=pl.String)).schema == UNDERSTOOD


_WORDS = sorted({word for text in WORDINGS for word in text.split()})


@settings(max_examples=200, deadline=None)
@given(st.lists(st.sampled_from(_WORDS) | st.text(max_size=8), max_size=9).map(" ".join))
def test_any_words_are_read_or_refused(text):
    for row in understand(text):
        assert (row["kind"] is None) == (row["phase"] is None) == (row["problem"] is not None)
        if row["kind"] is not None:
            moment = row["kind"] in {str(kind) for kind in MOMENTS}
            assert moment == (row["phase"] == "moment") or row["kind"] == "walk-test"


def test_very_many_names_come_to_few_templates():
    rooms = ["Reading Room", "Glasshouse", "Boathouse", "Map Room", "North Store", "Oak Gallery"]
    ends = ["PIR", "Door", "Window", "Contact"]
    said = ["Alarm", "Restored", "Tamper", "Bypassed", "Low battery", "Opened"]
    texts = [
        f"Zone {n % 300:03d} {rooms[n % 6]} {n // 600} {ends[n // 7 % 4]} - {said[n // 11 % 6]}"
        for n in range(30_000)
    ]
    told = understand_words(pl.Series(texts))
    assert told["problem"].null_count() == told.height
    assert told["zone"].n_unique() == 300
