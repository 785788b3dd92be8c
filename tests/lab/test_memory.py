"""What a store remembers of answers, and what it forgets with the export they were given for."""

import pytest

from eventlab.errors import NotFound, UsageError
from eventlab.lab import Lab

OPEN = "Date,Time,Event\n03/04/2025,18:00:00,Zone 1 alarm\n04/04/2025,08:00:00,Mains fail\n"
ACCOUNTS = """Account,Date/Time,Event
T1,2025-07-13 18:00:00,Mains fail
T2,2025-07-13 18:00:00,Mains fail
T3,2025-07-13 18:00:00,Mains fail
"""
CENTRE = "Monitoring centre history\nAccount;Received;Event\nT1;{0}/07/2025 18:00:00;Mains fail\n"


@pytest.fixture
def lab(tmp_path):
    return Lab(tmp_path / "store", create=True)


@pytest.fixture
def take(lab, tmp_path):
    def taken(text, name="log.csv", *, fails=False, **said):
        path = tmp_path / name
        path.write_text(text)
        (result,) = lab.take([path], **{"time_zone": "Europe/London", **said})
        assert (result.error is not None) == fails
        return result

    return taken


def year(text, number):
    return text.replace("2025", str(number))


def test_answers_that_differ_are_not_recalled(lab, take):
    take(OPEN, "a.csv", site="A", answers={"dates": "day-first"})
    take(year(OPEN, 2024), "b.csv", site="B", answers={"dates": "month-first"})
    assert [q.key for q in take(year(OPEN, 2023), "c.csv", site="C").questions] == ["dates"]
    # Of the same site only its own exports count.
    assert take(year(OPEN, 2022), "d.csv", site="B").questions == ()


def test_what_was_recalled_is_no_answer_for_others(lab, take):
    take(OPEN, "a.csv", site="A", answers={"dates": "day-first"})
    take(year(OPEN, 2024), "b.csv", site="B")
    lab.retake(export=lab.logs().filter(site="A")["sha256"][0], drop=True)
    assert [q.key for q in take(year(OPEN, 2023), "c.csv", site="C").questions] == ["dates"]


def test_a_waiting_export_profits_from_an_answer(lab, take):
    for name, number in (("a.csv", 2025), ("b.csv", 2024)):
        assert take(year(OPEN, number), name, site="A").questions
    first, second = lab.waiting()
    # The site was named on the command line and is asked for again.
    assert {q.key for q in first.questions} == {"site", "dates", "time-zone"}
    answers = {"site": "A", "dates": "day-first", "time-zone": "Europe/London"}
    assert lab.answer(first.sha256, answers).read == 2
    (left,) = lab.waiting()
    assert left.sha256 == second.sha256
    assert {q.key for q in left.questions} == {"site"}
    assert lab.answer(second.sha256, {"site": "A"}).read == 2
    assert lab.waiting() == []
    with pytest.raises(NotFound):
        lab.answer(second.sha256, {})


def test_a_clock_that_was_named_holds_for_the_site_until_it_is_taken_back(lab, take):
    take(OPEN, "a.csv", site="A", answers={"dates": "day-first"})
    assert take(year(OPEN, 2024), "b.csv", site="A", time_zone=None).questions == ()
    other = take(year(OPEN, 2023), "c.csv", site="A", time_zone="Asia/Tokyo", fails=True)
    assert "was said to keep Europe/London" in other.error
    for sha256 in lab.logs()["sha256"]:
        lab.retake(export=sha256, drop=True)
    said = {"site": "A", "time_zone": "Asia/Tokyo", "answers": {"dates": "day-first"}}
    assert take(year(OPEN, 2023), "c.csv", **said).read == 2


def test_named_clocks_stand_beside_listed_ones_when_a_site_is_read_again(lab, take):
    take("site,name,time_zone\nT1,One,Europe/London\nT2,Two,Australia/Hobart\n", "sites.csv")
    assert [q.key for q in take(ACCOUNTS, time_zone=None).questions] == ["time-zone"]
    take(ACCOUNTS, time_zone="Asia/Kathmandu")
    hours = {"T1": 17, "T2": 8, "T3": 12}
    assert {e["site"]: e["at"].hour for e in lab.events().to_dicts()} == hours
    lab.retake()
    assert {e["site"]: e["at"].hour for e in lab.events().to_dicts()} == hours
    take("site,name,time_zone\nT1,One,Europe/Paris\n", "sites2.csv")
    assert {e["site"]: e["at"].hour for e in lab.events().to_dicts()} == {**hours, "T1": 16}


def test_the_clock_of_a_centre_is_remembered_for_its_histories(lab, take):
    first, later = CENTRE.format(13), CENTRE.format(14)
    assert [q.key for q in take(first, time_zone=None).questions] == ["time-zone"]
    take(first, time_zone=None, answers={"time-zone": "Europe/Paris"})
    take(later, "later.csv", time_zone=None)
    assert lab.events()["at"].dt.hour().to_list() == [16, 16]


def test_a_dry_run_remembers_too(lab, take, tmp_path):
    take(OPEN, "a.csv", site="A", answers={"dates": "day-first"})
    path = tmp_path / "b.csv"
    path.write_text(year(OPEN, 2024))
    dry = Lab(tmp_path / "store", dry=True)
    (result,) = dry.take([path], site="A", time_zone="Europe/London")
    assert (result.questions, result.read) == ((), 2)
    assert lab.events().height == 2


def test_wrong_answers_change_nothing(lab, take):
    with pytest.raises(UsageError):
        take(OPEN, site="A", answers={"dates": "sideways"})
    take(OPEN, site="A", answers={"dates": "day-first"})
    with pytest.raises(UsageError):
        lab.retake(export=lab.logs()["sha256"][0], answers={"witness": "neighbour"})
    with pytest.raises(NotFound):
        lab.retake(export="ffffffff")
    with pytest.raises(NotFound):
        lab.retake(site="Z")
    assert lab.events().height == 2


COLUMNS = """Date,Time,Event,Mzz,Qzz
13/03/2025,18:00:00,Burglary alarm,7,Y
13/03/2025,18:01:00,Tamper,5,N
13/03/2025,18:09:00,Burglary alarm,7,N
"""


def test_what_columns_are_is_asked_once(lab, take):
    said = {"dates": "day-first", "columns": "4:point", "state": "5:begins"}
    assert [q.key for q in take(COLUMNS, "a.csv", site="A").questions] == ["columns"]
    assert take(COLUMNS, "b.csv", site="A", answers=said).events == 3
    again = take(COLUMNS.replace("13/03", "14/03"), "c.csv", site="A")
    assert again.questions == ()
    assert again.events == 3
    wrong = take(
        COLUMNS.replace("13/03", "15/03"), "d.csv", site="B", answers={"columns": "x"}, fails=True
    )
    assert "no answer to 'columns'" in wrong.error
