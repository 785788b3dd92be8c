"""How a place is used, over the sample logs and over logs that know people by name."""

from dataclasses import fields, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

from eventlab.lab import Lab
from eventlab.lab.people import people_view
from eventlab.lab.standing import work_out
from eventlab.schema import USER, conform
from eventlab.settings import Settings
from tests.analysis.standing import context, events

SETTINGS = Settings()
SAMPLES = Path(__file__).parents[2] / "sample_logs"
PLACE = context("1 entry front door", "2 interior hall", "3 perimeter window")
FIRST = datetime(2025, 1, 6, tzinfo=UTC)


def day(number, clock):
    return f"{FIRST + timedelta(days=number):%Y-%m-%d} {clock}"


def lived(who=("Ragnhild", "7", "Bodil")):
    lines = []
    for n in range(60):
        person = who[n % len(who)]
        lines.append(f"{day(n, '18:00:00')} arm person={person}")
        if n % 9 == 0:
            lines.append(f"{day(n + 1, '07:59:20')} entry-exit-alarm zone=1")
        lines.append(f"{day(n + 1, '08:00:00')} disarm person={person}")
    lines.append(f"{day(20, '12:00:00')} bypass zone=3 person={who[0]}")
    lines.append(f"{day(22, '12:00:00')} bypass end zone=3 person={who[0]}")
    return "\n".join(lines)


def view(*texts, at=None, known=PLACE, settings=SETTINGS):
    standing = work_out(events(*texts), known, settings)
    return people_view(standing, settings, "S1", at)


def everything(told):
    """All that stands in a view, as text."""
    parts = []
    for one in fields(told):
        value = getattr(told, one.name)
        parts.append(value.write_json() if isinstance(value, pl.DataFrame) else repr(value))
    return "\n".join(parts)


def test_people_are_told_by_number_and_never_by_name():
    told = view(lived(), at=date(2025, 2, 1))
    text = everything(told)
    assert "Ragnhild" not in text
    assert "Bodil" not in text
    assert told.people["label"].to_list() == [
        "User 7", "A user told by name (1)", "A user told by name (2)",
    ]  # fmt: skip
    assert set(told.entries["who"]) == {
        "user 7", "a user told by name (1)", "a user told by name (2)",
    }  # fmt: skip
    assert told.trained


def test_what_the_page_says_stands_on_the_log():
    told = view(lived(("1", "2", "3")))
    assert told.says["entry"].startswith("On 7 of 60 entries the alarm went off")
    assert "how much time the others had left is not recorded" in told.says["entry"]
    assert told.says["keypads"] == "Which keypad is used: not recorded."
    assert told.says["bypasses"] == "1 bypass of 1 point."
    assert told.bypasses["hours"].to_list() == [48.0]
    assert told.entries["late"].sum() == 7


def test_where_arming_is_not_told_nothing_is_told_of_people():
    told = view("2025-01-08 07:59:00 intrusion-alarm zone=2\n2025-02-08 03:00:00 test-report")
    assert not told.recorded
    assert told.entries.is_empty()
    assert told.people.is_empty()
    for key in ("entry", "exit", "areas", "people"):
        assert "not recorded" in told.says[key], key
    assert told.questions == []


def test_a_shared_code_is_said_and_nobody_is_told():
    told = view(lived(("1",) * 9 + ("2",)))
    assert "shared code" in told.says["people"]
    assert told.people["expected"].null_count() == told.people.height


@pytest.mark.skipif(not SAMPLES.is_dir(), reason="there are no sample logs here")
def test_the_branch_library_has_a_code_that_is_late_more_often(tmp_path):
    # TV04 was simulated with one hurried person, number 7.
    lab = Lab(tmp_path / "store", create=True, now=datetime(2026, 11, 2, tzinfo=UTC))
    lab.take([SAMPLES])
    told = lab.people("TV04")
    worst = told.people.sort("expected", descending=True)["who"][0]
    assert worst == "user 7"
    assert "more than is usual here" in told.says["people"]
    assert told.doors["door"].to_list() == ["1"]


def test_codes_are_held_against_the_list_of_users_and_nobody_is_named():
    lines = lived(("1", "2", "3"))
    listed = [
        {"site": "S1", "person": "1", "name": "Ragnhild", "since": date(2024, 1, 1)},
        {"site": "S1", "person": "8", "name": "Bodil", "since": date(2024, 1, 1)},
    ]
    known = replace(PLACE, users=conform(pl.DataFrame(listed), USER))
    told = view(lines, known=known, settings=replace(SETTINGS, unused_days=30))
    asked = " ".join(told.questions)
    assert "User 8 stands in the list of users and was not used once" in asked
    assert "User 2 is used and stands in no list of users: whose code is it?" in asked
    assert "Bodil" not in asked
    assert "list of users" not in told.says["codes"]
