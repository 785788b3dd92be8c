"""A very large log is read in parts and is the same as read whole."""

import random

import pytest

from eventlab.lab import Lab, bulk, finding_files, splitting

HEAD = "Event history\nAccount,Time,Event,Zone\n"
SITES = "site,name,time_zone\n" + "".join(f"S{n:03},Hall {n},Europe/London\n" for n in range(40))
EVENTS = ["Intruder alarm", "Intruder alarm restored", "Mains failure", "Who knows", "Test report"]


def lines(number, *, seed=1, odd=True):
    """Rows of 40 sites in the order of time; some are damaged, repeated or of no site."""
    chance = random.Random(seed)
    for n in range(number):
        day, minute = divmod(n * 13, 1440)
        date = f"{1 + day % 28:02}/{1 + day // 28:02}/2025"
        time = f"{date} {minute // 60:02}:{minute % 60:02}:{n % 60:02}"
        account = f"S{chance.randrange(40):03}"
        row = f"{account},{time},{chance.choice(EVENTS)},{chance.randrange(1, 9)}"
        yield row
        if odd and n % 97 == 0:
            yield row
            yield f"{account},{time}"
            yield f",{time},Intruder alarm,4"
            yield ""


@pytest.fixture
def small(monkeypatch):
    """What is very large is a matter of taste."""
    monkeypatch.setattr(bulk, "BULK", 100_000)
    monkeypatch.setattr(finding_files, "HEAD", 20_000)
    monkeypatch.setattr(bulk, "PART", 40_000)
    monkeypatch.setattr(splitting, "_PIECE", 40_000)
    used = []
    take = bulk._take

    def told(*args, **kwargs):
        used.append(take(*args, **kwargs))
        return used[-1]

    monkeypatch.setattr(bulk, "_take", told)
    return used


@pytest.fixture
def log(tmp_path):
    (tmp_path / "sites.csv").write_text(SITES)
    path = tmp_path / "log.csv"
    path.write_text(HEAD + "\n".join(lines(3000)) + "\nEnd of history\n")
    return path


def take(tmp_path, name, *paths, **how):
    lab = Lab(tmp_path / name, create=True)
    return lab, lab.take([tmp_path / "sites.csv", *paths], **how)[1:]


def same(one, other):
    ours, theirs = (lab.events().sort("row", "piece") for lab in (one, other))
    # Where a row without a time stands is only an estimate, from the rows around it.
    loose = ours["at"].is_null()
    assert ours.drop("placed").equals(theirs.drop("placed"))
    assert ours.filter(~loose).equals(theirs.filter(~loose))


def test_in_parts_it_is_what_it_is_as_a_whole(tmp_path, log, small, monkeypatch):
    parts, (taken,) = take(tmp_path, "parts", log)
    assert len(small) == 1
    again = Lab(tmp_path / "parts").take([log])[0]
    dry = Lab(tmp_path / "none", dry=True).take([tmp_path / "sites.csv", log])[1]
    monkeypatch.undo()
    whole, (expected,) = take(tmp_path, "whole", log)
    assert len(small) == 3
    counts = ("lines", "rows", "read", "repeated", "unread", "events", "doubtful", "other")
    assert [getattr(taken, n) for n in counts] == [getattr(expected, n) for n in counts]
    assert taken.not_understood.equals(expected.not_understood)
    assert taken.rows == taken.read + taken.repeated + taken.unread
    assert (again.already, again.repeated, again.rows) == (True, taken.rows, taken.rows)
    assert (dry.read, dry.unread, dry.rows) == (expected.read, expected.unread, expected.rows)
    same(parts, whole)
    assert parts.store.exports().drop("taken_at").equals(whole.store.exports().drop("taken_at"))
    assert parts.store.check() == []
    parts.retake()
    same(parts, whole)


def test_an_export_that_is_mostly_known(tmp_path, log, small):
    lab, (first,) = take(tmp_path, "store", log)
    longer = tmp_path / "longer.csv"
    longer.write_text(HEAD + "\n".join(lines(3300)) + "\n")
    (taken,) = lab.take([longer])
    assert len(small) == 2
    assert taken.repeated == first.rows
    assert taken.rows == taken.read + taken.repeated + taken.unread
    assert lab.store.check() == []


def test_a_question_is_asked_of_the_whole_and_answered_for_all_parts(tmp_path, small):
    (tmp_path / "sites.csv").write_text(SITES)
    log = tmp_path / "log.csv"
    few = [row for row in lines(3000, odd=False) if int(row[5:7]) < 13]
    random.Random(1).shuffle(few)
    log.write_text(HEAD + "\n".join(few * 2) + "\n")
    lab, (asked,) = take(tmp_path, "store", log)
    assert [question.key for question in asked.questions] == ["dates"]
    assert lab.events().is_empty()
    assert [one.name for one in lab.store.waiting()] == ["log.csv"]
    (taken,) = lab.take([log], answers={"dates": "day-first"})
    assert taken.read
    (other,) = lab.take([log], answers={"dates": "month-first"})
    assert "retake" in other.error


@pytest.mark.parametrize(
    "text",
    [
        '"S001","01/03/2025 10:00:00","Intruder\nalarm","1"\n',
        "S001,01/03/2025 10:00:00,Intruder\ralarm,1\n",
        "S007,01/03/2025 10:00:00,Intruder alarm,1\ns007,01/03/2025 10:00:00,Intruder alarm,1\n",
    ],
    ids=["a line end in quotes", "a lone return", "one site under two names"],
)
def test_what_cannot_be_cut_is_read_whole(tmp_path, small, monkeypatch, text):
    (tmp_path / "sites.csv").write_text(SITES)
    log = tmp_path / "log.csv"
    log.write_text(HEAD + "\n".join(lines(3000)) + "\n" + text, newline="")
    parts, (taken,) = take(tmp_path, "parts", log)
    monkeypatch.undo()
    whole, (expected,) = take(tmp_path, "whole", log)
    assert (taken.rows, taken.read, taken.unread) == (
        expected.rows,
        expected.read,
        expected.unread,
    )
    same(parts, whole)
