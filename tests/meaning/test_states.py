"""State columns: the begin or end of what another column tells. The pairs are common practice."""

import pytest

from tests.meaning.exports import asked, reading, shown, told
from tests.meaning.written import HEADINGS, STATES

PAIRS = [(language, *pair) for language, pairs in STATES.items() for pair in pairs]


def table(rows, heading="Date;Time;Event;Zone;State"):
    return heading + "\n" + "".join(
        f"13/03/2025;18:{n // 60:02}:{n % 60:02};{row}\n" for n, row in enumerate(rows)
    )  # fmt: skip


@pytest.mark.parametrize(("language", "on", "off"), PAIRS)
def test_pairs_in_eight_languages(language, on, off):
    names = HEADINGS[language]
    heading = ";".join([*names[:4], names[6]])
    rows = [
        f"Burglary alarm;7;{on}",
        f"Burglary alarm;7;{off}",
        f"Mains failure;;{on}",
        f"Mains failure;;{off}",
        f"Fire alarm;9;{on}",
        f"Fire alarm;9;{off}",
        "Armed;;",
    ]
    assert told(table(rows, heading)) == [
        "intrusion-alarm/begin zone=7", "intrusion-alarm/end zone=7", "mains-loss/begin",
        "mains-loss/end", "fire/begin zone=9", "fire/end zone=9", "arm",
    ]  # fmt: skip


def test_a_thing_and_its_state():
    rows = ["Mains;;Fault", "Mains;;OK", "Smoke detector;9;Fault", "Smoke detector;9;OK",
            "Smoke detector;9;Alarm", "Hall door;;Open", "Hall door;;Closed"]  # fmt: skip
    assert told(table(rows)) == [
        "mains-loss/begin", "mains-loss/end", "sensor-fault/begin zone=9", "fire/end zone=9",
        "fire/begin zone=9", "activation/begin zone=Hall door", "activation/end zone=Hall door",
    ]  # fmt: skip


def test_the_end_of_a_fault_is_no_end_of_a_fire():
    rows = ["Smoke detector;9;Fault", "Smoke detector;9;Fault cleared"]
    assert told(table(rows)) == ["sensor-fault/begin zone=9", "sensor-fault/end zone=9"]


def test_the_mains_on_and_off():
    rows = ["Mains;;OFF", "Mains;;ON", "Mains failure;;ON", "Mains failure;;OFF"]
    assert told(table(rows)) == [
        "mains-loss/begin", "mains-loss/end", "mains-loss/begin", "mains-loss/end",
    ]  # fmt: skip


def test_a_sign_beside_a_thing_says_nothing_of_what_happened():
    found = reading(table(["Mains;;1", "Mains;;0", "Mains failure;;1", "Mains failure;;0"]))
    assert shown(found) == ["unread", "unread", "mains-loss/begin", "mains-loss/end"]
    assert "nothing says what" in found.events["problem"][0]


def test_wording_and_state_against_each_other_are_not_read():
    rows = ["Burglary restored;7;Alarm", "Burglary alarm;7;Alarm", "Burglary alarm;7;Restore"]
    found = reading(table(rows))
    assert shown(found)[0] == "unread"
    assert "against each other" in found.events["problem"][0]


def turned(times=5, *, on="1", off="0"):
    rows = []
    for n in range(times):
        rows += [f"Burglary alarm;{n};{off}", f"Burglary alarm;{n};{on}"]
    return rows


def test_an_inverted_column_is_asked_about():
    text = table(turned())
    assert asked(text) == ["state"]
    assert told(text, answers={"state": "5:ends"})[:2] == [
        "intrusion-alarm/begin zone=0", "intrusion-alarm/end zone=0",
    ]  # fmt: skip
    assert told(text, answers={"state": "5:begins"})[0] == "intrusion-alarm/end zone=0"
    assert told(text, answers={"state": "nothing"})[1] == "intrusion-alarm/begin zone=0"


def test_a_heading_that_tells_an_end():
    rows = [f"Burglary alarm;{n};{sign}" for n in range(4) for sign in "NY"]
    told_by = told(table(rows, "Date;Time;Event;Zone;Restored"))
    assert told_by[:2] == ["intrusion-alarm/begin zone=0", "intrusion-alarm/end zone=0"]


def test_a_column_without_heading_is_told_by_the_order_of_its_rows():
    rows = [row for n in range(4) for row in (f"Burglary alarm;{n};Y", f"Burglary alarm;{n};N")]
    heading = "Date;Time;Event;Zone;Zzz"
    assert told(table(rows, heading))[:2] == [
        "intrusion-alarm/begin zone=0", "intrusion-alarm/end zone=0",
    ]  # fmt: skip
    assert asked(table(rows[:2], heading)) == ["state"]


@pytest.mark.parametrize("heading", ["Acknowledged", "Quittiert", "Acquitté", "Printed"])
def test_what_is_headed_as_something_else_is_no_state(heading):
    rows = [f"Burglary alarm;7;{sign}" for sign in "YNYN"]
    assert set(told(table(rows, f"Date;Time;Event;Zone;{heading}"))) == {
        "intrusion-alarm/begin zone=7"
    }


def test_signs_that_mean_nothing_beside_words_that_tell_both():
    rows = [
        "Burglary alarm;7;Y",
        "Burglary restored;7;Y",
        "Burglary alarm;7;N",
        "Burglary restored;7;N",
    ]
    kinds = ["intrusion-alarm/begin zone=7", "intrusion-alarm/end zone=7"]
    for heading in ("State", "Zzz"):
        assert told(table(rows, f"Date;Time;Event;Zone;{heading}")) == kinds * 2


def test_an_arming_that_is_told_as_off_is_not_read():
    rows = ["Armed;;1", "Armed;;0", "Mains failure;;1", "Mains failure;;0"]
    assert told(table(rows)) == ["arm", "unread", "mains-loss/begin", "mains-loss/end"]


@pytest.mark.parametrize(("on", "off"), [("1", "0"), ("+", "-"), ("aktiv", "inaktiv")])
def test_beside_bare_codes(on, off):
    rows = [f"130;7;{on}", f"130;7;{off}", f"301;;{on}", f"301;;{off}"]
    assert told(table(rows, "Date;Time;Code;Zone;State")) == [
        "intrusion-alarm/begin zone=7", "intrusion-alarm/end zone=7", "mains-loss/begin",
        "mains-loss/end",
    ]  # fmt: skip


def test_a_cell_that_is_no_state_is_not_read():
    rows = [f"Burglary alarm;7;{cell}" for cell in ("Alarm", "Restore") * 300]
    rows[450] = "Burglary alarm;7;Bananas"
    found = told(table(rows))
    assert found.count("unread") == 1
