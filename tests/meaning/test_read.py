"""Exports as panels and centres write them, read to events.

The layouts are common practice; codes and qualifiers are those of ANSI/SIA DC-05-1999.09 and
DC-03-1990.01 (R2000.11).
"""

# ruff: noqa: DTZ001 - wall times have no zone

import csv
import io
from datetime import datetime, timedelta

import pytest

from tests.meaning.exports import asked, reading, shown, told

WORDED = [
    (datetime(2025, 3, 11, 8, 1, 5), "Area 1 disarmed by User 4", "disarm area=1 person=4"),
    (datetime(2025, 3, 12, 0, 5, 0), "Zone 07 alarm", "intrusion-alarm/begin zone=7"),
    (datetime(2025, 3, 12, 0, 5, 9), "Zone 07 restored", "intrusion-alarm/end zone=7"),
    (datetime(2025, 3, 12, 12, 30, 9), "Mains failure", "mains-loss/begin"),
    (datetime(2025, 3, 13, 12, 59, 59), "Mains restored", "mains-loss/end"),
    (datetime(2025, 3, 15, 23, 4, 45), "Zone 3 bypassed by User 2", "bypass/begin zone=3 person=2"),
]

FORMS = {
    "day first": ("%d/%m/%Y", "%H:%M:%S"),
    "day first, dots, two-digit year": ("%d.%m.%y", "%H:%M:%S"),
    "day first, 12 hours": ("%d-%m-%Y", "%I:%M:%S %p"),
    "month first, 12 hours": ("%m/%d/%Y", "%I:%M:%S %p"),
    "month first, two-digit year": ("%m/%d/%y", "%H:%M:%S"),
    "ISO": ("%Y-%m-%d", "%H:%M:%S"),
    "year first, slashes": ("%Y/%m/%d", "%H:%M:%S"),
    "month name": ("%d-%b-%y", "%H:%M:%S"),
    "month name, comma": ("%b %d, %Y", "%I:%M:%S %p"),
    "weekday": ("%a %d/%m/%Y", "%H:%M:%S"),
    "eight figures": ("%Y%m%d", "%H:%M:%S"),
}
LAYOUTS = [
    (",", "utf-8", 1, False, ""),
    (";", "cp1252", 2, True, "Site: A\nPrinted – by the panel\n"),
    ("\t", "utf-16", 2, False, ""),
    ("|", "utf-8-sig", 1, True, ""),
]


EACH = [(form, LAYOUTS[number % len(LAYOUTS)]) for number, form in enumerate(FORMS)]


@pytest.mark.parametrize(("form", "layout"), EACH, ids=FORMS)
def test_every_date_form_in_a_layout(form, layout):
    delimiter, encoding, columns, newest_first, above = layout
    day, clock = FORMS[form]
    turn = slice(None, None, -1 if newest_first else 1)
    out = io.StringIO()
    table = csv.writer(out, delimiter=delimiter, lineterminator="\r\n")
    table.writerow([*(("Date", "Time") if columns == 2 else ("Date/Time",)), "Event"])
    for when, text, _ in WORDED[turn]:
        stamp = [when.strftime(day), when.strftime(clock)]
        table.writerow([*(stamp if columns == 2 else [" ".join(stamp)]), text])
    found = reading(above + out.getvalue(), encoding=encoding, site=None if above else "A")
    assert found.questions == ()
    assert found.sites == ("A",)
    whens = [when for when, _, _ in WORDED[turn]]
    assert found.events["wall"].to_list() == whens
    # London keeps UTC in March.
    assert found.events["at"].dt.replace_time_zone(None).to_list() == whens
    assert shown(found) == [said for _, _, said in WORDED[turn]]


@pytest.mark.parametrize(
    ("stamp", "shift"), [("%Y-%m-%dT%H:%M:%SZ", 0), ("%Y-%m-%dT%H:%M:%S+10:00", 10)]
)
def test_an_offset_in_the_text_needs_no_time_zone(stamp, shift):
    rows = [f"{(w + timedelta(hours=shift)).strftime(stamp)},{text}" for w, text, _ in WORDED]
    found = reading("Time,Event\n" + "\n".join(rows) + "\n", time_zone=None)
    assert found.questions == ()
    at = found.events["at"].dt.replace_time_zone(None)
    assert at.to_list() == [when for when, _, _ in WORDED]


def test_twelve_hours_at_noon_and_midnight():
    clocks = {"12:00:05 AM": 0, "1:00:05 am": 1, "11:00:05 a.m.": 11, "12:00:05 PM": 12}
    clocks["11:00:05 p.m."] = 23
    rows = "".join(f"13/03/2025,{clock},Zone 1 alarm\n" for clock in clocks)
    found = reading("Date,Time,Event\n" + rows)
    assert found.events["wall"].dt.hour().to_list() == list(clocks.values())


HEADINGS = [
    "Acct,Date,Time,Q,Code,Group,Zone/User",
    "Account No,Date,Time,Qualifier,Event Code,Partition,Zone",
    "Subscriber,Event Date,Event Time,Qual,CID,GG,CCC",
    "Client No.,DATE,TIME,Event Qualifier,Contact ID,Area,Zone or user",
    "Account number,Date,Time,New/Restore,Code,Part,User/Zone",
]


QUALIFIERS = [("1", "3"), ("E", "R"), ("Event", "Restore"), ("New", "Restoral"), ("A", "C")]


@pytest.mark.parametrize(("headings", "qualifiers"), [*zip(HEADINGS, QUALIFIERS, strict=True)])
def test_three_digit_codes_in_fields_of_their_own(headings, qualifiers):
    new, over = qualifiers
    text = f"""{headings}
0012,13/03/2025,18:00:00,{new},131,01,015
0012,13/03/2025,18:00:10,{over},131,01,015
0012,13/03/2025,18:00:20,{over},401,01,003
0012,14/03/2025,18:00:30,{new},401,01,003
0013,14/03/2025,18:00:40,{over},301,00,000
0012,14/03/2025,18:00:50,{new},110,00,009
"""
    found = reading(text, site=None)
    assert shown(found) == [
        "intrusion-alarm/begin zone=15 area=1",
        "intrusion-alarm/end zone=15 area=1",
        "arm area=1 person=3 mode=full",
        "disarm area=1 person=3",
        "mains-loss/end",
        "fire/begin zone=9",
    ]
    assert found.events["site"].to_list()[3:5] == ["0012", "0013"]


@pytest.mark.parametrize(
    "form", ["{q}{code} {group} {ccc}", "18 {q}{code} {group} {ccc}", "{er}{code} {group} {ccc}"]
)
def test_three_digit_codes_in_one_field(form):
    rows = [("1", "131", "01", "015"), ("3", "131", "01", "015"), ("3", "401", "02", "003")]
    cells = [
        form.format(q=q, er="E" if q == "1" else "R", code=c, group=g, ccc=n) for q, c, g, n in rows
    ]
    text = "Date/Time,Event\n" + "".join(
        f"2025-03-13 18:00:0{n},{cell}\n" for n, cell in enumerate(cells)
    )
    assert told(text) == [
        "intrusion-alarm/begin zone=15 area=1",
        "intrusion-alarm/end zone=15 area=1",
        "arm area=2 person=3 mode=full",
    ]


def test_whole_frames_tell_the_account_too():
    """Frames of ANSI/SIA DC-05 App. A, and one of our own whose checksum is wrong."""
    text = """Time,Message
2025-03-13 18:00:00,1234181131010158
2025-03-13 18:00:10,1234183131010156
2025-03-13 18:00:30,655618340201015D
2025-03-13 18:00:40,1234181131010157
"""
    found = reading(text, site=None)
    assert [found.events["site"][n] for n in range(4)] == ["1234", "1234", "6556", "1234"]
    assert told(text, site=None) == [
        "intrusion-alarm/begin zone=15 area=1",
        "intrusion-alarm/end zone=15 area=1",
        "arm area=1 person=15 mode=full",
        "unread",
    ]
    assert found.events["problem"][3] == "the checksum of the frame is wrong"


@pytest.mark.parametrize("form", ["{0}015", "{0} 015", "N{0}15", "Nri1/{0}015", "ri1{0}015"])
def test_two_letter_codes_with_their_number(form):
    text = "Date/Time;Event\n" + "".join(
        f"13/03/2025 18:0{n}:00;{form.format(code)}\n"
        for n, code in enumerate(["BA", "BR", "CL", "OP", "BB", "FA"])
    )
    area = " area=1" if "ri1" in form else ""
    assert told(text) == [
        f"intrusion-alarm/begin zone=15{area}",
        f"intrusion-alarm/end zone=15{area}",
        f"arm{area} person=15 mode=full",
        f"disarm{area} person=15",
        f"bypass/begin zone=15{area}",
        f"fire/begin zone=15{area}",
    ]


def test_bare_codes_end_where_the_words_beside_them_say_so():
    text = """Date,Time,Code,Description,Zone
13/03/2025,18:00:00,131,Perimeter alarm,7
13/03/2025,18:00:05,131,Perimeter alarm restored,7
13/03/2025,18:00:10,301,AC failure,
13/03/2025,18:00:15,301,AC restored,
"""
    assert told(text) == [
        "intrusion-alarm/begin zone=7",
        "intrusion-alarm/end zone=7",
        "mains-loss/begin",
        "mains-loss/end",
    ]


def test_words_are_read_where_no_code_is_known():
    text = """Date,Time,Code,Description,Zone
13/03/2025,18:00:00,BA,Burglary,7
13/03/2025,18:00:10,AT,Mains failure,
13/03/2025,18:00:12,ZX,Mains restored,
"""
    assert told(text) == ["intrusion-alarm/begin zone=7", "mains-loss/begin", "mains-loss/end"]


def test_pages_with_their_headings_and_footers():
    page = "Page {0} of 2\nDate,Time,Event\n"
    text = (
        "Tarn Valley Libraries and Museums\nEvent log\nSite: TV07\nPrinted 15/03/2025 09:00\n\n"
        + page.format(1)
        + "13/03/2025,18:00:00,Area 1 armed by User 4\n13/03/2025,18:40:00,Zone 07 alarm\n\n"
        + page.format(2)
        + "14/03/2025,08:44:00,Area 1 disarmed by User 4\n\nTotal records: 3\nEnd of report\n"
    )
    found = reading(text, site=None)
    assert found.sites == ("TV07",)
    assert (found.read, found.unread) == (3, 0)


def test_a_date_on_the_first_row_of_its_day_alone():
    text = """Date,Time,Event
13/03/2025,18:00:00,Area 1 armed by User 4
,18:40:00,Zone 07 alarm
,18:40:05,Zone 07 restored
14/03/2025,08:44:00,Area 1 disarmed by User 4
,08:50:00,Mains failure
"""
    found = reading(text)
    assert found.unread == 0
    assert found.events["wall"].dt.day().to_list() == [13, 13, 13, 14, 14]


def test_a_missing_date_among_written_ones_is_a_damaged_row():
    text = """Date,Time,Event
13/03/2025,18:00:00,Area 1 armed by User 4
13/03/2025,18:10:00,Zone 06 alarm
,18:40:00,Zone 07 alarm
13/03/2025,18:50:00,Zone 07 alarm
"""
    assert told(text)[2] == "unread"


def test_rows_that_cannot_be_read_are_kept_with_the_reason():
    text = """Date,Time,Event
13/03/2025,18:00:00,Area 1 armed by User 4
13/03/2025,18:40:00
13/03/2025,18:40:05,Zone 07 alarm,extra,more
31/02/2025,18:40:05,Zone 07 alarm
13/03/2025,25:40:05,Zone 07 alarm
14/03/2025,08:45:00,Flux capacitor primed
14/03/2025,08:46:00,
"""
    found = reading(text)
    assert (found.read, found.unread) == (1, 6)
    unread = found.events.filter(kind="unread")
    assert unread["raw"].to_list() == text.splitlines()[2:]
    assert unread["problem"].null_count() == 0
    assert unread["row"].to_list() == [3, 4, 5, 6, 7, 8]
    assert found.not_understood["count"].sum() == 6


def test_labels_become_numbers_through_the_zone_schedule():
    text = """Date,Time,Event,Zone
13/03/2025,18:00:00,Alarm,SLIP DOOR
13/03/2025,18:01:00,Alarm,Attic
"""
    schedule = "site,zone,name,use\nA,007,Slip door,perimeter\n"
    assert told(text, zones=schedule) == [
        "intrusion-alarm/begin zone=7",
        "intrusion-alarm/begin zone=Attic",
    ]


def test_one_row_of_several_areas_tells_several_events():
    found = reading("Date/Time;Event\n2025-03-13 18:00:00;Areas 1-3 unset by User 4\n")
    assert found.events["area"].to_list() == ["1", "2", "3"]
    assert found.events["piece"].to_list() == [1, 2, 3]
    assert found.read == 1


def test_a_row_with_one_thing_not_understood_counts_once_as_unread():
    text = "Date/Time;Code\n2025-03-13 18:00:00;Nri1/BA015/QX2\n2025-03-13 18:01:00;Nri1/BA016\n"
    found = reading(text)
    assert shown(found) == [
        "intrusion-alarm/begin zone=15 area=1",
        "unread",
        "intrusion-alarm/begin zone=16 area=1",
    ]
    assert (found.read, found.unread) == (1, 1)


QUESTIONS = {
    "dates": "Date,Time,Event\n03/04/2025,18:00:00,Zone 1 alarm\n04/04/2025,08:00:00,Mains fail\n",
    "time-zone": "Date,Time,Event\n13/03/2025,18:00:00,Zone 1 alarm\n",
    "site": "Date,Time,Event\n13/03/2025,18:00:00,Zone 1 alarm\n",
}


@pytest.mark.parametrize("key", QUESTIONS)
def test_what_a_file_leaves_open_is_asked(key):
    known = {"time-zone": {"time_zone": None}, "site": {"site": None}}.get(key, {})
    assert asked(QUESTIONS[key], **known) == [key]
    answer = {"dates": "month-first", "time-zone": "Australia/Perth", "site": "B"}[key]
    assert asked(QUESTIONS[key], **known, answers={key: answer}) == []


def test_an_answer_that_decides_is_told_apart_from_one_that_does_not():
    open_dates, closed = QUESTIONS["dates"], QUESTIONS["site"]
    assert reading(open_dates, answers={"dates": "day-first"}).answered == {"dates"}
    assert reading(closed, answers={"dates": "day-first"}).answered == set()


@pytest.mark.parametrize(
    ("dates", "year"), [("11.03.25 12.03.25 13.03.25", 2025), ("25.03.11 25.03.12 25.03.13", 2025)]
)
def test_a_two_digit_year_is_the_part_that_stays(dates, year):
    rows = "".join(f"{day};18:00:00;Zone 1 alarm\n" for day in dates.split())
    found = reading("Date;Time;Event\n" + rows)
    assert found.events["wall"].dt.year().unique().to_list() == [year]


def test_a_period_that_speaks_against_its_own_form_is_asked_about():
    row = "Date,Time,Event\n03/04/2025,18:00:00,Zone 1 alarm\n"
    assert asked("Event log from 01/03/2025 to 31/03/2025\n" + row) == ["dates"]
    assert asked("Event log from 01/04/2025 to 30/04/2025\n" + row) == []
