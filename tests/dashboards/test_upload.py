"""Files on their way in: limits, names, batches, answers."""

import io
import time

import pytest

from dashboards import jobs, upload
from dashboards.app import close, create_app
from eventlab.errors import StoreBusy
from tests.dashboards.conftest import ORIGIN
from tests.dashboards.fake_lab import FakeLab

RAW = {**ORIGIN, "Content-Type": "application/octet-stream"}


def wait(register, key):
    for _ in range(500):
        told = register.ask(key)
        if told.state in jobs.OVER:
            return told
        time.sleep(0.01)
    raise AssertionError("the work never ended")


@pytest.fixture
def desk(app):
    return app.server.extensions["eventlab-desk"]


def send(client, files, **said):
    batch = client.post("/logs/uploads", headers=ORIGIN).get_json()["batch"]
    for name, data in files:
        answer = client.post(
            f"/logs/uploads/{batch}/files",
            query_string={"name": name},
            data=data,
            headers=RAW,
        )
        assert answer.get_json() == {"size": len(data)}
    return client.post(f"/logs/uploads/{batch}/take", query_string=said, headers=ORIGIN)


def left(desk):
    return [path for path in desk._root.rglob("*") if path.is_file()]


def test_files_of_a_batch_are_taken_together_and_then_removed(client, desk, lab):
    job = send(client, [("sites.csv", b"a\n1\n"), ("log.csv", b"a\n1\n2\n")]).get_json()["job"]
    told = wait(desk.jobs, job)
    assert [one.rows for one in told.result] == [1, 2]
    assert [name for name, _ in lab.taken] == ["sites.csv", "log.csv"]
    assert left(desk) == []


def test_what_a_person_says_of_the_logs_reaches_the_lab(client, desk, lab):
    job = send(client, [("log.csv", b"a\n")], site=" 2101 ", time_zone="").get_json()["job"]
    wait(desk.jobs, job)
    assert lab.taken == [("log.csv", {"site": "2101"})]


def test_two_files_of_one_name_stay_two(client, desk):
    job = send(client, [("log.csv", b"a\n1\n"), ("log.csv", b"a\n1\n2\n")]).get_json()["job"]
    assert [one.rows for one in wait(desk.jobs, job).result] == [1, 2]


def test_a_file_above_the_limit_is_refused_by_what_it_says_of_itself_and_by_its_bytes():
    app = create_app(FakeLab(), upload_limit=1000)
    try:
        client = app.server.test_client()
        desk = app.server.extensions["eventlab-desk"]
        batch = client.post("/logs/uploads", headers=ORIGIN).get_json()["batch"]
        url = f"/logs/uploads/{batch}/files?name=x"
        assert client.post(url, data=b"x" * 1001, headers=RAW).status_code == 413
        # A body in pieces does not say how long it is.
        endless = client.post(
            url,
            input_stream=io.BytesIO(b"x" * 5000),
            headers={**RAW, "Transfer-Encoding": "chunked"},
            environ_overrides={"wsgi.input_terminated": True},
        )
        assert endless.status_code == 413
        assert left(desk) == []
        assert client.post(url, data=b"x" * 1000, headers=RAW).status_code == 200
    finally:
        close(app)


def test_only_raw_bodies_are_taken(client):
    batch = client.post("/logs/uploads", headers=ORIGIN).get_json()["batch"]
    url = f"/logs/uploads/{batch}/files?name=x"
    for kind in ("text/plain", "multipart/form-data", "application/x-www-form-urlencoded"):
        headers = {**ORIGIN, "Content-Type": kind}
        assert client.post(url, data=b"x", headers=headers).status_code == 415


def test_what_is_not_known_or_empty_is_refused(client):
    assert client.post("/logs/uploads/none/files", data=b"", headers=RAW).status_code == 404
    assert client.post("/logs/uploads/none/take", headers=ORIGIN).status_code == 404
    assert send(client, []).status_code == 404


def test_batches_that_were_never_taken_do_not_pile_up(desk):
    first = desk.open_batch()
    desk.place(first, "x.csv").write_bytes(b"x")
    for _ in range(upload.MOST_BATCHES):
        desk.open_batch()
    assert desk.place(first, "y.csv") is None
    assert left(desk) == []


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("log.csv", "log.csv"),
        ("../../etc/passwd", "passwd"),
        ("C:\\logs\\a.csv", "a.csv"),
        ("..", "unnamed"),
        ("", "unnamed"),
        (".hidden", "hidden"),
        ("a\x00b\n.csv", "ab.csv"),
        ("Bücherei März.csv", "Bücherei März.csv"),
    ],
)
def test_a_name_leads_to_no_other_folder(sent, kept):
    assert upload.safe_name(sent) == kept


def test_a_long_name_is_cut_and_keeps_its_ending():
    kept = upload.safe_name("ü" * 400 + ".csv")
    assert len(kept.encode()) <= upload.LONGEST_NAME
    assert kept.endswith(".csv")


def test_a_file_is_taken_once_all_its_questions_are_answered_later_ones_too(client, desk, lab):
    job = send(client, [("ask.csv", b"a\n1\n")]).get_json()["job"]
    result = wait(desk.jobs, job).result[0]
    sha256 = result.sha256
    assert [one.key for one in desk.waiting()[sha256].questions] == ["dates", "site"]
    assert lab.taken == []
    assert desk.answer(sha256, "dates", "day-first") is None
    assert desk.answers(sha256) == {"dates": "day-first"}
    wait(desk.jobs, desk.answer(sha256, "site", "2101"))
    assert [one.key for one in desk.waiting()[sha256].questions] == ["time-zone"]
    # An answer that does not fit is asked for again; those that did are kept.
    wait(desk.jobs, desk.answer(sha256, "time-zone", "Nowhere"))
    assert desk.answers(sha256) == {"dates": "day-first", "site": "2101"}
    job = desk.answer(sha256, "time-zone", "Europe/London")
    assert wait(desk.jobs, job).result[0].rows == 1
    said = {"dates": "day-first", "site": "2101", "time-zone": "Europe/London"}
    assert lab.taken == [("ask.csv", said)]
    assert desk.waiting() == {}
    assert desk.answers(sha256) == {}


def test_after_a_failure_all_is_asked_anew(client, desk, lab):
    job = send(client, [("ask.csv", b"a\n1\n")]).get_json()["job"]
    sha256 = wait(desk.jobs, job).result[0].sha256

    def busy(*_):
        raise StoreBusy("other writers never left a turn")

    lab.answer = busy
    desk.answer(sha256, "dates", "day-first")
    told = wait(desk.jobs, desk.answer(sha256, "site", "2101"))
    assert told.error == "other writers never left a turn"
    assert desk.answers(sha256) == {}


def test_an_answer_to_nothing_is_left_out(desk):
    assert desk.answer("0" * 64, "dates", "day-first") is None
    assert desk.answers("0" * 64) == {}


def test_a_file_that_cannot_be_taken_is_told_and_the_others_are_taken(client, desk):
    job = send(client, [("broken.csv", b"x"), ("log.csv", b"a\n1\n")]).get_json()["job"]
    told = wait(desk.jobs, job).result
    assert told[0].error == "broken.csv: no table in it"
    assert told[1].rows == 1


def test_the_folder_goes_with_the_server():
    app = create_app(FakeLab())
    desk = app.server.extensions["eventlab-desk"]
    desk.place(desk.open_batch(), "x").write_bytes(b"x")
    close(app)
    assert not desk._root.exists()
