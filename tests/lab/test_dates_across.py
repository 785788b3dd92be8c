"""Dates that a file leaves open are decided by other files of the intake and by stored rows."""

from datetime import datetime, timedelta

import pytest

from eventlab.lab import Lab

HEAD = "Date/Time,Zone,Event\n"
START = datetime(2025, 3, 1, 6, 15, 9)  # noqa: DTZ001 - a wall time


def rows(moments, form):
    return HEAD + "".join(
        f"{when.strftime(form)} {when:%H:%M:%S},{when.hour % 5 + 1},Zone alarm\n"
        for when in moments
    )


def some(days, form="%d/%m/%Y", start=START):
    """Write rows of some days of a month, in no order that tells."""
    return rows([start.replace(day=day) + timedelta(hours=day % 7) for day in days], form)


OPEN = [4, 11, 2, 9]
CLEAR = [13, 21, 2, 28]


@pytest.fixture
def lab(tmp_path):
    return Lab(tmp_path / "store", create=True)


@pytest.fixture
def take(lab, tmp_path):
    def taken(files, **said):
        paths = []
        for name, text in files.items():
            paths.append(tmp_path / name)
            paths[-1].write_text(text)
        found = lab.take(paths, **{"site": "A", "time_zone": "UTC", **said})
        assert all(result.error is None for result in found)
        return {result.path.rsplit("/", 1)[1]: result for result in found}

    return taken


def days(lab):
    return sorted({(e["wall"].month, e["wall"].day) for e in lab.events().to_dicts()})


@pytest.mark.parametrize("form", ["%d/%m/%Y", "%m/%d/%Y"])
def test_another_file_of_the_intake_decides_whichever_comes_first(lab, take, form):
    found = take({"a.csv": some(OPEN, form), "b.csv": some(CLEAR, form)})
    assert [one.questions for one in found.values()] == [(), ()]
    assert days(lab) == sorted({(3, day) for day in OPEN + CLEAR})
    assert any("other exports that look the same" in line for line in found["a.csv"].evidence)


def test_files_that_differ_decide_nothing(take):
    texts = {
        "a.csv": some(OPEN),
        "b.csv": some(CLEAR),
        "c.csv": some([14, 22], "%m/%d/%Y"),
    }
    assert [q.key for q in take(texts)["a.csv"].questions] == ["dates"]


def test_a_file_that_reads_alike_both_ways_decides_nothing(take):
    found = take({"a.csv": some(OPEN), "b.csv": some([3, 3, 3])})
    assert [q.key for q in found["a.csv"].questions] == ["dates"]
    # Not even later, for the same site.
    assert [q.key for q in take({"c.csv": some([5, 8])})["c.csv"].questions] == ["dates"]


def test_a_file_of_another_look_decides_nothing(take):
    other = some(CLEAR).replace("Zone,", "Point,")
    assert [q.key for q in take({"a.csv": some(OPEN), "b.csv": other})["a.csv"].questions] == [
        "dates"
    ]


def test_an_earlier_export_of_the_site_decides(lab, take):
    take({"b.csv": some(CLEAR)})
    assert take({"a.csv": some(OPEN)})["a.csv"].questions == ()
    assert [q.key for q in take({"c.csv": some([5, 8])}, site="B")["c.csv"].questions] == ["dates"]
    before = lab.events().height
    lab.retake()
    assert lab.events().height == before


def test_a_dry_run_uses_the_other_files_too(tmp_path):
    for name, text in {"a.csv": some(OPEN), "b.csv": some(CLEAR)}.items():
        (tmp_path / name).write_text(text)
    found = Lab(tmp_path / "store", dry=True).take(
        [tmp_path / "a.csv", tmp_path / "b.csv"], site="A", time_zone="UTC"
    )
    assert [one.questions for one in found] == [(), ()]


def test_rows_that_are_stored_already_decide(lab, take):
    take({"first.csv": some(OPEN, "%Y-%m-%d")})
    found = take({"second.csv": some([*OPEN, 12])})["second.csv"]
    assert (found.questions, found.repeated, found.read) == ((), 4, 1)
    assert any("stored already" in line for line in found.evidence)
    # Of another site nothing is stored.
    assert take({"other.csv": some([*OPEN, 12, 10])}, site="B")["other.csv"].questions != ()


def test_stored_rows_against_files_of_the_same_look_are_asked_about(lab, take):
    take({"first.csv": some(OPEN, "%Y-%m-%d")})
    take({"look.csv": some(CLEAR, "%m/%d/%Y", START.replace(month=7))})
    found = take({"open.csv": some([*OPEN, 12])})["open.csv"]
    assert [q.key for q in found.questions] == ["dates"]
    assert any("stored already say day-first" in line for line in found.questions[0].evidence)


def test_stored_rows_tell_the_year(lab, take):
    moments = [START + timedelta(hours=31 * n) for n in range(12)]
    take({"first.csv": rows(moments, "%Y-%m-%d")})
    later = [START + timedelta(hours=31 * n) for n in range(6, 20)]
    found = take({"second.csv": rows(later, "%d %b")})["second.csv"]
    assert (found.questions, found.repeated, found.read) == ((), 6, 8)
    assert {e["wall"].year for e in lab.events().to_dicts()} == {2025}
    before = lab.events().height
    lab.retake()
    assert lab.events().height == before


def test_a_year_that_was_answered_is_no_answer_for_others_and_can_be_corrected(lab, take):
    moments = [START + timedelta(hours=31 * n) for n in range(12)]
    assert take({"a.csv": rows(moments, "%d %b")}, answers={"year": "2024"})["a.csv"].read == 12
    late = [START + timedelta(days=60, hours=31 * n) for n in range(12)]
    assert [q.key for q in take({"b.csv": rows(late, "%d %b")})["b.csv"].questions] == ["year"]
    (sha256,) = lab.logs()["sha256"]
    lab.retake(export=sha256, answers={"year": "2023"})
    assert {e["wall"].year for e in lab.events().to_dicts()} == {2023}


def test_lines_that_only_tell_a_date_are_no_rows(lab, take):
    text = "Time,Zone,Event\nMonday 3 March 2025\n08:00:00,1,Zone alarm\n"
    text += "Tuesday 4 March 2025\n09:00:00,1,Zone alarm\n10:00:00,1,\n"
    found = take({"heads.csv": text})["heads.csv"]
    assert (found.rows, found.read, found.unread) == (3, 2, 1)
    assert found.lines == found.rows + found.other
    again = take({"heads.csv": text})["heads.csv"]
    assert (again.already, again.rows) == (True, 3)
    assert lab.events().height == 3
    lab.retake()
    assert lab.events().height == 3


def test_times_without_a_date_wait_for_their_date(lab, take):
    text = "Time,Zone,Event\n08:00:00,1,Zone alarm\n09:00:00,1,Zone alarm\n"
    assert [q.key for q in take({"a.csv": text})["a.csv"].questions] == ["date"]
    assert take({"a.csv": text}, answers={"date": "2025-03-03"})["a.csv"].read == 2
    assert days(lab) == [(3, 3)]
    lab.retake(export=lab.logs()["sha256"][0], answers={"date": "2025-03-05"})
    assert days(lab) == [(3, 5)]


def test_what_an_export_decides_it_decides_also_after_a_retake(lab, take):
    take({"b.csv": some(CLEAR)})
    lab.retake(export=lab.logs()["sha256"][0], answers={"witness": "panel"})
    assert take({"a.csv": some(OPEN)})["a.csv"].questions == ()
