"""Logs in compressed files, archives and workbooks: each taken once, however it came."""

import gzip
import io
import zipfile

import openpyxl
import polars as pl
import pytest

from eventlab.lab import Lab
from eventlab.schema import Role

SITES = b"site,name,time_zone\nTV01,Library,Europe/London\nTV02,Museum,Europe/London\n"
LOG = b"Date,Time,Event\n13/03/2025,18:00:00,Zone 1 alarm\n14/03/2025,08:00:00,Zone 2 alarm\n"
OTHER = LOG.replace(b"Zone 2", b"Zone 3")


@pytest.fixture
def lab(tmp_path):
    (tmp_path / "sites.csv").write_bytes(SITES)
    lab = Lab(tmp_path / "store", create=True)
    lab.take([tmp_path / "sites.csv"])
    return lab


def zipped(files):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files:
            archive.writestr(name, data)
    return out.getvalue()


def put(tmp_path, name, data):
    path = tmp_path / "in" / name
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(data)
    return path


def zones(lab, site):
    return sorted(lab.store.events().filter(pl.col("site") == site).collect()["zone"])


def test_the_same_log_plain_and_packed_is_taken_once(lab, tmp_path):
    plain = put(tmp_path, "TV01.csv", LOG)
    (first,) = lab.take([plain])
    assert (first.events, first.already) == (2, False)
    for packed in (
        put(tmp_path, "TV01.csv.gz", gzip.compress(LOG)),
        put(tmp_path, "TV01.zip", zipped([("x.csv", LOG)])),
    ):
        (again,) = lab.take([packed])
        assert again.error is None
        assert (again.already, again.events, again.repeated) == (True, 0, 2)
        assert again.sha256 == first.sha256
    assert lab.store.exports().height == 1
    assert lab.store.original(first.sha256) == LOG


def test_a_folder_with_an_archive_is_taken_file_by_file(lab, tmp_path):
    put(
        tmp_path,
        "all.zip",
        zipped(
            [
                ("jan/TV01.csv", LOG),
                ("TV02.csv", OTHER),
                ("in.zip", zipped([("a", LOG)])),
                ("odd.txt", b"hello\nthere\n"),
            ]
        ),
    )
    found = {one.path.split(": ", 1)[1]: one for one in lab.take([tmp_path / "in"])}
    assert found["jan/TV01.csv"].site == "TV01"
    assert found["TV02.csv"].site == "TV02"
    assert "an archive within" in found["in.zip"].error
    assert "no event log" in found["odd.txt"].error
    assert zones(lab, "TV01") == ["1", "2"]
    assert zones(lab, "TV02") == ["1", "3"]
    names = set(lab.store.exports()["name"])
    assert names == {"all.zip: jan/TV01.csv", "all.zip: TV02.csv"}
    lab.retake()
    assert zones(lab, "TV02") == ["1", "3"]


def book(*sheets):
    out = openpyxl.Workbook()
    out.remove(out.active)
    for title, rows in sheets:
        sheet = out.create_sheet(title)
        for row in rows:
            sheet.append(row)
    data = io.BytesIO()
    out.save(data)
    return data.getvalue()


ROWS = [line.split(",") for line in LOG.decode().splitlines()]


def test_a_workbook_is_kept_as_it_is(lab, tmp_path):
    data = book(("Log", ROWS))
    (one,) = lab.take([put(tmp_path, "TV01.xlsx", data)])
    assert one.error is None
    assert (one.site, one.lines, one.rows, one.read, one.events) == ("TV01", 3, 2, 2, 2)
    assert lab.store.original(one.sha256) == data
    (again,) = lab.take([tmp_path / "in" / "TV01.xlsx"])
    assert again.already
    lab.retake()
    assert zones(lab, "TV01") == ["1", "2"]


def test_each_sheet_of_a_workbook_is_what_it_says(lab, tmp_path):
    listed = [
        ["site", "zone", "name", "detector"],
        ["TV01", 1, "Door", "contact"],
        ["TV01", 2, "Hall", "pir"],
    ]
    data = book(("Notes", [["printed on a Friday"]]), ("TV01", ROWS), ("Points", listed))
    taken = lab.take([put(tmp_path, "all.xlsx", data)])
    assert [(one.role, one.error) for one in taken] == [(Role.ZONES, None), (Role.LOG, None)]
    log = taken[1]
    assert log.path.endswith("all.xlsx: TV01")
    assert (log.site, log.read) == ("TV01", 2)
    assert "Its other sheets: “Notes”, “Points”." in "\n".join(log.evidence)
    assert lab.store.original(log.sha256).endswith(data)
    lab.retake()
    assert zones(lab, "TV01") == ["1", "2"]
    assert lab.take([tmp_path / "in" / "all.xlsx"])[1].already


def test_a_packed_log_that_waits_is_answered(lab, tmp_path):
    open_log = LOG.replace(b"13/03", b"03/04").replace(b"14/03", b"04/04")
    (one,) = lab.take([put(tmp_path, "TV01.csv.gz", gzip.compress(open_log))])
    assert [question.key for question in one.questions] == ["dates"]
    (waits,) = lab.waiting()
    done = lab.answer(waits.sha256, {"dates": "day-first"})
    assert (done.error, done.events) == (None, 2)


def test_damage_is_told_in_one_line(lab, tmp_path):
    put(tmp_path, "a.gz", gzip.compress(LOG)[:-9])
    put(tmp_path, "b.zip", zipped([("a", LOG)])[:-5])
    put(tmp_path, "c.xlsx", book(("Log", ROWS))[:2000])
    for one in lab.take([tmp_path / "in"]):
        assert one.error
        assert "\n" not in one.error
        assert one.error.endswith(".") or "again" in one.error
