"""The promises of intake, asked for the way a person types them."""

import csv
import io
import os
from pathlib import Path

import pytest

from eventlab.store import Store

LONDON = ("--time-zone", "Europe/London")
SITE = ("--site", "A", *LONDON)
HEAD = "Date,Time,Event\n"
OPEN = HEAD + "03/04/2025,18:00:00,Zone 1 alarm\n04/04/2025,08:00:00,Zone 2 alarm\n"
CLEAR = HEAD + "13/03/2025,18:00:00,Zone 1 alarm\n14/03/2025,08:00:00,Zone 2 alarm\n"
COLUMNS = (
    "site at placed wall timing grain kind phase mode area zone person person_name witness path "
    "text code source row piece nth reading raw problem"
)


@pytest.fixture
def desk(run, tmp_path):
    """One store and what is typed at it."""

    class Desk:
        store = tmp_path / "store"

        def file(self, text, name="log.csv"):
            path = tmp_path / name
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(text if isinstance(text, bytes) else text.encode())
            return path

        def take(self, path, *words, want=0):
            done = run("intake", path, "--store", self.store, *words, "--format", "json")
            assert done.status == want, done.out + done.err
            return done.json()["files"][0] if done.out else done.err

        def events(self, *words):
            return run("events", "--store", self.store, *words, "--format", "json").json()

        def retake(self, *words):
            return run("retake", "--store", self.store, *words)

    return Desk()


def test_events_have_the_columns_of_the_contract_and_times_end_in_z(desk):
    file = desk.take(desk.file(CLEAR), *SITE)
    assert (file["lines"], file["rows"], file["other"]) == (3, 2, 1)
    first = desk.events()[0]
    assert list(first) == COLUMNS.split()
    assert first["at"] == first["placed"] == "2025-03-13T18:00:00Z"
    assert first["wall"] == "2025-03-13T18:00:00"


FOLD = ["00:50:00", "01:10:00", "01:40:00", "01:05:00", "01:50:00", "02:10:00"]
FOLD_UTC = ["25T23:50", "26T00:10", "26T00:40", "26T01:05", "26T01:50", "26T02:10"]


@pytest.mark.parametrize("turn", [1, -1], ids=["oldest first", "newest first"])
def test_a_repeated_hour_is_told_apart_by_row_order(desk, turn):
    rows = ["25/10/2025,12:00:00,Mains fail"]
    rows += [f"26/10/2025,{clock},Zone {n} alarm" for n, clock in enumerate(FOLD)]
    rows += ["27/10/2025,12:00:00,Mains restored"]
    desk.take(desk.file(HEAD + "\n".join(rows[::turn]) + "\n"), *SITE)
    found = desk.events()[1:-1]
    assert [e["at"] for e in found] == [f"2025-10-{at}:00Z" for at in FOLD_UTC]
    assert [e["timing"] for e in found] == ["sure", *["by-order"] * 4, "sure"]


@pytest.mark.parametrize("turn", [1, -1], ids=["oldest first", "newest first"])
def test_a_skipped_hour_is_doubtful_and_in_its_place(desk, turn):
    rows = ["29/03/2025,22:00:00,Zone 1 alarm", "30/03/2025,01:30:00,Zone 2 alarm"]
    rows += ["30/03/2025,12:00:00,Zone 3 alarm"]
    file = desk.take(desk.file(HEAD + "\n".join(rows[::turn]) + "\n"), *SITE)
    assert file["doubtful"] == 1
    found = desk.events()
    assert [e["zone"] for e in found] == ["1", "2", "3"]
    assert (found[1]["at"], found[1]["timing"]) == (None, "doubtful")
    assert found[1]["placed"].endswith("Z")


def test_rows_of_one_moment_come_in_the_order_they_happened(desk):
    rows = ["14/03/2025,08:00,Mains fail", "13/03/2025,18:00,Zone 1 restored"]
    rows += ["13/03/2025,18:00,Zone 1 alarm", "13/03/2025,17:00,Area 1 armed by User 4"]
    desk.take(desk.file(HEAD + "\n".join(rows) + "\n"), *SITE)
    kinds = [(e["kind"], e["phase"]) for e in desk.events()]
    alarm = [("intrusion-alarm", "begin"), ("intrusion-alarm", "end")]
    assert kinds == [("arm", "moment"), *alarm, ("mains-loss", "begin")]
    minute = ("--since", "2025-03-13T18:00", "--until", "2025-03-13T18:01")
    assert [(e["kind"], e["phase"]) for e in desk.events(*minute)] == alarm


def test_overlapping_exports_unite_to_the_largest_count(desk):
    rows = [f"13/03/2025,18:00:0{n},Zone {n} alarm" for n in range(7)]
    desk.take(desk.file(HEAD + "\n".join([*rows[:4], rows[2], rows[4]]) + "\n", "a.csv"), *SITE)
    late = [rows[1], *[rows[2]] * 3, *rows[3:]]
    file = desk.take(desk.file(HEAD + "\n".join(late) + "\n", "b.csv"), *SITE)
    assert (file["rows"], file["read"], file["repeated"]) == (8, 3, 5)
    assert [e["zone"] for e in desk.events()] == ["0", "1", "2", "2", "2", "3", "4", "5", "6"]


def test_a_question_waits_and_nothing_is_taken(desk):
    path = desk.file(OPEN)
    file = desk.take(path, *SITE, want=3)
    (question,) = file["questions"]
    assert set(question) == {"key", "text", "choices"}
    assert question["choices"] == ["day-first", "month-first"]
    assert (file["read"], file["events"]) == (0, 0)
    assert desk.events() == []
    desk.take(path, *SITE, "--answer", "dates=year-first", want=3)
    desk.take(path, *SITE, "--answer", "dates=month-first")
    assert desk.events()[0]["wall"] == "2025-03-04T18:00:00"
    again = desk.take(path)
    assert (again["read"], again["repeated"], again["questions"]) == (0, 2, [])


def test_an_answer_is_remembered_for_exports_that_look_the_same(desk):
    desk.take(desk.file(OPEN, "a.csv"), *SITE, "--answer", "dates=month-first")
    like = OPEN.replace("/2025", "/2024")
    file = desk.take(desk.file(like, "b.csv"), "--site", "B", *LONDON)
    assert "dates: month-first, as for other exports that look the same" in file["evidence"]
    assert desk.events("--site", "B")[0]["wall"] == "2024-03-04T18:00:00"
    unlike = like.replace("Date,Time,Event", "Day,Clock,Message")
    desk.take(desk.file(unlike, "c.csv"), "--site", "B", *LONDON, want=3)


def test_other_exports_of_the_site_decide(desk):
    desk.take(desk.file(CLEAR, "a.csv"), *SITE)
    desk.take(desk.file(OPEN, "b.csv"), *SITE)
    assert desk.events()[-1]["wall"] == "2025-04-04T08:00:00"
    other = OPEN.replace("/2025", "/2024")
    desk.take(desk.file(other, "c.csv"), "--site", "B", *LONDON, want=3)


def test_other_answers_are_refused_and_retake_leaves_no_trace(desk, run, tmp_path):
    path = desk.file(OPEN)
    desk.take(path, *SITE, "--answer", "dates=month-first")
    source = desk.events()[0]["source"]
    refused = desk.take(path, *SITE, "--answer", "dates=day-first", want=1)
    assert f"eventlab retake --export {source[:12]}" in refused["error"]
    assert desk.retake("--export", source[:12], "--answer", "dates=day-first").status == 0
    fresh = tmp_path / "fresh"
    run("intake", path, "--store", fresh, *SITE, "--answer", "dates=day-first")
    assert desk.events() == run("events", "--store", fresh, "--format", "json").json()
    desk.take(path, *SITE, "--answer", "dates=month-first", want=1)
    assert desk.retake("--export", source, "--drop").status == 0
    assert desk.events() == []
    desk.take(path, *SITE, want=3)


def test_another_site_and_another_clock_are_answers_too(desk, run):
    path = desk.file(CLEAR)
    desk.take(path, *SITE)
    assert "eventlab retake" in desk.take(path, "--site", "B", want=1)["error"]
    perth = ("--time-zone", "Australia/Perth")
    assert "eventlab retake" in desk.take(path, "--site", "A", *perth, want=1)["error"]
    source = desk.events()[0]["source"]
    assert desk.retake("--export", source, "--site-is", "B", *perth).status == 0
    first = desk.events()[0]
    assert (first["site"], first["at"]) == ("B", "2025-03-13T10:00:00Z")
    gone = run("events", "--store", desk.store, "--site", "A")
    assert gone.status == 1
    assert "Known sites: B" in gone.err


def test_an_answer_that_the_file_speaks_against_is_refused(desk):
    desk.take(desk.file(CLEAR), *SITE)
    done = desk.retake("--export", desk.events()[0]["source"], "--answer", "dates=month-first")
    assert done.status == 1
    assert "day-first" in done.err


def test_a_list_that_comes_later_puts_the_clock_right(desk):
    desk.take(desk.file(CLEAR), *SITE)
    desk.take(desk.file("site,name,time_zone\nA,Boathouse,Australia/Hobart\n", "sites.csv"))
    assert desk.events()[0]["at"] == "2025-03-13T07:00:00Z"


WRONG = [
    ("--answer", "dates=sideways"),
    ("--answer", "dates="),
    ("--answer", "dates"),
    ("--answer", "colour=red"),
    ("--answer", "witness=neighbour"),
    ("--answer", "time-zone=Nowhere/Here"),
    ("--time-zone", "Europe/Londn"),
    ("--time-zone", "../../etc/passwd"),
    ("--format", "xml"),
]


@pytest.mark.parametrize("words", WRONG, ids="=".join)
def test_wrong_usage_is_status_two(desk, run, words):
    done = run("intake", desk.file(OPEN), "--store", desk.store, "--site", "A", *words)
    assert done.status == 2
    assert done.err
    assert "Traceback" not in done.err


NO_LOGS = {
    "empty.csv": b"",
    "blank.csv": b"\n\n \n",
    "bom.csv": b"\xef\xbb\xbf",
    "picture.png": b"\x89PNG\r\n\x1a\n" + b"\x00\x01" * 500,
    "book.xlsx": b"PK\x03\x04" + bytes(range(256)) * 9,
    "bytes.dat": bytes(range(256)) * 40,
    "nothing.csv": bytes(1000),
    "letter.txt": b"Dear sir,\nplease call us back.\n",
}


def test_what_is_no_log_is_named_and_the_rest_is_taken(desk, run, tmp_path):
    for name, data in NO_LOGS.items():
        desk.file(data, f"in/{name}")
    for name in (".hidden.csv", "~x/.git/log.csv"):
        (tmp_path / "in" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "in" / name).write_text(CLEAR)
    (tmp_path / "in" / "dangling.csv").symlink_to("/nowhere")
    os.mkfifo(tmp_path / "in" / "pipe.csv")
    desk.file(CLEAR, "in/log.csv")
    done = run("intake", tmp_path / "in", "--store", desk.store, *SITE, "--format", "json")
    assert done.status == 1
    files = {Path(f["path"]).name: f for f in done.json()["files"]}
    assert set(files) == {*NO_LOGS, "log.csv"}
    assert all(files[name]["error"] and files[name]["role"] is None for name in NO_LOGS)
    assert "error" not in files["log.csv"]
    assert len(desk.events()) == 2


def test_headings_alone_are_a_log_in_which_nothing_happened(desk):
    file = desk.take(desk.file(HEAD))
    assert (file["role"], file["lines"], file["rows"], file["questions"]) == ("log", 1, 0, [])


def test_a_file_cut_in_its_first_row_keeps_that_row(desk):
    file = desk.take(desk.file(HEAD + "13/03/2025"), *SITE)
    assert (file["rows"], file["read"], file["unread"]) == (1, 0, 1)
    assert desk.events()[0]["raw"] == "13/03/2025"


def test_a_fault_of_the_program_is_one_line(desk, run, monkeypatch):
    monkeypatch.setattr(Store, "take", lambda *_words, **_more: 1 / 0)
    done = run("intake", desk.file(CLEAR), "--store", desk.store, *SITE)
    assert done.status == 1
    assert "ZeroDivisionError" in done.err
    assert done.err.count("\n") == 1


def test_no_store_is_made_for_nothing(desk, run, tmp_path):
    (tmp_path / "folder").mkdir()
    for path in ("none.csv", "folder"):
        done = run("intake", tmp_path / path, "--store", desk.store)
        assert done.status == 1
        assert path in done.err or "no file" in done.err
    assert not desk.store.exists()


def test_a_place_where_no_store_can_be(desk, run, tmp_path):
    path = desk.file(CLEAR)
    for place in (path, path / "in", "/dev/null"):
        for words in (("intake", path), ("events",), ("retake",), ("store", "check")):
            done = run(*words, "--store", place)
            assert done.status == 1
            assert done.err.startswith("eventlab: ")
            assert done.err.count("\n") == 1


@pytest.mark.parametrize("verb", ["keep", "take"])
def test_a_store_that_cannot_be_written_is_told_in_one_line(desk, run, monkeypatch, verb):
    def refused(self, *_words, **_more):
        raise PermissionError(13, "Permission denied", str(self.place.root))

    monkeypatch.setattr(Store, verb, refused)
    done = run("intake", desk.file(CLEAR), "--store", desk.store, *SITE)
    assert done.status == 1
    assert done.err == f"eventlab: {desk.store}: permission denied\n"


def test_a_file_that_cannot_be_opened_is_named(desk, run, monkeypatch):
    path = desk.file(CLEAR)

    def refused(self, *_words, **_more):
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(type(path), "open", refused)
    done = run("intake", path, "--store", desk.store, *SITE)
    assert done.status == 1
    assert "log.csv" in done.out
    assert "Permission denied" in done.out


HOSTILE = (
    HEAD.strip()
    + """,User
13/03/2025,18:00:00,"=HYPERLINK(""http://x"",""y"")",+SUM(A1)
13/03/2025,18:00:01,<script>alert(1)</script>,"@cmd"
13/03/2025,18:00:02,Zone 1 alarm,-1+2
13/03/2025,18:00:03,"Zone 3 alarm
=1+1",x
"""
)


def test_text_from_logs_is_data(desk, run):
    """OWASP ASVS 5, 1.2.10: a text cell that starts a formula gets an apostrophe."""
    file = desk.take(desk.file(HOSTILE), *SITE)
    assert file["rows"] == file["read"] + file["unread"] == 4
    assert file["lines"] == file["rows"] + file["other"] == 6
    table = csv.reader(io.StringIO(run("events", "--store", desk.store, "--format", "csv").out))
    assert not any(cell[:1] in {*"=+-@"} for row in table for cell in row)
    raw = [event["raw"] for event in desk.events()]
    assert '13/03/2025,18:00:01,<script>alert(1)</script>,"@cmd"' in raw


def test_a_store_is_whole_while_an_export_waits(desk, run):
    desk.take(desk.file(OPEN), *SITE, want=3)
    done = run("store", "check", "--store", desk.store)
    assert done.status == 0
    assert "log.csv" in done.out


@pytest.mark.parametrize("name", ["My store", "Zoë's alarms", "50% of it", "a+b #1 & c?"])
def test_a_store_may_lie_in_a_folder_of_any_name(desk, tmp_path, name):
    desk.store = tmp_path / name / "store"
    sites = desk.file("site,name,time_zone\nA,Mill,Europe/London\n", "sites.csv")
    desk.take(sites)
    taken = desk.take(desk.file(CLEAR), "--site", "A")
    assert (taken["read"], taken["repeated"]) == (2, 0)
    desk.take(desk.file(CLEAR + "15/03/2025,18:00:00,Zone 1 alarm\n", "later.csv"), "--site", "A")
    assert [event["zone"] for event in desk.events()] == ["1", "2", "1"]
    assert desk.retake("--site", "A").status == 0
    assert len(desk.events("--site", "A", "--since", "2025-03-14")) == 2
    assert Store.open(desk.store).check() == []
    Store.open(desk.store).tidy()
    assert len(desk.events()) == 3


def test_a_time_that_no_calendar_has_is_wrong_usage(run, desk):
    desk.take(desk.file(CLEAR), *SITE)
    done = run("events", "--store", desk.store, "--since", "0001-01-01T00:00+14:00")
    assert (done.status, "is no date" in done.err) == (2, True)


@pytest.mark.parametrize("what", ["events/**/*.parquet", "events/_delta_log/*.json"])
def test_a_damaged_store_is_told_in_one_line(run, desk, what):
    desk.take(desk.file(CLEAR), *SITE)
    damaged = max(Path(desk.store).glob(what))
    damaged.write_bytes(b"\0junk")
    for words in (["events"], ["findings"], ["intake", desk.file(OPEN), *SITE]):
        done = run(*words, "--store", desk.store)
        assert done.status in {1, 3}
        assert "fault of the program" not in done.err
    assert run("store", "check", "--store", desk.store).status == 1
