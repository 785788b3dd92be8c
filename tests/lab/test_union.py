"""Exports that tell the same rows in different ways unite, whichever comes first."""

import itertools

import pytest

from eventlab.lab import Lab

SECONDS = """Date,Time,Event
13/03/2025,18:00:03,Zone 1 alarm
13/03/2025,18:00:40,Zone 1 alarm
13/03/2025,18:07:33,Zone 2 alarm
14/03/2025,08:07:33,Area 1 disarmed by User 4
"""
MINUTES = """Date;Time;Message
13/03/2025;18:00;Zone 1 alarm
13/03/2025;18:00;Zone 1 alarm
13/03/2025;18:00;Zone 1 alarm
13/03/2025;18:07;Zone 2 alarm
14/03/2025;08:07;Area 1 disarmed by User 4
15/03/2025;18:07;Zone 4 alarm
"""


@pytest.fixture
def taken(tmp_path):
    """Take exports in an order into a store of their own; give the store and what was told."""
    stores = itertools.count()

    def take(*texts):
        lab = Lab(tmp_path / f"s{next(stores)}", create=True)
        told = []
        for text in texts:
            path = tmp_path / "log.csv"
            path.write_text(text)
            (result,) = lab.take([path], site="A", time_zone="Europe/London")
            assert result.error is None
            assert result.rows == result.read + result.repeated + result.unread
            told.append(result)
        before = lab.events()
        lab.retake()
        assert lab.events().equals(before)
        return lab, told

    return take


def rows(lab, *names):
    return lab.events().select(names).rows()


@pytest.mark.parametrize("order", [(0, 1), (1, 0)], ids=["finer first", "coarser first"])
def test_exports_of_unequal_grain_unite_and_the_finer_rows_win(taken, order):
    lab, told = taken(*(((SECONDS, MINUTES)[n]) for n in order))
    assert [zone for zone, grain in rows(lab, "zone", "grain") if grain == 1] == [
        "1",
        "1",
        "2",
        None,
    ]
    assert rows(lab, "zone", "grain").count(("1", 60)) == 1  # the coarser one shows three
    assert lab.events().height == 6
    assert told[1].repeated == 4


def test_a_coarse_export_that_overlaps_a_coarse_one_beside_a_fine_one(taken):
    lab, told = taken(SECONDS, MINUTES, MINUTES + "16/03/2025;18:07;Zone 4 alarm\n")
    assert lab.events().height == 7
    assert (told[2].read, told[2].repeated) == (1, 6)


HEAD = "Date/Time,Event,Zone,Area,User\n"
SAID = HEAD + "2025-03-13 18:00:00,Alarm,7,1,\n2025-03-13 18:01:00,Disarmed,,1,4\n"
UNSAID = "Date/Time;Event;Zone\n2025-03-13 18:00:00;Alarm;7\n2025-03-13 18:01:00;Disarmed;\n"


@pytest.mark.parametrize("texts", [(SAID, UNSAID), (UNSAID, SAID)])
def test_a_field_that_one_side_does_not_say_matches(taken, texts):
    lab, told = taken(*texts)
    assert rows(lab, "kind", "zone") == [("intrusion-alarm", "7"), ("disarm", None)]
    assert (told[1].read, told[1].repeated) == (0, 2)


def test_but_only_where_the_pairing_is_unique(taken):
    two = HEAD + "2025-03-13 18:00:00,Alarm,7,1,\n2025-03-13 18:00:00,Alarm,7,2,\n"
    lab, told = taken(two, UNSAID)
    assert told[1].read == 2
    assert lab.events().height == 4


def test_two_things_that_are_told_apart_never_match(taken):
    other = HEAD + "2025-03-13 18:00:00,Alarm,8,1,\n2025-03-13 18:01:00,Disarmed,,2,4\n"
    lab, told = taken(SAID, other)
    assert told[1].read == 2
    assert lab.events().height == 4


def test_what_both_exports_show_is_never_matched_otherwise(taken):
    # One alarm of the area and one of a point in it, in the same second, are two.
    both = HEAD + "2025-03-13 18:00:00,Alarm,,1,\n2025-03-13 18:00:00,Alarm,7,1,\n"
    both += "2025-03-13 18:01:00,Disarmed,,1,4\n"
    lab, told = taken(both, both + "2025-03-13 18:02:00,Armed,,1,4\n")
    assert told[1].read == 1
    assert lab.events().height == 4


def test_a_repeated_hour_that_one_side_could_not_order(taken):
    head = "Date,Time,Event\n"
    lone = head + "26/10/2025,01:30:00,Zone 1 alarm\n27/10/2025,12:00:00,Mains fail\n"
    whole = head + "26/10/2025,00:30:00,Zone 3 alarm\n26/10/2025,01:30:00,Zone 1 alarm\n"
    whole += "26/10/2025,01:10:00,Zone 2 alarm\n27/10/2025,12:00:00,Mains fail\n"
    for texts in ((lone, whole), (whole, lone)):
        lab, told = taken(*texts)
        assert lab.events().height == 4, texts
        assert told[1].repeated >= 2


@pytest.mark.parametrize("answer", ["yes", "no"])
def test_a_file_with_every_row_twice_is_asked_about(tmp_path, answer):
    path = tmp_path / "log.csv"
    rows = [f"13/03/2025,{10 + n // 2}:00:{n:02},Zone {n} alarm" for n in range(12)] * 2
    rows += [f"14/03/2025,{10 + n}:00:{n:02},Zone {n} alarm" for n in range(12)]
    path.write_text("Date,Time,Event\n" + "\n".join(sorted(rows * 2)) + "\n")
    lab = Lab(tmp_path / "store", create=True)
    (asked,) = lab.take([path], site="A", time_zone="Europe/London")
    assert [question.key for question in asked.questions] == ["doubled"]
    assert lab.events().is_empty()
    said = {"site": "A", "time_zone": "Europe/London"}
    (taken,) = lab.take([path], answers={"doubled": answer}, **said)
    # The first day stands four times over, each of its rows truly twice.
    assert taken.rows == 72
    assert lab.events().height == {"yes": 36, "no": 72}[answer]
    assert taken.rows == taken.read + taken.repeated + taken.unread
    before = lab.events()
    lab.retake()
    assert lab.events().equals(before)
    other = "no" if answer == "yes" else "yes"
    lab.retake(export=taken.sha256[:12], answers={"doubled": other})
    assert lab.events().height == {"yes": 36, "no": 72}[other]
    assert lab.store.check() == []


def test_a_few_rows_or_parts_that_follow_one_another_are_not_asked_about(tmp_path):
    lab = Lab(tmp_path / "store", create=True)
    rows = [f"13/03/2025,1{n // 10}:00:{n:02},Zone {n} alarm" for n in range(40)]
    for name, text in {"glued.csv": rows * 2, "few.csv": sorted(rows[:9] * 2)}.items():
        (tmp_path / name).write_text("Date,Time,Event\n" + "\n".join(text) + "\n")
        (taken,) = lab.take([tmp_path / name], site="A", time_zone="Europe/London")
        assert taken.questions == ()
    assert lab.events().filter(lab.events()["nth"] == 1).height == 40


ZONES = "site,zone,name\nA,7,Slip door\nA,8,Boat hall\n"
NUMBERS = "Date,Time,Event,Zone\n13/03/2025,18:00:00,Alarm,7\n14/03/2025,18:00:00,Alarm,08\n"
LABELS = (
    "Date,Time,Event,Zone\n13/03/2025,18:00:00,Alarm,Slip Door\n"
    "14/03/2025,18:00:00,Alarm,BOAT HALL\n15/03/2025,18:00:00,Alarm,Attic\n"
)


@pytest.mark.parametrize("schedule", ["before", "after"])
@pytest.mark.parametrize("texts", [(NUMBERS, LABELS), (LABELS, NUMBERS)])
def test_labels_and_numbers_meet_through_the_schedule(tmp_path, schedule, texts):
    lab = Lab(tmp_path / "store", create=True)
    files = [("zones.csv", ZONES)] * (schedule == "before")
    files += [(f"{n}.csv", text) for n, text in enumerate(texts)]
    files += [("zones.csv", ZONES)] * (schedule == "after")
    for name, text in files:
        (tmp_path / name).write_text(text)
        said = {"site": "A", "time_zone": "Europe/London"} if name[0].isdigit() else {}
        lab.take([tmp_path / name], **said)
    assert [zone.lower() for (zone,) in rows(lab, "zone")] == ["7", "8", "attic"]
    assert lab.store.check() == []
