"""Layouts: recognised next time and shown as such, listed, carried elsewhere, removed."""

import json
from datetime import UTC, datetime

import pytest

from eventlab.errors import NotFound, WrongContext
from eventlab.lab import Lab

OPEN = "Date,Time,Event\n03/04/{0},18:00:00,Zone 1 alarm\n04/04/{0},08:00:00,Mains fail\n"
PLAIN = "Date,Time,Event\n13/04/{0},18:00:00,Zone 1 alarm\n14/04/{0},08:00:00,Mains fail\n"
AMERICAN = "Date,Time,Event\n04/13/{0},18:00:00,Zone 1 alarm\n04/14/{0},08:00:00,Mains fail\n"
ROW = {"key": "x", "name": "y", "taken": "2025-01-01T00:00:00Z", "columns": ""}


@pytest.fixture
def lab(tmp_path):
    return Lab(tmp_path / "store", create=True)


@pytest.fixture
def take(lab, tmp_path):
    def taken(text, name, *, into=None, **said):
        path = tmp_path / name
        path.write_text(text)
        (result,) = (into or lab).take([path], **{"time_zone": "Europe/London", **said})
        return result

    return taken


def test_a_layout_that_was_answered_for_is_recognised_and_shown_as_such(lab, take):
    first = take(OPEN.format(2025), "export A.csv", site="A", answers={"dates": "day-first"})
    assert first.notes == ()
    (layout,) = lab.layouts()
    assert (layout.name, dict(layout.answers)) == ("export A.csv", {"dates": "day-first"})
    assert layout.columns == "divided by comma; “Date” date, “Time” time, “Event” words"
    next_one = take(OPEN.format(2024), "b.csv", site="B")
    today = datetime.now(UTC)
    told = f"read like “export A.csv” of {today.day} {today:%B %Y}; answers: dates day-first"
    assert next_one.notes == (told,)
    assert next_one.as_dict()["notes"] == [told]
    # Nothing was asked of this one, and it looks the same all the same.
    assert take(PLAIN.format(2023), "c.csv", site="C").notes == (told.partition(";")[0],)
    assert lab.layouts()[0].sites == ("A", "B", "C")


def test_a_file_that_speaks_for_itself_is_heard_before_what_is_remembered(lab, take):
    take(OPEN.format(2025), "a.csv", site="A", answers={"dates": "day-first"})
    other = take(AMERICAN.format(2024), "b.csv", site="B")
    assert other.questions == ()
    assert any("dates month-first by its own evidence" in note for note in other.notes)
    assert lab.events(site="B")["wall"].dt.day().to_list() == [13, 14]


def test_a_removed_layout_is_asked_about_again_and_changes_nothing_stored(lab, take):
    take(OPEN.format(2025), "a.csv", site="A", answers={"dates": "day-first"})
    before = lab.events()
    (layout,) = lab.layouts()
    assert lab.remove_layout(layout.key[:6]).key == layout.key
    assert lab.layouts() == []
    assert lab.events().equals(before)
    assert [q.key for q in take(OPEN.format(2024), "b.csv", site="B").questions] == ["dates"]
    with pytest.raises(NotFound):
        lab.remove_layout(layout.key)
    # What is answered from then on is remembered again.
    take(OPEN.format(2024), "b.csv", site="B", answers={"dates": "month-first"})
    assert take(OPEN.format(2023), "c.csv", site="C").questions == ()
    assert lab.events(site="C")["wall"].dt.month().to_list() == [3, 4]


def test_layouts_go_from_one_store_to_another(lab, take, tmp_path):
    take(OPEN.format(2025), "a.csv", site="A", answers={"dates": "day-first"})
    file = tmp_path / "layouts.json"
    assert lab.write_layouts(file) == 1
    assert "A" not in json.loads(file.read_text())["layouts"][0].get("sites", [])
    other = Lab(tmp_path / "other", create=True)
    assert other.read_layouts(file) == 1
    told = take(OPEN.format(2024), "b.csv", into=other, site="B")
    assert told.questions == ()
    assert told.notes[0].startswith("read like “a.csv” of ")
    (layout,) = other.layouts()
    assert (layout.sites, dict(layout.answers)) == (("B",), {"dates": "day-first"})


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        '{"layouts": [{"key": "x"}]}',
        json.dumps({"layouts": [{**ROW, "answers": {"dates": "sideways"}}]}),
    ],
)
def test_a_file_that_holds_no_layouts_is_told(lab, tmp_path, text):
    file = tmp_path / "layouts.json"
    file.write_text(text)
    with pytest.raises(WrongContext, match=r"layouts\.json"):
        lab.read_layouts(file)
    assert lab.layouts() == []
