"""Columns are told by their headings, and by their cells where headings fail."""

import pytest

from eventlab.intake import read_bytes
from eventlab.meaning.fit import joined
from eventlab.meaning.roles import Part, find_roles
from tests.meaning.exports import told

THINGS = """2025-03-13 18:00:00,Mains supply,Failed
2025-03-13 18:10:00,Mains supply,Restored
2025-03-13 18:20:00,Battery,Low
2025-03-13 18:41:00,Slip door,Alarm
2025-03-13 18:43:00,User 4,Armed
"""


def parts(text):
    sheet = read_bytes(text.encode(), name="log.csv")
    found = find_roles(sheet)
    return {part: [int(name[1:]) for name in names] for part, names in found.columns.items()}


@pytest.mark.parametrize(
    "headings",
    ["Date,Time,Event", "Event date,Event time,Message", "Day,Hour,Text", "Log date,Clock,Details"],
)
def test_headings_in_natural_namings(headings):
    found = parts(headings + "\n13/03/2025,18:00:00,Zone 1 alarm\n")
    assert found == {Part.DATE: [0], Part.TIME: [1], Part.WORDS: [2]}


@pytest.mark.parametrize(
    "headings", ["Datum,Zeit,Ereignis", "Occurred on,At,What happened", "A,B,C"]
)
def test_cells_tell_where_headings_say_nothing(headings):
    found = parts(headings + "\n13/03/2025,18:00:00,Zone 1 alarm\n14/03/2025,9:00:00,Mains fail\n")
    assert found == {Part.DATE: [0], Part.TIME: [1], Part.WORDS: [2]}


def test_a_table_without_headings():
    found = parts("13/03/2025,18:00:00,Zone 1 alarm\n14/03/2025,09:00:00,Area 2 armed by User 4\n")
    assert found == {Part.DATE: [0], Part.TIME: [1], Part.WORDS: [2]}


def test_dotted_dates_are_no_clock_times():
    found = parts("DATE;TIME;Message\n15.03.25;08:04:45;Mains fail\n16.03.25;08:05:45;Mains fail\n")
    assert found[Part.DATE] == [0]
    assert found[Part.TIME] == [1]


def test_a_few_broken_clocks_leave_the_column_a_clock():
    rows = "13/03/2025,18:00:00,Mains fail\n13/03/2025,25:00:00,Mains fail\n"
    assert parts("Date,Time,Event\n" + rows)[Part.TIME] == [1]


def test_one_column_with_both_makes_a_second_clock_needless():
    rows = "13/03/2025 18:00:00,18:00,Mains fail\n14/03/2025 18:00:00,18:00,Mains fail\n"
    assert parts("Date/Time,Time,Event\n" + rows) == {Part.WHEN: [0], Part.WORDS: [2]}


@pytest.mark.parametrize("code", ["1131 01 015", "BA015", "Nri1/BA015", "18 1131 01 015"])
def test_codes_under_a_heading_for_words(code):
    assert parts(f"Time,Event\n2025-03-13 18:00:00,{code}\n")[Part.CODE] == [1]


def test_words_under_a_heading_for_codes():
    assert parts("Time,Code\n2025-03-13 18:00:00,Mains fail\n")[Part.WORDS] == [1]


def test_alarm_and_restore_beside_bare_codes_are_their_qualifier():
    rows = "2025-03-13 18:00:00,131,Alarm,15\n2025-03-13 18:00:10,131,Restore,15\n"
    rows += "2025-03-13 18:00:20,301,Trouble,\n2025-03-13 18:00:40,401,Closing,3\n"
    found = parts("Time,Event Code,Event Type,Zone\n" + rows)
    assert found[Part.QUALIFIER] == [2]
    assert found[Part.CODE] == [1]


@pytest.mark.parametrize("thing", ["Item", "Source", "Gizmo", "Zone", "Location"])
def test_things_and_their_states_in_two_columns(thing):
    assert told(f"Date/Time,{thing},Status\n{THINGS}") == [
        "mains-loss/begin",
        "mains-loss/end",
        "system-battery-low/begin",
        "intrusion-alarm/begin zone=Slip door",
        "arm person=4",
    ]


def test_a_column_of_no_meaning_is_not_read_with_the_words():
    text = "Date/Time,Priority,Event,Zone\n2025-03-13 18:00:00,High,Alarm,7\n"
    text += "2025-03-13 18:00:10,Low,Restored,7\n"
    assert told(text) == ["intrusion-alarm/begin zone=7", "intrusion-alarm/end zone=7"]


@pytest.mark.parametrize(
    "text",
    ["Name,Street\nAsh,Main Street 4\n", "Date,Amount\n13/03/2025,4.50\n", "Event\nMains fail\n"],
)
def test_what_is_no_log(text):
    found = find_roles(read_bytes(text.encode(), name="x.csv"))
    assert not (found.timed and found.telling)


def test_columns_of_words_none_of_which_is_understood_stop_nothing():
    rows = "".join(f"0{n}/03/2025 10:00:00;qwx{n};zzy{n}\n" for n in range(1, 9))
    sheet = read_bytes(f"Time;Event;Description\n{rows}".encode(), name="log.csv")
    assert find_roles(sheet).timed
    assert joined(sheet.cells, []).null_count() == sheet.rows
