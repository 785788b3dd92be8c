"""From an exported file to events, the way a person types it."""

import json
from pathlib import Path

import pytest

LONDON = ("--time-zone", "Europe/London")

WORDED = """Event history
Printed;14/03/2025 09:00
Date;Time;Event
13/03/2025;18:02:11;Area 1 armed by User 4
13/03/2025;18:40:00;Zone 07 alarm
13/03/2025;18:40:05;Zone 07 restored
13/03/2025;18:44:00;Area 1 disarmed by User 4
13/03/2025;19:00:00;The cat sat on the keypad
"""


def _write(folder: Path, name: str, text: str, encoding: str = "utf-8") -> Path:
    path = folder / name
    path.write_bytes(text.encode(encoding))
    return path


def _events(run, store):
    return run("events", "--store", store, "--format", "json").json()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_worded_log_is_read_and_every_row_is_accounted_for(run, tmp_path, encoding):
    log = _write(tmp_path, "export.csv", WORDED, encoding)
    store = tmp_path / "store"
    done = run("intake", log, "--store", store, "--site", "TV05", *LONDON, "--format", "json")
    assert done.status == 0
    (file,) = done.json()["files"]
    assert file["role"] == "log"
    assert file["site"] == "TV05"
    assert (file["lines"], file["rows"], file["other"]) == (8, 5, 3)
    assert (file["read"], file["repeated"], file["unread"]) == (4, 0, 1)
    assert file["rows"] == file["read"] + file["repeated"] + file["unread"]
    assert file["not_understood"][0]["text"] == "The cat sat on the keypad"
    events = _events(run, store)
    kinds = [event["kind"] for event in events]
    assert kinds == ["arm", "intrusion-alarm", "intrusion-alarm", "disarm", "unread"]
    alarm = events[1]
    assert alarm["at"] == "2025-03-13T18:40:00Z"
    assert alarm["phase"] == "begin"
    assert events[2]["phase"] == "end"
    assert alarm["zone"] == "7"
    assert events[0]["person"] == "4"
    assert events[0]["area"] == "1"
    assert events[4]["problem"]
    assert events[4]["raw"] == "13/03/2025;19:00:00;The cat sat on the keypad"


def test_the_same_file_again_changes_nothing(run, tmp_path):
    log = _write(tmp_path, "export.csv", WORDED)
    words = ("intake", log, "--store", tmp_path / "s", "--site", "TV05", "--format", "json")
    run(*words, *LONDON)
    before = _events(run, tmp_path / "s")
    again = run(*words, *LONDON)
    (file,) = again.json()["files"]
    assert again.status == 0
    assert (file["rows"], file["read"], file["repeated"], file["unread"]) == (5, 0, 5, 0)
    assert _events(run, tmp_path / "s") == before


def test_dates_that_could_be_either_are_asked_about_and_nothing_is_taken(run, tmp_path):
    text = (
        "Date,Time,Event\n03/04/2025,18:00:00,Area 1 armed by User 4\n"
        "03/04/2025,19:00:00,Zone 7 alarm\n"
    )
    log = _write(tmp_path, "export.csv", text)
    words = ("intake", log, "--store", tmp_path / "s", "--site", "TV05", *LONDON)
    done = run(*words, "--format", "json")
    assert done.status == 3
    (file,) = done.json()["files"]
    (question,) = file["questions"]
    assert question["key"] == "dates"
    assert len(question["choices"]) >= 2
    assert _events(run, tmp_path / "s") == []
    day_first = next(c for c in question["choices"] if c.startswith("day"))
    answered = run(*words, "--answer", f"dates={day_first}", "--format", "json")
    assert answered.status == 0
    assert _events(run, tmp_path / "s")[0]["wall"].startswith("2025-04-03T18:00:00")


def test_a_site_without_a_time_zone_is_asked_about(run, tmp_path):
    log = _write(tmp_path, "export.csv", WORDED)
    done = run("intake", log, "--store", tmp_path / "s", "--site", "TV05", "--format", "json")
    assert done.status == 3
    assert [q["key"] for q in done.json()["files"][0]["questions"]] == ["time-zone"]


def test_a_zone_that_does_not_exist_is_said_so(run, tmp_path):
    log = _write(tmp_path, "export.csv", WORDED)
    done = run(
        "intake", log, "--store", tmp_path / "s", "--site", "T", "--time-zone", "Europe/Londn"
    )
    assert done.status == 2
    assert "Europe/Londn" in done.out + done.err


def test_an_account_column_tells_the_sites(run, tmp_path):
    text = (
        "Account,Date/Time,Code,Group,Zone\n"
        "0012,2025-03-13 18:00:00,3401,01,004\n"
        "0013,2025-03-13 18:01:00,1130,01,007\n"
        "0012,2025-03-13 18:02:00,1110,01,009\n"
    )
    log = _write(tmp_path, "centre.csv", text)
    done = run("intake", log, "--store", tmp_path / "s", *LONDON, "--format", "json")
    assert done.status == 0, done.out
    events = _events(run, tmp_path / "s")
    told = {(e["site"], e["kind"], e["zone"], e["person"], e["area"]) for e in events}
    assert told == {
        ("0012", "arm", None, "4", "1"),
        ("0013", "intrusion-alarm", "7", None, "1"),
        ("0012", "fire", "9", None, "1"),
    }


def test_two_letter_codes_are_read(run, tmp_path):
    text = "Time\tCode\n2025-03-13T18:00:00Z\tBA015\n2025-03-13T18:01:00Z\tBH015\n"
    log = _write(tmp_path, "centre.txt", text)
    done = run("intake", log, "--store", tmp_path / "s", "--site", "A", "--format", "json")
    assert done.status == 0, done.out
    events = _events(run, tmp_path / "s")
    assert [(e["kind"], e["phase"], e["zone"]) for e in events] == [
        ("intrusion-alarm", "begin", "15"),
        ("intrusion-alarm", "end", "15"),
    ]


def test_what_is_no_log_is_told_and_the_rest_is_taken(run, tmp_path):
    _write(tmp_path, "letter.txt", "Dear sir,\nplease call us back.\n")
    _write(tmp_path, "log.csv", WORDED)
    done = run("intake", tmp_path, "--store", tmp_path / ".s", "--site", "A", *LONDON)
    assert done.status == 1
    assert "letter.txt" in done.out
    assert len(_events(run, tmp_path / ".s")) == 5


def test_context_files_are_taken_before_logs(run, tmp_path):
    _write(tmp_path, "a_log_TV05.csv", WORDED)
    _write(tmp_path, "sites.csv", "site,name,time_zone\nTV05,Boathouse,Europe/London\n")
    _write(tmp_path, "zones.csv", "site,zone,name,use\nTV05,07,Slip door,perimeter\n")
    done = run("intake", tmp_path, "--store", tmp_path / ".s", "--format", "json")
    assert done.status == 0, done.out
    assert [f["role"] for f in done.json()["files"]] == ["sites", "zones", "log"]


def test_a_dry_run_keeps_nothing(run, tmp_path):
    log = _write(tmp_path, "export.csv", WORDED)
    store = tmp_path / "s"
    done = run(
        "intake", log, "--store", store, "--site", "A", *LONDON, "--dry-run", "--format", "json"
    )
    assert done.status == 0
    assert done.json()["files"][0]["read"] == 4
    assert not store.exists()


def test_wrong_words_and_missing_things_have_their_exit_status(run, tmp_path):
    assert run("intake", "--store", tmp_path / "s").status == 2
    assert run("intake", tmp_path / "none.csv", "--store", tmp_path / "s").status == 1
    missing = run("findings", "--store", tmp_path / "none")
    assert missing.status == 1
    assert "Traceback" not in missing.out + missing.err


def test_formulas_are_neutralised_in_csv_and_plain_in_json(run, tmp_path):
    """OWASP ASVS 5, 1.2.10: a text cell that starts a formula gets an apostrophe."""
    text = WORDED.replace("The cat sat on the keypad", '=HYPERLINK("http://x")')
    log = _write(tmp_path, "export.csv", text)
    run("intake", log, "--store", tmp_path / "s", "--site", "A", *LONDON)
    csv_out = run("events", "--store", tmp_path / "s", "--format", "csv").out
    assert '"=HYPERLINK' not in csv_out.replace("'=", "")
    assert json.dumps("=HYPERLINK")[1:-1] in json.dumps(_events(run, tmp_path / "s"))


def test_a_year_that_nothing_tells_is_asked_and_answered(run, tmp_path):
    text = "Date,Time,Event,Zone\n11/05,07:03,Intruder alarm,3\n11/25,07:33,Intruder alarm,2\n"
    log = _write(tmp_path, "yearless.csv", text)
    done = run("intake", log, "--store", tmp_path / "store", "--site", "TV05", *LONDON)
    assert done.status == 3
    assert "In which year is the last row, 11/25?" in done.out
    assert "--answer year=2025" in done.out
    for wrong in ("25", "last"):
        again = ("intake", log, "--store", tmp_path / "store", "--answer", f"year={wrong}")
        assert run(*again).status == 2
    said = ("--answer", "year=2024")
    done = run("intake", log, "--store", tmp_path / "store", "--site", "TV05", *LONDON, *said)
    assert done.status == 0
    assert [e["wall"][:10] for e in _events(run, tmp_path / "store")] == [
        "2024-11-05",
        "2024-11-25",
    ]


def test_a_person_sees_why_times_are_doubtful(run, tmp_path):
    log = _write(
        tmp_path,
        "export.csv",
        "Date;Time;Event\n13/03/2025;18:02:11;Area 1 armed\n01/01/2000;00:00:05;System restart\n"
        "01/01/2000;00:10:05;Zone 07 alarm\n14/03/2025;08:00:00;Area 1 disarmed\n",
    )
    done = run("intake", log, "--store", tmp_path / "store", "--site", "TV05", *LONDON)
    assert done.status == 0
    assert "2 with a doubtful time" in done.out
    assert "2 rows from a clock that had started anew: placed by the order of rows" in done.out
