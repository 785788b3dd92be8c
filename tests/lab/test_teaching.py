"""Wordings that a person said the meaning of: kept, read by, taken back, never over the tables."""

import polars as pl
import pytest

from eventlab.errors import NotFound, UsageError
from eventlab.lab import Lab, Lesson
from eventlab.meaning import READER

HEAD = "Date/Time,Event\n"
LONDON = {"time_zone": "Europe/London"}


@pytest.fixture
def lab(tmp_path):
    return Lab(tmp_path / "store", create=True)


@pytest.fixture
def take(lab, tmp_path):
    def taken(rows, name="log.csv", head=HEAD, **said):
        path = tmp_path / name
        path.write_text(head + rows)
        (result,) = lab.take([path], **{**LONDON, **said})
        assert result.error is None
        assert result.questions == ()
        return result

    return taken


def told(lab, site=None):
    """Return rows of (site, row, kind, phase, zone, area, person), in order."""
    return [
        tuple(row.values())
        for row in lab.events(site=site)
        .select("site", "row", pl.col("kind", "phase").cast(pl.String), "zone", "area", "person")
        .sort("site", "row", "zone")
        .to_dicts()
    ]


SWAPS = "".join(f"2025-07-0{n} 18:00:00,Bobbin lane {n} swapped\n" for n in range(1, 5))


def test_a_taught_wording_reads_what_is_stored_and_what_comes(lab, take):
    assert take(SWAPS, site="A").unread == 4
    learned = lab.teach(Lesson("Bobbin lane 2 swapped", "sensor-fault"))
    assert learned.forms == ("bobbin lane # swapped",)
    assert (learned.read, learned.unread, learned.exports, learned.sites) == (4, 0, 1, 1)
    assert told(lab) == [
        ("A", n + 1, "sensor-fault", "begin", str(n), None, None) for n in range(1, 5)
    ]
    assert lab.unread().is_empty()
    # From now on: an overlapping export doubles nothing, and another site is read at once.
    more = take(SWAPS + "2025-07-09 18:00:00,BOBBIN lane 17: swapped\n", "b.csv", site="A")
    assert (more.read, more.repeated, more.unread) == (1, 4, 0)
    assert take(SWAPS.replace("2025", "2024"), "c.csv", site="B").read == 4
    assert len(told(lab)) == 9
    assert lab.store.check() == []


def test_rows_say_by_which_lesson_they_were_read(lab, take):
    take(SWAPS + "2025-07-09 18:00:00,Mains fail\n", site="A")
    lab.teach(Lesson("Bobbin lane 2 swapped", "log-state"))
    readings = lab.events()["reading"].unique().sort()
    assert readings[0] == READER
    assert readings[1].startswith(READER + "+t")


def test_what_was_taught_can_be_taken_back(lab, take):
    take(SWAPS, site="A")
    before = lab.events()
    lab.teach(Lesson("Bobbin lane 2 swapped", "sensor-fault", "end"))
    assert {row[3] for row in told(lab)} == {"end"}
    gone = lab.forget("bobbin lane 9 swapped")
    assert (gone.read, gone.unread, gone.sites) == (0, 4, 1)
    assert lab.events().drop("nth").equals(before.drop("nth"))
    with pytest.raises(NotFound):
        lab.forget("bobbin lane 9 swapped")


def test_taught_again_otherwise_the_last_word_counts(lab, take):
    take(SWAPS, site="A")
    lab.teach(Lesson("Bobbin lane 1 swapped", "sensor-fault"))
    changed = lab.teach(Lesson("Bobbin lane 1 swapped", "walk-test"))
    assert (changed.read, changed.unread, changed.sites) == (0, 0, 1)
    assert {row[2] for row in told(lab)} == {"walk-test"}


def test_a_word_for_one_site_holds_there_alone_and_before_one_for_all(lab, take):
    both = "Account,Date/Time,Event\n"
    rows = (
        "A,2025-07-01 18:00:00,Bobbin lane 3 swapped\nB,2025-07-01 18:00:00,Bobbin lane 3 swapped\n"
    )
    take(rows, head=both, answers={"witness": "panel"})
    assert lab.teach(Lesson("Bobbin lane 3 swapped", "tamper", site="B")).read == 1
    assert [row[2] for row in told(lab)] == ["unread", "tamper"]
    assert lab.teach(Lesson("Bobbin lane 3 swapped", "arm")).read == 1
    assert [row[2] for row in told(lab)] == ["arm", "tamper"]
    lab.forget("Bobbin lane 3 swapped", site="B")
    assert [row[2] for row in told(lab)] == ["arm", "arm"]


NUMBERED = [
    ("tamper", None, ("3", None, None)),
    ("disarm", None, (None, None, "3")),
    ("disarm", "area", (None, "3", None)),
    ("mains-loss", None, (None, None, None)),
    ("tamper", "none", (None, None, None)),
]


def test_numbers_are_places(lab, take):
    take("2025-07-01 18:00:00,Bobbin lane 3 swapped\n", site="A")
    for kind, number, places in NUMBERED:
        lab.teach(Lesson("Bobbin lane 3 swapped", kind, number=number))
        assert [row[4:] for row in told(lab)] == [places]


def test_columns_of_their_own_decide_beside_a_taught_wording(lab, take):
    head = "Date/Time,Event,Zone,Area,User\n"
    rows = "2025-07-01 18:00:00,Bobbin swapped,7,2,\n2025-07-01 18:01:00,Loom closed down,,2,4\n"
    take(rows, head=head, site="A")
    lab.teach(Lesson("Bobbin swapped", "tamper"), Lesson("Loom closed down", "arm"))
    assert [row[2:] for row in told(lab)] == [
        ("tamper", "begin", "7", "2", None),
        ("arm", "moment", None, "2", "4"),
    ]


REFUSED = [
    Lesson("Zone 7 alarm", "log-state"),  # the tables read it
    Lesson("Smoke bobbin swapped", "log-state"),  # may be a fire
    Lesson("Panik in Halle 4 gemeldet", "intrusion-alarm"),
    Lesson("Bobbin swapped", "unread"),
    Lesson("Bobbin swapped", "bobbin"),
    Lesson("Bobbin swapped", "arm", "end"),
    Lesson("Bobbin swapped", "tamper", number="till"),
    Lesson("12 34", "tamper"),
]


def test_what_cannot_be_taught_is_refused_and_nothing_is_kept(lab):
    version = lab.version()
    for lesson in REFUSED:
        with pytest.raises(UsageError):
            lab.teach(Lesson("Bobbin lane 1 swapped", "tamper"), lesson)
    assert lab.version() == version


def test_a_word_of_life_safety_may_be_taught_as_such_or_by_who_looked(lab, take):
    take("2025-07-01 18:00:00,Smoke bobbin 4 swapped\n", site="A")
    lab.teach(Lesson("Smoke bobbin 4 swapped", "fire"))
    assert told(lab)[0][2] == "fire"
    lab.teach(Lesson("Smoke bobbin 4 swapped", "log-state", no_life_safety=True))
    assert told(lab)[0][2] == "log-state"


def test_beside_the_name_of_a_life_safety_point_an_ordinary_alarm_is_not_believed(lab, take):
    head = "Date/Time,Event,Zone,Zone name\n"
    rows = (
        "2025-07-01 18:00:00,Bobbin swapped,1,Hall PIR\n"
        "2025-07-01 18:01:00,Bobbin swapped,2,Kitchen smoke detector\n"
    )
    take(rows, head=head, site="A")
    lab.teach(Lesson("Bobbin swapped", "intrusion-alarm"))
    assert [row[2] for row in told(lab)] == ["intrusion-alarm", "unread"]
    assert "life safety" in lab.unread()["problem"][0]
    # Nothing is left to be read again, whatever comes next.
    assert take("2025-07-02 18:00:00,Mains fail,,\n", "b.csv", head=head, site="A").read == 1
    lab.teach(Lesson("Bobbin swapped", "fire"))
    assert [row[2] for row in told(lab)].count("fire") == 2
    lab.forget("Bobbin swapped")
    assert set(lab.unread()["problem"]) <= {
        "no wording known for it",
        "it could be a life-safety alarm or the name of a point",
        "it holds words that are neither known nor in the place of a name",
    }


def test_rows_without_a_time_are_no_matter_of_their_wording(lab, take):
    take(SWAPS + "2025-13-45 99:00:00,Bobbin lane 8 swapped\n", site="A")
    assert lab.teach(Lesson("Bobbin lane 1 swapped", "tamper")).read == 4
    assert lab.unread().height == 1
    version = lab.version()
    assert lab.teach(Lesson("Bobbin lane 1 swapped", "tamper")).sites == 0
    assert lab.version().split()[0] == version.split()[0]


def test_a_lesson_kept_while_its_rows_were_not_read_again_is_made_good_by_the_next_intake(
    lab, take, monkeypatch
):
    take(SWAPS, site="A")
    with monkeypatch.context() as cut:
        cut.setattr("eventlab.lab.teaching.rebuild", _killed)
        with pytest.raises(KeyboardInterrupt):
            lab.teach(Lesson("Bobbin lane 1 swapped", "tamper"))
    assert lab.unread().height == 4
    more = take(SWAPS + "2025-07-09 18:00:00,Mains fail\n", "b.csv", site="A")
    assert (more.read, more.repeated) == (1, 4)
    assert lab.unread().is_empty()
    assert len(told(lab)) == 5


def _killed(*_args, **_said):
    raise KeyboardInterrupt


def test_a_lesson_taught_while_a_file_is_read_holds_for_it_too(lab, take, monkeypatch):
    take("2025-06-01 18:00:00,Bobbin lane 1 swapped\n", "old.csv", site="A")
    keep = type(lab.store).take
    other = Lab(lab.store.place.root)

    def late(store, events, export):
        monkeypatch.setattr(type(lab.store), "take", keep)
        other.teach(Lesson("Bobbin lane 1 swapped", "tamper"))
        return keep(store, events, export)

    monkeypatch.setattr(type(lab.store), "take", late)
    take(SWAPS, "new.csv", site="A")
    assert {row[2] for row in told(lab)} == {"tamper"}
