"""A watched folder: every file once, none of them half."""

import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from eventlab.errors import InputError
from eventlab.lab import Lab, Watch

HEAD = "Date,Time,Event\n"
ROWS = [f"{day}/03/2025,18:0{n}:03,Zone {n} alarm\n" for day in range(13, 18) for n in range(1, 6)]
SAID = {"site": "TV1", "time_zone": "Europe/London"}


@pytest.fixture
def lab(tmp_path):
    return Lab(tmp_path / "store", create=True)


@pytest.fixture
def folder(tmp_path):
    path = tmp_path / "dropped"
    path.mkdir()
    return path


def kinds(lab):
    return sorted(str(kind) for kind in lab.events()["kind"])


def test_a_file_that_stands_still_is_taken_once(lab, folder):
    watch = Watch(lab, folder, settle_s=0, said=SAID)
    (folder / "a.csv").write_text(HEAD + "".join(ROWS))
    (one,) = watch.look()
    assert one.read == 25
    assert watch.look() == []
    assert lab.events().height == 25
    # Another watch over the same folder finds nothing new in it.
    (again,) = Watch(lab, folder, settle_s=0, said=SAID).look()
    assert again.already
    assert lab.events().height == 25


def test_a_file_that_is_still_being_written_is_left_alone(lab, folder):
    watch = Watch(lab, folder, settle_s=0.4, said=SAID)
    path = folder / "slow.csv"
    text = HEAD + "".join(ROWS)
    finished = threading.Event()

    def write():
        with path.open("w") as file:
            for start in range(0, len(text), 37):  # never at a line's end
                file.write(text[start : start + 37])
                file.flush()
                time.sleep(0.03)
        finished.set()

    writer = threading.Thread(target=write)
    writer.start()
    while not finished.is_set():
        assert watch.look() == []
        time.sleep(0.02)
    writer.join()
    results, until = [], time.monotonic() + 20
    while not results and time.monotonic() < until:
        results = watch.look()
    (one,) = results
    assert (one.read, one.unread) == (25, 0)


def test_a_writer_that_paused_too_long_leaves_no_half_row(lab, folder):
    watch = Watch(lab, folder, settle_s=0, said=SAID)
    text = HEAD + "".join(ROWS)
    (folder / "a.csv").write_text(text[: len(text) - 9])
    (part,) = watch.look()
    assert part.rows == 25
    (folder / "a.csv").write_text(text)
    watch.look()
    assert lab.events().height == 25
    assert "unread" not in kinds(lab)
    assert lab.store.exports().height == 1


def test_an_export_of_the_same_name_that_goes_on_stays_beside_the_first(lab, folder):
    watch = Watch(lab, folder, settle_s=0, said=SAID)
    (folder / "a.csv").write_text(HEAD + "".join(ROWS[:20]))
    watch.look()
    (folder / "a.csv").write_text(HEAD + "".join(ROWS))
    (one,) = watch.look()
    assert (one.read, one.repeated) == (5, 20)
    assert lab.store.exports().height == 2


def test_names_of_files_under_way_hidden_ones_and_the_store_are_left_alone(lab, folder, tmp_path):
    watch = Watch(lab, tmp_path, settle_s=0, said=SAID)
    for name in ("a.csv.part", ".a.csv", "~$a.csv", "a.tmp"):
        (folder / name).write_text(HEAD + ROWS[0])
    (folder / "empty.csv").touch()
    assert watch.look() == []
    (folder / "a.csv.part").rename(folder / "a.csv")
    assert [one.read for one in watch.look()] == [1]


def test_a_question_waits_and_is_not_asked_again_until_the_file_changes(lab, folder):
    watch = Watch(lab, folder, settle_s=0, said=SAID)
    row = "03/04/2025,18:00:03,Zone 1 alarm\n"
    (folder / "a.csv").write_text(HEAD + row)
    (asked,) = watch.look()
    assert [q.key for q in asked.questions] == ["dates"]
    assert watch.look() == []
    assert len(lab.waiting()) == 1
    lab.answer(asked.sha256, {"dates": "day-first", "site": "TV1", "time-zone": "Europe/London"})
    assert lab.events().height == 1


def test_what_cannot_be_read_stops_nothing(lab, folder):
    watch = Watch(lab, folder, settle_s=0, said=SAID)
    (folder / "a.csv").write_bytes(bytes(range(256)) * 20)
    (folder / "b.csv").write_text(HEAD + ROWS[0])
    results = {Path(one.path).name: one for one in watch.look()}
    assert results["a.csv"].error
    assert results["b.csv"].read == 1


def test_no_such_folder(lab, tmp_path):
    with pytest.raises(InputError, match="no such folder"):
        Watch(lab, tmp_path / "nowhere")


@pytest.mark.parametrize("sign", [signal.SIGINT, signal.SIGTERM])
def test_the_command_takes_and_stops_cleanly(folder, tmp_path, sign):
    command = [
        sys.executable,
        "-m",
        "eventlab",
        "watch",
        str(folder),
        "--store",
        str(tmp_path / "s"),
    ]
    said = ["--site", "TV1", "--time-zone", "Europe/London", "--settle", "0", "--every", "0.05"]
    with subprocess.Popen(
        [*command, *said], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as child:
        try:
            assert "Watching" in child.stderr.readline()
            (folder / "a.csv").write_text(HEAD + ROWS[0])
            assert "event log of TV1" in child.stdout.readline()
            child.send_signal(sign)
            assert child.wait(timeout=60) == 0
            assert "1 row: 1 read" in child.stdout.read()
            assert child.stderr.read() == "Stopped.\n"
        finally:
            child.kill()
